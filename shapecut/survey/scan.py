"""The survey of scans: their scale from cards lying in them, or from the dpi that they state."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import SurveyError
from shapecut.findings import Finding, Level
from shapecut.survey.chance import chi2_by_chance
from shapecut.survey.joint import card_names
from shapecut.survey.network import CornerSightings
from shapecut.survey.precision import Precision, ScanErrors
from shapecut.survey.scan_join import joined_scans
from shapecut.survey.scan_network import AdjustedScans, ScanNetwork, adjusted_scans
from shapecut.survey.survey import PlacedCard, Survey

__all__ = ["survey_scans"]

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

UNSTATED_U = 0.5
"""Standard uncertainty of a scale that is only a first estimate by one mark."""


def survey_scans(
    photos: Sequence[Photo], sightings: Sequence[Sighting], *, relative_u: float
) -> Survey:
    """Measure the plane of scans; its frame lies square to the first one, in its middle.

    Args:
        photos: The scans of one template.
        sightings: Marks of cards, and points (cards with a single point), seen in them; those seen
            in two scans join them.  Without any card the scans' dpi are believed.
        relative_u: Standard uncertainty of the cards' scale, as a fraction.

    Raises:
        SurveyError: If a scan has no believable scale, shares too little with the others, or the
            cards do not lie alike in two scans.
    """
    cards = {seen.photo: seen for seen in sightings if _is_card(seen)}
    first = [_first_scales(photo, cards.get(index)) for index, photo in enumerate(photos)]
    scales = np.array([scale for scale, _ in first])
    start = joined_scans(photos, sightings, scales)
    if not sightings:
        size = start.columns
        adjusted = AdjustedScans(start, np.zeros((0, 2)), np.zeros((size, size)))
        return _survey(photos, adjusted, (), SCANNER_RELATIVE_U, tuple(map(_by_dpi, photos)))
    names = card_names(sightings)
    corners = _with_jitter(CornerSightings.of(sightings, names), scales)
    adjusted = adjusted_scans(
        start, corners, scales_free=bool(cards), scale_u=[scale_u for _, scale_u in first]
    )
    _refuse_contradicting(adjusted, corners, names)
    placed = _placed(adjusted, corners, names)
    return _survey(
        photos,
        adjusted,
        placed,
        relative_u if cards else SCANNER_RELATIVE_U,
        _odd_scales(photos, adjusted.network) if cards else tuple(map(_by_dpi, photos)),
    )


def _survey(
    photos: Sequence[Photo],
    adjusted: AdjustedScans,
    placed: tuple[PlacedCard, ...],
    relative_u: float,
    findings: tuple[Finding, ...],
) -> Survey:
    network = adjusted.network
    misses = adjusted.misses_px
    return Survey(
        views=tuple(network.view(scan) for scan in range(len(photos))),
        cards=placed,
        height_mm=0.0,
        relative_u=relative_u,
        point_u_mm=SCANNER_U_MM,
        residual_px=float(np.sqrt(np.mean(misses**2))) if len(misses) else 0.0,
        findings=findings,
        precision=_precision(adjusted, relative_u),
    )


def _is_card(seen: Sighting) -> bool:
    """Whether a sighting tells of scale by itself: a mark does, a point does not."""
    return len(seen.corners_px) > 1


def _states_dpi(photo: Photo) -> bool:
    return photo.dpi is not None and all(LEAST_DPI <= dpi <= MOST_DPI for dpi in photo.dpi)


def _first_scales(photo: Photo, card: Sighting | None) -> tuple[tuple[float, float], float]:
    """Millimetres per pixel to start from, and how well that is known: by a card, else by dpi.

    A scan with a card has its scale from there in the end, whatever its file states.
    """
    if card is not None:
        mm, px = (np.diff(points, axis=0) for points in (card.corners_mm, card.corners_px))
        scale = float(np.linalg.norm(mm) / np.linalg.norm(px))
        return (scale, scale), UNSTATED_U
    if photo.dpi is None:
        raise SurveyError(
            f"{photo.name} does not state its resolution and shows no card: scan again to a file "
            "that keeps the dpi, or with a card beside the template."
        )
    if not _states_dpi(photo):
        raise SurveyError(
            f"{photo.name} states {photo.dpi[0]:g} x {photo.dpi[1]:g} dpi, which is no scanner's "
            "resolution, and shows no card: scan again at 150 to 600 dpi, or with a card beside "
            "the template."
        )
    return (25.4 / photo.dpi[0], 25.4 / photo.dpi[1]), SCANNER_RELATIVE_U


def _with_jitter(corners: CornerSightings, mm_per_px: Array) -> CornerSightings:
    """The corners with the scanner's own unevenness in their uncertainty."""
    jitter_px = SCANNER_U_MM / mm_per_px.mean(axis=1)[corners.photo]
    return replace(corners, u_px=np.hypot(corners.u_px, jitter_px))


