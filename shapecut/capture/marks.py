"""Finding the cards' marks in a photograph and measuring their corners."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.cards import Card, CardSet, Mark
from shapecut.capture.mark_fit import FittedMark, fit_marks
from shapecut.capture.patterns import mark_cells, opencv_dictionary
from shapecut.capture.photo import Photo
from shapecut.capture.sharpness import BLURRED_PX, edge_blur_px
from shapecut.capture.sighting import Sighting
from shapecut.errors import CaptureError
from shapecut.findings import Finding, Level

__all__ = ["FoundMarks", "find_marks", "marks_if_any"]

LEAST_CELL_PX = 3.0
"""A mark whose cells are narrower than this in the picture cannot be measured."""

LEAST_AGREEMENT = 0.85
"""A mark of whose borders a smaller fraction lies where its fit has them is not used."""

LEAST_U_PX = 0.05
"""Floor of a corner's standard uncertainty, pixels: what lenses, sensors and paper add to the
scatter that a fit can see."""

SAME_PLACE = 0.5
"""Two detections nearer to each other than this fraction of their side are one mark."""


@dataclass(frozen=True)
class FoundMarks:
    """The marks of one photograph.

    Attributes:
        sightings: The marks that can be used, by card and number.
        findings: The marks that were seen but cannot be used, and why.
        strangers: Dictionary and number of marks that are on no card.
    """

    sightings: tuple[Sighting, ...]
    findings: tuple[Finding, ...] = ()
    strangers: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True)
class _Detection:
    """A mark as the detector saw it: corners to about a pixel, in `Mark.corners_mm`'s order."""

    card: Card
    mark: Mark
    corners_px: NDArray[np.float64]

    @property
    def side_px(self) -> float:
        """Mean length of its sides, pixels."""
        sides = np.roll(self.corners_px, -1, axis=0) - self.corners_px
        return float(np.linalg.norm(sides, axis=1).mean())


def find_marks(photo: Photo, index: int, cards: CardSet) -> FoundMarks:
    """Find the cards' marks in a photograph that must show some (see `marks_if_any`).

    Raises:
        CaptureError: If no mark of a card can be used, or one is seen at two places.
    """
    found = marks_if_any(photo, index, cards)
    if not found.sightings:
        raise CaptureError(_none_found(photo, found))
    return found


def marks_if_any(photo: Photo, index: int, cards: CardSet) -> FoundMarks:
    """Find the cards' marks in a picture, each measured by its whole pattern.

    Args:
        photo: The picture.
        index: Its index among the job's, for the sightings.
        cards: The cards it may show; marks on none of them are left alone.

    Raises:
        CaptureError: If a mark is seen at two places.
    """
    grey = _grey(photo)
    detections, strangers = _detected(grey, cards)
    large, small = _by_size(detections)
    fits = fit_marks(
        grey,
        [mark_cells(seen.mark.dictionary, seen.mark.number) for seen in large],
        [seen.corners_px for seen in large],
    )
    good = [pair for pair in zip(large, fits, strict=True) if _agrees(pair[1])]
    bad = [pair for pair in zip(large, fits, strict=True) if not _agrees(pair[1])]
    _refuse_twice_seen(photo.name, [seen for seen, _ in good])
    good.sort(key=lambda pair: _order(pair[0], cards))
    return FoundMarks(
        tuple(_sighting(index, seen, fit) for seen, fit in good),
        tuple(
            [_too_small(photo.name, seen) for seen in small]
            + [_disagreeing(photo.name, seen, fit) for seen, fit in bad]
        ),
        tuple(strangers),
    )


def _grey(photo: Photo) -> NDArray[np.uint8]:
    """(height, width) brightness."""
    return np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def _sighting(index: int, seen: _Detection, fit: FittedMark) -> Sighting:
    """A good fit as the survey takes it."""
    return Sighting(
        photo=index,
        card=seen.card.name,
        mark=seen.mark.number,
        corners_px=fit.corners_px,
        corners_mm=np.array(seen.mark.corners_mm),
        u_px=float(np.hypot(fit.u_px, LEAST_U_PX)),
    )


