"""Where scans first lie in one plane: chained through what two of them show."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import SurveyError
from shapecut.survey.joint import card_names
from shapecut.survey.scan_network import ScanNetwork
from shapecut.survey.start import rigid_fit

__all__ = ["joined_scans"]

Array = NDArray[np.float64]
Key = tuple[str, int | str]

LEAST_SHARED = 2
"""Points that a scan must share with the others: a card has four or more."""


def joined_scans(
    photos: Sequence[Photo], sightings: Sequence[Sighting], mm_per_px: Array
) -> ScanNetwork:
    """Lay scans side by side.

    Args:
        photos: The scans.
        sightings: Marks and points seen in them.
        mm_per_px: (S, 2) first estimates of each scan's scales.

    Raises:
        SurveyError: If a scan shares too little with the others.
    """
    middles = np.array([[(side - 1) / 2 for side in photo.size] for photo in photos])
    own = [
        {
            (seen.card, seen.mark): (seen.corners_px - middles[scan])
            * (1.0, -1.0)
            * mm_per_px[scan]
            for seen in sightings
            if seen.photo == scan
        }
        for scan in range(len(photos))
    ]
    turns, shifts = np.zeros(len(photos)), np.zeros((len(photos), 2))
    plane = dict(own[0])
    waiting = list(range(1, len(photos)))
    while waiting:
        scan = max(waiting, key=lambda index: _shared(own[index], plane))
        if _shared(own[scan], plane) < LEAST_SHARED:
            raise SurveyError(
                f"{photos[scan].name} shares no card and no two points with the other scans: scan "
                "again with more overlap, a card fixed to the template in both, or state points "
                "that both show."
            )
        keys = [key for key in own[scan] if key in plane]
        there, here = (np.concatenate([of[key] for key in keys]) for of in (own[scan], plane))
        frame, _ = rigid_fit(there, here)
        turns[scan], shifts[scan] = frame.turn_rad, frame.origin
        for key, points in own[scan].items():
            plane.setdefault(key, frame.points_to_plane(points))
        waiting.remove(scan)
    return ScanNetwork(middles, mm_per_px, turns, shifts, _placements(sightings, plane))


def _shared(own: Mapping[Key, Array], plane: Mapping[Key, Array]) -> int:
    """How many points of a scan already lie in the plane."""
    return sum(len(points) for key, points in own.items() if key in plane)


def _placements(sightings: Sequence[Sighting], plane: Mapping[Key, Array]) -> Array:
    """(C, 3) of the cards in the order of their first sighting."""
    printed = {(seen.card, seen.mark): seen.corners_mm for seen in sightings}
    placements = []
    for name in card_names(sightings):
        keys = [key for key in printed if key[0] == name]
        local, here = (np.concatenate([of[key] for key in keys]) for of in (printed, plane))
        placement, _ = rigid_fit(local, here)
        placements.append([*placement.origin, placement.turn_rad])
    return np.array(placements).reshape(-1, 3)
