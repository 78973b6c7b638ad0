"""Scans over one plane, adjusted together: each one's scales, turn and shift, each card's place.

Glossary:
    scan: a picture that sees every point from straight above, with a scale of its own along the
        glass and along the feed.
    column: one unknown's place in the vector of corrections: five for each scan (logarithms of its
        mm per pixel along x and y, turn, shift x and y), then three for each card (x, y, turn).
    datum: the first scan, whose turn and shift stay as they are.

A point seen in a scan is compared in the plane with where its card has it, each comparison weighed
by the uncertainty of its pixel.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.placement import Placement
from shapecut.survey.network import CornerSightings
from shapecut.survey.view import ScanView

__all__ = ["SCAN_COLUMNS", "AdjustedScans", "ScanNetwork", "adjusted_scans"]

Array = NDArray[np.float64]

SCAN_COLUMNS = 5
CARD_COLUMNS = 3

MOST_STEPS = 30
"""Steps after which the solution is taken as it is; from a fair start it takes three to five."""

SETTLED = 1e-12
"""A step of which no part (mm, radians, fraction) is larger than this ends the search."""


@dataclass(frozen=True)
class ScanNetwork:
    """Everything that is estimated of scans.

    Attributes:
        middles_px: (S, 2) middle of each scan, pixels.
        mm_per_px: (S, 2) along each scan's x and y.
        turns_rad: (S,) of each scan's x axis in the plane.
        shifts_mm: (S, 2) where each scan's middle lies in the plane.
        placements: (C, 3) x, y and turn of each card in the plane.
    """

    middles_px: Array
    mm_per_px: Array
    turns_rad: Array
    shifts_mm: Array
    placements: Array

    @property
    def columns(self) -> int:
        """Length of the vector of corrections."""
        return SCAN_COLUMNS * len(self.mm_per_px) + CARD_COLUMNS * len(self.placements)

    def scan_columns(self, scan: int) -> slice:
        """Columns of one scan."""
        return slice(SCAN_COLUMNS * scan, SCAN_COLUMNS * (scan + 1))

    def view(self, scan: int) -> ScanView:
        """How one scan sees the plane."""
        x, y = map(float, self.mm_per_px[scan])
        turned = ScanView(scan, (x, y), _pair(self.middles_px[scan]), float(self.turns_rad[scan]))
        origin = turned.px_from_mm(-self.shifts_mm[scan][None])[0]
        return replace(turned, origin_px=_pair(origin))

    def about_origin(self, scan: int, errors: Array) -> Array:
        """One scan's rows (5, K) of errors (columns, K), turn and scale acting from the origin."""
        own = errors[self.scan_columns(scan)]
        back = np.array(self.view(scan).origin_px) - self.middles_px[scan]
        x, y = back * (1.0, -1.0) * self.mm_per_px[scan]
        c, s = np.cos(self.turns_rad[scan]), np.sin(self.turns_rad[scan])
        along, across = np.array([c, s]) * x, np.array([-s, c]) * y
        moved = np.column_stack([along, across, _quarter((along + across)[None])[0]])
        return np.concatenate([own[:3], own[3:] + moved @ own[:3]])

    def placement(self, card: int) -> Placement:
        """Where one card lies."""
        x, y, turn = map(float, self.placements[card])
        return Placement((x, y), turn)

    def misses(self, corners: CornerSightings) -> tuple[Array, Array]:
        """(N, 2) mm from where a card has a point to where its scan has it; (N, 2, columns)."""
        scan, card = corners.photo, corners.card
        rows = np.arange(len(scan))
        offsets = (corners.px - self.middles_px[scan]) * (1.0, -1.0) * self.mm_per_px[scan]
        c, s = np.cos(self.turns_rad[scan]), np.sin(self.turns_rad[scan])
        along = np.column_stack([c, s]) * offsets[:, :1]
        across = np.column_stack([-s, c]) * offsets[:, 1:]
        c, s = np.cos(self.placements[card, 2]), np.sin(self.placements[card, 2])
        x, y = corners.mm.T
        arm = np.column_stack([c * x - s * y, s * x + c * y])
        by = np.zeros((len(scan), 2, self.columns))
        first = SCAN_COLUMNS * scan
        by[rows, :, first], by[rows, :, first + 1] = along, across
        by[rows, :, first + 2] = _quarter(along + across)
        by[rows, 0, first + 3] = by[rows, 1, first + 4] = 1
        first = SCAN_COLUMNS * len(self.mm_per_px) + CARD_COLUMNS * card
        by[rows, 0, first] = by[rows, 1, first + 1] = -1
        by[rows, :, first + 2] = -_quarter(arm)
        there = self.shifts_mm[scan] + along + across
        return there - self.placements[card, :2] - arm, by

    def moved(self, step: Array) -> "ScanNetwork":
        """The network with corrections (columns,) applied."""
        scans = step[: SCAN_COLUMNS * len(self.mm_per_px)].reshape(-1, SCAN_COLUMNS)
        cards = step[SCAN_COLUMNS * len(self.mm_per_px) :].reshape(-1, CARD_COLUMNS)
        return replace(
            self,
            mm_per_px=self.mm_per_px * np.exp(scans[:, :2]),
            turns_rad=self.turns_rad + scans[:, 2],
            shifts_mm=self.shifts_mm + scans[:, 3:],
            placements=self.placements + cards,
        )