def _detected(
    grey: NDArray[np.uint8], cards: CardSet
) -> tuple[list[_Detection], list[tuple[str, int]]]:
    """All marks of the cards, and (dictionary, number) of those that are on no card."""
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    settings.minDistanceToBorder = 0
    found, strangers = [], []
    for name in cards.dictionaries:
        detector = cv2.aruco.ArucoDetector(opencv_dictionary(name), settings)
        corners, numbers, _ = detector.detectMarkers(grey)
        if numbers is None:
            continue
        for quad, number in zip(corners, map(int, np.ravel(numbers)), strict=True):
            known = cards.find(name, number)
            if known is None:
                strangers.append((name, number))
            else:
                found.append(_Detection(*known, quad.reshape(4, 2).astype(float)))
    return found, strangers


def _by_size(detections: Sequence[_Detection]) -> tuple[list[_Detection], list[_Detection]]:
    """The marks large enough to be measured, and the others."""
    large: list[_Detection] = []
    small: list[_Detection] = []
    for seen in detections:
        cells = len(mark_cells(seen.mark.dictionary, seen.mark.number))
        (large if seen.side_px >= LEAST_CELL_PX * cells else small).append(seen)
    return large, small


def _agrees(fit: FittedMark) -> bool:
    """Whether enough of the pattern was seen where the fit has it."""
    return fit.agreement >= LEAST_AGREEMENT and bool(np.isfinite(fit.corners_px).all())


def _order(seen: _Detection, cards: CardSet) -> tuple[int, int]:
    """Cards as the set lists them, marks by number."""
    return cards.cards.index(seen.card), seen.mark.number


def _refuse_twice_seen(photo: str, detections: Sequence[_Detection]) -> None:
    """Refuse a photograph that shows one mark at two places."""
    places: defaultdict[tuple[str, int], list[_Detection]] = defaultdict(list)
    for seen in detections:
        places[seen.mark.dictionary, seen.mark.number].append(seen)
    for (dictionary, number), copies in places.items():
        middles = np.array([seen.corners_px.mean(axis=0) for seen in copies])
        apart = np.linalg.norm(middles - middles[0], axis=1)
        if apart.max() > SAME_PLACE * copies[0].side_px:
            (x0, y0), (x1, y1) = middles[0], middles[int(apart.argmax())]
            raise CaptureError(
                f"{photo} shows {copies[0].card.name} twice ({dictionary} mark {number}, at pixel "
                f"({x0:.0f}, {y0:.0f}) and at ({x1:.0f}, {y1:.0f})): take one of the two prints "
                "away and photograph again."
            )


def _too_small(photo: str, seen: _Detection) -> Finding:
    return Finding(
        Level.CHECK,
        f"{seen.card.name} in {photo}",
        f"Its mark {seen.mark.number} is only {seen.side_px:.0f} pixels wide, too small to be "
        "measured; it was not used.",
        "Go nearer, or print larger cards.",
    )


def _disagreeing(photo: str, seen: _Detection, fit: FittedMark) -> Finding:
    return Finding(
        Level.CHECK,
        f"{seen.card.name} in {photo}",
        f"Only {fit.agreement:.0%} of the pattern of its mark {seen.mark.number} is seen where it "
        "should be; it was not used.",
        "Look whether the mark is half covered, bent, in glare, or printed with another border.",
    )


def _none_found(photo: Photo, found: FoundMarks) -> str:
    """The sentence for a photograph without a usable mark."""
    blur_px = edge_blur_px(_grey(photo))
    if blur_px > BLURRED_PX:
        return (
            f"No card can be measured in {photo.name}, which is blurred (its sharpest edges are "
            f"spread over {2 * blur_px:.0f} pixels): photograph again, held steady or leaned on "
            "something, in better light."
        )
    if found.findings:
        return (
            f"No card in {photo.name} can be measured, although {len(found.findings)} of their "
            "marks are in sight (too small, half covered, bent or in glare): take the photograph "
            "again, nearer and with the cards flat."
        )
    if found.strangers:
        dictionary, number = found.strangers[0]
        return (
            f"No card was found in {photo.name}, only marks that are on no card of this job "
            f"(such as {dictionary} mark {number}): state the cards that were used."
        )
    return (
        f"No card was found in {photo.name}: lay printed cards flat round the template, all of "
        "them in the picture, and see that the job states the kind of mark that is on them."
    )