def _by_dpi(photo: Photo) -> Finding:
    x, y = photo.dpi or (0.0, 0.0)
    dpi = f"{x:g} dpi" if x == y else f"{x:g} x {y:g} dpi"
    return Finding(
        Level.NOTE,
        photo.name,
        f"Its scale is the file's {dpi}, good to about {SCANNER_RELATIVE_U:.1%}.",
        "For better, scan with a card beside the template.",
    )


def _placed(
    adjusted: AdjustedScans, corners: CornerSightings, names: Sequence[str]
) -> tuple[PlacedCard, ...]:
    return tuple(
        PlacedCard(
            name,
            adjusted.network.placement(card),
            float(np.sqrt(np.mean(adjusted.misses_px[corners.card == card] ** 2))),
            tuple(int(scan) for scan in np.unique(corners.photo[corners.card == card])),
        )
        for card, name in enumerate(names)
    )


def _refuse_contradicting(
    adjusted: AdjustedScans, corners: CornerSightings, names: Sequence[str]
) -> None:
    """Refuse a card or point that is farther off than marks and scanner explain."""
    off = (adjusted.misses_px / corners.u_px[:, None]) ** 2
    odd = [
        float(off[rows].sum()) / chi2_by_chance(2 * int(rows.sum()))
        for rows in (corners.card == card for card in range(len(names)))
    ]
    worst = int(np.argmax(odd))
    if odd[worst] > 1:
        misses = adjusted.misses_px[corners.card == worst]
        raise SurveyError(
            f"The scans contradict each other at {names[worst]}, by "
            f"{float(np.abs(misses).max()):.1f} pixels after adjustment: cards must be fixed to "
            "the template and flat on the glass in every scan, and points be the same spot in each."
        )


def _precision(adjusted: AdjustedScans, relative_u: float) -> Precision:
    """The adjustment's errors, and the stretch that cards or glass and feed have in all scans."""
    network = adjusted.network
    values, directions = np.linalg.eigh(adjusted.covariance)
    errors = directions * np.sqrt(np.maximum(values, 0.0))
    stretch = relative_u * np.array([1.0, -1.0, 0.0, 0.0, 0.0])[:, None] / np.sqrt(2)
    views = (
        ScanErrors(network.view(scan), np.hstack([network.about_origin(scan, errors), stretch]))
        for scan in range(len(network.mm_per_px))
    )
    return Precision(tuple(views), relative_u, local_u_mm=SCANNER_U_MM)


def _odd_scales(photos: Sequence[Photo], network: ScanNetwork) -> tuple[Finding, ...]:
    """How far the cards and each scan's stated dpi disagree."""
    return tuple(
        _odd_scale(photo, network.mm_per_px[scan] * np.array(photo.dpi) / 25.4 - 1)
        for scan, photo in enumerate(photos)
        if _states_dpi(photo)
    )


def _odd_scale(photo: Photo, off: Array) -> Finding:
    """A finding: a note, or more where they differ by more than scanners and printers do."""
    odd = bool(np.abs(off).max() > ODD_SCALE)
    return Finding(
        Level.CHECK if odd else Level.NOTE,
        photo.name,
        f"Its cards say that it is {off[0]:+.2%} along its width and {off[1]:+.2%} along its "
        "height off the scale that its dpi state; the cards were believed.",
        "Measure a check bar on a card, and see that the scan was not resized." if odd else "",
    )