@dataclass(frozen=True)
class AdjustedScans:
    """The network that fits best.

    Attributes:
        network: As adjusted.
        misses_px: (N, 2) residuals in pixels of their scans.
        covariance: (columns, columns) by the stated uncertainties, widened where the residuals are
            larger than they allow; zero for what was held.
    """

    network: ScanNetwork
    misses_px: Array
    covariance: Array


def adjusted_scans(
    network: ScanNetwork,
    corners: CornerSightings,
    *,
    scales_free: bool,
    scale_u: Sequence[float],
) -> AdjustedScans:
    """Adjust scans and cards to all sightings at once.

    Args:
        network: The start, a few per cent off is near enough.
        corners: What was measured; `photo` counts the scans.
        scales_free: Whether the cards determine the scales; otherwise they stay.
        scale_u: For each scan the relative standard uncertainty of the scales it starts from.
    """
    stated = np.log(network.mm_per_px)
    free = _free(network, corners, scales_free=scales_free)
    for _ in range(MOST_STEPS):
        off, by = _equations(network, corners, stated, scale_u)
        step = np.zeros(network.columns)
        step[free] = np.linalg.lstsq(by[:, free], -off, rcond=None)[0]
        network = network.moved(step)
        if float(np.abs(step).max(initial=0.0)) < SETTLED:
            break
    off, by = _equations(network, corners, stated, scale_u)
    # The scales' equations count as observations where the scales are free.
    freedom = len(off) - int(free.sum()) - (0 if scales_free else 2 * len(scale_u))
    factor = max(1.0, float(off @ off) / freedom) if freedom > 0 else 1.0
    covariance = np.zeros((network.columns, network.columns))
    covariance[np.ix_(free, free)] = factor * np.linalg.inv(by[:, free].T @ by[:, free])
    misses, _ = network.misses(corners)
    return AdjustedScans(network, misses / _scale(network, corners)[:, None], covariance)


def _free(
    network: ScanNetwork, corners: CornerSightings, *, scales_free: bool
) -> NDArray[np.bool_]:
    """Which columns may move: not the datum's turn and shift, nor the turn of a single point."""
    free = np.ones(network.columns, bool)
    free[2:SCAN_COLUMNS] = False
    first = SCAN_COLUMNS * len(network.mm_per_px)
    for scan in range(len(network.mm_per_px)):
        free[SCAN_COLUMNS * scan : SCAN_COLUMNS * scan + 2] = scales_free
    for card in range(len(network.placements)):
        reach = np.abs(corners.mm[corners.card == card]).max()
        free[first + CARD_COLUMNS * card + 2] = bool(reach > 0)
    return free


def _equations(
    network: ScanNetwork, corners: CornerSightings, stated: Array, scale_u: Sequence[float]
) -> tuple[Array, Array]:
    """Everything that should be nought over its uncertainty, and its derivatives."""
    misses, by = network.misses(corners)
    u_mm = corners.u_px * _scale(network, corners)
    weight = 1 / np.repeat(scale_u, 2)
    scales = np.zeros((len(weight), network.columns))
    for scan in range(len(scale_u)):
        columns = network.scan_columns(scan)
        scales[2 * scan : 2 * scan + 2, columns.start : columns.start + 2] = np.eye(2)
    drift = (np.log(network.mm_per_px) - stated).ravel()
    return (
        np.concatenate([(misses / u_mm[:, None]).ravel(), drift * weight]),
        np.concatenate(
            [(by / u_mm[:, None, None]).reshape(-1, network.columns), scales * weight[:, None]]
        ),
    )


def _scale(network: ScanNetwork, corners: CornerSightings) -> Array:
    """(N,) mean mm per pixel of the scan that each corner is seen in."""
    return np.asarray(network.mm_per_px.mean(axis=1)[corners.photo])


def _quarter(vectors: Array) -> Array:
    """(N, 2) vectors turned counter-clockwise by a quarter."""
    return np.column_stack([-vectors[:, 1], vectors[:, 0]])


def _pair(point: Array) -> tuple[float, float]:
    return (float(point[0]), float(point[1]))
