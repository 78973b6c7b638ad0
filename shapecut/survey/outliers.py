"""Marks and cards that contradict the rest, found one after another and left out by name.

Each candidate group of sightings (one mark, one card in one photograph, one card altogether) is
tested by how much the chi-square would fall without it, in units of what is left: W. Baarda's data
snooping ("A testing procedure for use in geodetic networks", 1968) for blocks of observations.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.sighting import Sighting
from shapecut.survey.least_squares import Solution
from shapecut.survey.network import CornerSightings

__all__ = ["Group", "Suspicion", "worst_group"]

Array = NDArray[np.float64]

CONTROLLED = 0.02
"""Directions in which the rest controls less than this fraction of a group's variance are left out
of its test: there it would agree with anything."""


@dataclass(frozen=True)
class Group:
    """Sightings that stand or fall together.

    Attributes:
        card: Name of the card they are of.
        photo: Index of the photograph, or None for all of them.
        mark: Number of the mark, or None for all of the card's.
    """

    card: str
    photo: int | None
    mark: int | None

    def holds(self, seen: Sighting) -> bool:
        """Whether a sighting belongs to the group."""
        return (
            seen.card == self.card
            and self.photo in (None, seen.photo)
            and self.mark in (None, seen.mark)
        )


@dataclass(frozen=True)
class Suspicion:
    """How much a group contradicts the rest.

    Attributes:
        group: The sightings in question.
        ratio: Fall of chi-square per degree of freedom without it, over the variance factor that
            would be left (not taken below 1); about 1 for a good group.
        off_px: Root mean square of the group's errors as the rest sees them, pixels.
    """

    group: Group
    ratio: float
    off_px: float


def worst_group(
    solution: Solution, corners: CornerSightings, sightings: Sequence[Sighting]
) -> Suspicion:
    """The group that contradicts the rest the most.

    Args:
        solution: The adjustment of all of them.
        corners: Their corners, as adjusted.
        sightings: The sightings that `corners.sighting` counts.
    """
    return max(
        (_suspicion(group, solution, corners, sightings) for group in _groups(sightings)),
        key=lambda suspicion: suspicion.ratio,
    )


def _groups(sightings: Sequence[Sighting]) -> Iterator[Group]:
    """All groups, each set of sightings once, the more particular kind first."""
    known: set[frozenset[int]] = set()
    kinds = (
        [Group(seen.card, seen.photo, seen.mark) for seen in sightings]
        + [Group(seen.card, seen.photo, None) for seen in sightings]
        + [Group(seen.card, None, None) for seen in sightings]
    )
    for group in kinds:
        members = frozenset(k for k, seen in enumerate(sightings) if group.holds(seen))
        if members not in known:
            known.add(members)
            yield group


def _suspicion(
    group: Group,
    solution: Solution,
    corners: CornerSightings,
    sightings: Sequence[Sighting],
) -> Suspicion:
    """Test one group by the covariance of its own residuals."""
    members = [k for k, seen in enumerate(sightings) if group.holds(seen)]
    rows = np.isin(corners.sighting, members)
    u_px = np.repeat(corners.u_px[rows], 2)
    residuals = solution.residuals[rows].ravel() / u_px
    jacobian = solution.jacobian[np.repeat(rows, 2)]
    own = np.eye(len(residuals)) - jacobian @ solution.covariance @ jacobian.T
    control, directions = np.linalg.eigh(own)
    tested = control > CONTROLLED
    along = directions[:, tested].T @ residuals
    fall = float(np.sum(along**2 / control[tested]))
    left = (solution.chi2 - fall) / max(solution.freedom - int(tested.sum()), 1)
    errors = directions[:, tested] @ (along / control[tested]) * u_px
    return Suspicion(
        group,
        ratio=fall / max(int(tested.sum()), 1) / max(left, 1.0),
        off_px=float(np.sqrt(np.mean(errors**2))),
    )
