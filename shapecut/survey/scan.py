"""The survey of a flatbed scan: its scale from cards lying in it, or from the dpi it states."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.cards import CardSet
from shapecut.capture.marks import marks_if_any
from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import SurveyError
from shapecut.findings import Finding, Level
from shapecut.survey.joint import card_names
from shapecut.survey.precision import Precision, ScanErrors
from shapecut.survey.start import rigid_fit
from shapecut.survey.survey import PlacedCard, Survey
from shapecut.survey.view import ScanView

__all__ = ["survey_scan"]

Array = NDArray[np.float64]

LEAST_DPI = 100.0
"""Below this a file states a screen's default (72, 96), not what a scanner did."""

MOST_DPI = 10_000.0
"""Above this no scanner works."""

SCANNER_RELATIVE_U = 0.002
"""Standard uncertainty of a scanner's stated scale (from memory; cheap ones differ by as much
between glass and feed)."""

SCANNER_U_MM = 0.05
"""Standard uncertainty of a place within a scan, scale aside (from memory: uneven feed)."""

ODD_SCALE = 0.01
"""A scan whose cards and dpi differ by more than this fraction was resized, or the cards are not
of the stated size."""


def survey_scan(photo: Photo, cards: CardSet) -> Survey:
    """Measure the plane of a scan; the plane's frame lies square to the scan, in its middle.

    Args:
        photo: The scan.
        cards: The cards that may lie in it; with none the scan's dpi is believed.

    Raises:
        CaptureError: If a mark is seen at two places.
        SurveyError: If the scan shows no card and states no believable dpi.
    """
    found = marks_if_any(photo, 0, cards)
    if found.sightings:
        return _by_cards(photo, found.sightings, cards.relative_u, found.findings)
    return _by_dpi(photo)


def _by_dpi(photo: Photo) -> Survey:
    if photo.dpi is None:
        raise SurveyError(
            f"{photo.name} does not state its resolution and shows no card: scan again to a file "
            "that keeps the dpi, or with a card beside the template."
        )
    if not all(LEAST_DPI <= dpi <= MOST_DPI for dpi in photo.dpi):
        raise SurveyError(
            f"{photo.name} states {photo.dpi[0]:g} x {photo.dpi[1]:g} dpi, which is no scanner's "
            "resolution, and shows no card: scan again at 150 to 600 dpi, or with a card beside "
            "the template."
        )
    note = Finding(
        Level.NOTE,
        photo.name,
        f"Its scale is the file's {photo.dpi[0]:g} dpi, good to about {SCANNER_RELATIVE_U:.1%}.",
        "For better, scan with a card beside the template.",
    )
    view = _view(photo, np.array([25.4 / dpi for dpi in photo.dpi]))
    return Survey(
        views=(view,),
        cards=(),
        height_mm=0.0,
        relative_u=SCANNER_RELATIVE_U,
        point_u_mm=SCANNER_U_MM,
        residual_px=0.0,
        findings=(note,),
        precision=_precision(view, SCANNER_RELATIVE_U),
    )


def _by_cards(
    photo: Photo, sightings: Sequence[Sighting], relative_u: float, findings: tuple[Finding, ...]
) -> Survey:
    names = card_names(sightings)
    px = [np.concatenate([s.corners_px for s in sightings if s.card == name]) for name in names]
    mm = [np.concatenate([s.corners_mm for s in sightings if s.card == name]) for name in names]
    mm_per_px = _scales(px, mm)
    view = _view(photo, mm_per_px)
    placed, squares = [], []
    for name, seen, printed in zip(names, px, mm, strict=True):
        placement, misfit_mm = rigid_fit(printed, view.mm_from_px(seen))
        # Half the squared distance is the mean square per axis.
        squares.append(misfit_mm**2 / 2 / float(np.mean(mm_per_px)) ** 2)
        placed.append(PlacedCard(name, placement, float(np.sqrt(squares[-1])), (0,)))
    return Survey(
        views=(view,),
        cards=tuple(placed),
        height_mm=0.0,
        relative_u=relative_u,
        point_u_mm=SCANNER_U_MM,
        residual_px=float(np.sqrt(np.mean(squares))),
        findings=(*findings, *_odd_scale(photo, mm_per_px)),
        precision=_precision(view, relative_u),
    )


def _precision(view: ScanView, relative_u: float) -> Precision:
    """Glass and feed differ in scale by as much as either may be wrong."""
    stretch = relative_u * np.array([[1.0], [-1.0]]) / np.sqrt(2)
    return Precision((ScanErrors(view, stretch),), relative_u, local_u_mm=SCANNER_U_MM)


def _view(photo: Photo, mm_per_px: Array) -> ScanView:
    width, height = photo.size
    return ScanView(
        0, (float(mm_per_px[0]), float(mm_per_px[1])), ((width - 1) / 2, (height - 1) / 2)
    )


def _scales(px: Sequence[Array], mm: Sequence[Array]) -> Array:
    """Millimetres per pixel along x and y at which all cards best have their printed shape.

    Gauss-Newton on the two scales and each card's turn, every card taken from its own middle.
    """
    down = np.array([1.0, -1.0])
    seen = [(points - points.mean(axis=0)) * down for points in px]
    printed = [points - points.mean(axis=0) for points in mm]
    lengths = [np.linalg.norm(points) for points in (*printed, *seen)]
    scales = np.full(2, sum(lengths[: len(mm)]) / sum(lengths[len(mm) :]))
    turns = np.array([rigid_fit(a, b)[0].turn_rad for a, b in zip(printed, seen, strict=True)])
    for _ in range(20):
        rows, right = [], []
        for card, (own, there) in enumerate(zip(printed, seen, strict=True)):
            c, s = np.cos(turns[card]), np.sin(turns[card])
            turned = own @ np.array([[c, s], [-s, c]])
            row = np.zeros((len(own), 2, 2 + len(turns)))
            row[:, 0, 0], row[:, 1, 1] = there.T
            row[:, 0, 2 + card], row[:, 1, 2 + card] = turned[:, 1], -turned[:, 0]
            rows.append(row.reshape(-1, row.shape[2]))
            right.append((turned - there * scales).ravel())
        step = np.linalg.lstsq(np.concatenate(rows), np.concatenate(right), rcond=None)[0]
        scales, turns = scales + step[:2], turns + step[2:]
        if float(np.abs(step).max()) < 1e-12:
            break
    return np.asarray(scales)


def _odd_scale(photo: Photo, mm_per_px: Array) -> tuple[Finding, ...]:
    """A finding where cards and stated dpi differ by more than scanners and printers do."""
    if photo.dpi is None or not all(LEAST_DPI <= dpi <= MOST_DPI for dpi in photo.dpi):
        return ()
    off = mm_per_px * np.array(photo.dpi) / 25.4 - 1
    if np.abs(off).max() <= ODD_SCALE:
        return ()
    return (
        Finding(
            Level.CHECK,
            photo.name,
            f"Its cards say that it is {off[np.abs(off).argmax()]:+.1%} off the scale that its dpi "
            "state; the cards were believed.",
            "Measure a check bar on a card, and see that the scan was not resized.",
        ),
    )
