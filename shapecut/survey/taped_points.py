"""Points on the floor whose distances were taped: their places by least squares.

Trilateration: every tape states the distance of two points; with more tapes than the places take,
the tapes correct each other and what they miss by is known.  Distances alone leave a shift, a turn
and a mirror image open.  Shift and turn do not matter, the mirror image is told from a picture:
seen from above, no three points ever change their sense of rotation.

Glossary:
    control: the part of a tape's error that shows in its own residual (the redundancy number of
        W. Baarda, "A testing procedure for use in geodetic networks", 1968), 0 to 1.
    freedom: tapes more than the places take.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from shapecut.errors import SurveyError
from shapecut.shape.placement import Point
from shapecut.survey.tapes import Tape

__all__ = ["TapedPoints", "adjusted_points"]

Array = NDArray[np.float64]

MOST_STEPS = 100
"""Steps after which a start is given up; from a fair one it takes five to ten."""

SETTLED_MM = 1e-9
"""A step that moves no point farther than this ends the search."""

LEAST_DAMPING = 1e-9
"""Shift and turn, which no tape holds, stay damped by this fraction of the mean weight."""

RIGID = 1e-6
"""A way to move points that changes distances by less than this fraction is not held by tapes."""

DISTINCT_TURN = 0.02
"""Three points turn one way for certain when their triangle's area is more than this fraction of
its longest side squared."""

STRETCHES = (1.0, 1.4, 2.0)
"""By how much a picture may have to be stretched to undo the tilt of the camera."""

STRETCH_SIDES = 8
"""Directions of stretching that are tried, over half a turn."""


@dataclass(frozen=True)
class TapedPoints:
    """Points where the tapes have them.

    Attributes:
        names: Of the N points.
        places: (N, 2) mm, their middle being the origin; x right and y up as seen from above.
        covariance: (2 N, 2 N) of x₀, y₀, x₁, …, by the stated uncertainties; of shape and size
            alone, a shift and a turn of all points taken out.
        tapes: What was measured.
        residuals_mm: (M,) each tape as read less as adjusted.
        control: (M,) see the glossary.
    """

    names: tuple[str, ...]
    places: Array
    covariance: Array
    tapes: tuple[Tape, ...]
    residuals_mm: Array
    control: Array

    @property
    def chi2(self) -> float:
        """Sum of squared residuals, each over its tape's uncertainty."""
        return float(np.sum((self.residuals_mm / _u_mm(self.tapes)) ** 2))

    @property
    def freedom(self) -> int:
        """Tapes more than the places take."""
        return len(self.tapes) - (2 * len(self.names) - 3)

    @property
    def u_mm(self) -> Array:
        """(N,) standard uncertainty per axis of each point within the shape, mm."""
        variances = np.diag(self.covariance).reshape(-1, 2)
        return np.asarray(np.sqrt(variances.mean(axis=1)))

    def distance_mm(self, start: str, end: str) -> tuple[float, float]:
        """Distance of two points, and its standard uncertainty."""
        ends = np.array([[self.names.index(start), self.names.index(end)]])
        (row,) = _jacobian(self.places, ends)
        variance = max(float(row @ self.covariance @ row), 0.0)
        return float(_distances(self.places, ends)[0]), math.sqrt(variance)


def adjusted_points(tapes: Sequence[Tape], picture: Mapping[str, Point]) -> TapedPoints:
    """Place points by all tapes between them.

    Args:
        tapes: Enough to hold every point; more let them correct each other.
        picture: Every point in one photograph from above, pixels; tells the mirror image.

    Raises:
        SurveyError: If a tape names a point that is not in the picture, or the tapes leave a point
            free to move.
    """
    names = tuple(picture)
    _refuse_unknown(tapes, names)
    ends = np.array([[names.index(tape.start), names.index(tape.end)] for tape in tapes])
    lengths = np.array([tape.length_mm for tape in tapes])
    u_mm = _u_mm(tapes)
    seen = np.array(list(picture.values()), float) * (1.0, -1.0)
    found = [
        places
        for start in _starts(seen, ends, lengths)
        if (places := _settled(start, ends, lengths, u_mm)) is not None
    ]
    if not found:
        raise SurveyError(_free(tapes, names))

    def badness(places: Array) -> tuple[int, float]:
        misses = (lengths - _distances(places, ends)) / u_mm
        return _turned_over(places, seen), float(misses @ misses)

    places = min(found, key=badness)
    jacobian = _jacobian(places, ends) / u_mm[:, None]
    if np.linalg.matrix_rank(jacobian, tol=RIGID / u_mm.max()) < 2 * len(names) - 3:
        raise SurveyError(_free(tapes, names))
    covariance = np.asarray(np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-9, hermitian=True))
    control = 1 - np.einsum("mi,ij,mj->m", jacobian, covariance, jacobian)
    residuals = lengths - _distances(places, ends)
    return TapedPoints(names, places, covariance, tuple(tapes), residuals, control)


def _refuse_unknown(tapes: Sequence[Tape], names: Sequence[str]) -> None:
    for tape in tapes:
        for name in (tape.start, tape.end):
            if name not in names:
                raise SurveyError(
                    f"The {tape} names a point {name} that is pointed at in no photograph: "
                    "give its place there, or correct the name."
                )


def _free(tapes: Sequence[Tape], names: Sequence[str]) -> str:
    """The sentence for tapes that do not hold their points."""
    counts = {name: sum(name in (tape.start, tape.end) for tape in tapes) for name in names}
    weakest = min(names, key=lambda name: counts[name])
    return (
        f"The {len(tapes)} taped distances do not hold the points {', '.join(names)} in place, "
        f"{weakest} the least: tape every point to every other."
    )


def _u_mm(tapes: Sequence[Tape]) -> Array:
    return np.array([tape.u_mm for tape in tapes])


def _distances(places: Array, ends: NDArray[np.intp]) -> Array:
    return np.asarray(np.linalg.norm(places[ends[:, 0]] - places[ends[:, 1]], axis=1))


def _jacobian(places: Array, ends: NDArray[np.intp]) -> Array:
    """(M, 2 N) derivatives of the distances by the places."""
    arms = places[ends[:, 0]] - places[ends[:, 1]]
    units = arms / np.maximum(np.linalg.norm(arms, axis=1), 1e-12)[:, None]
    jacobian = np.zeros((len(ends), len(places), 2))
    rows = np.arange(len(ends))
    jacobian[rows, ends[:, 0]], jacobian[rows, ends[:, 1]] = units, -units
    return jacobian.reshape(len(ends), -1)


def _starts(seen: Array, ends: NDArray[np.intp], lengths: Array) -> Iterator[Array]:
    """The picture, stretched this way and that, at the scale that the tapes suggest."""
    centred = seen - seen.mean(axis=0)
    for stretch in STRETCHES:
        for side in range(STRETCH_SIDES if stretch > 1 else 1):
            angle = math.pi * side / STRETCH_SIDES
            along = np.array([math.cos(angle), math.sin(angle)])
            start = centred + (stretch - 1) * np.outer(centred @ along, along)
            apart = _distances(start, ends)
            yield start * float(lengths @ apart) / max(float(apart @ apart), 1e-12)


def _settled(places: Array, ends: NDArray[np.intp], lengths: Array, u_mm: Array) -> Array | None:
    """Places moved until the tapes are met best, by Gauss-Newton damped; None if that fails.

    The step is the shortest one, so that the points are neither shifted nor turned as a whole.
    """
    damping = 1e-3
    misses = (lengths - _distances(places, ends)) / u_mm
    for _ in range(MOST_STEPS):
        jacobian = _jacobian(places, ends) / u_mm[:, None]
        normal = jacobian.T @ jacobian
        normal += damping * float(np.trace(normal)) / len(normal) * np.eye(len(normal))
        step = np.linalg.solve(normal, jacobian.T @ misses).reshape(-1, 2)
        after = (lengths - _distances(places + step, ends)) / u_mm
        if after @ after <= misses @ misses:
            places, misses, damping = places + step, after, max(damping / 10, LEAST_DAMPING)
            if float(np.abs(step).max()) < SETTLED_MM:
                return places
        else:
            damping *= 10
            if damping > 1e6:
                return places
    return None


def _turned_over(places: Array, seen: Array) -> int:
    """How many triples of points turn the other way than in the picture, thin triangles aside."""
    count = 0
    for triple in combinations(range(len(places)), 3):
        here, there = (_turn(points[list(triple)]) for points in (places, seen))
        count += here * there < 0 and min(abs(here), abs(there)) > DISTINCT_TURN
    return count


def _turn(triangle: Array) -> float:
    """Signed area of a (3, 2) triangle over its longest side squared."""
    a, b = triangle[1] - triangle[0], triangle[2] - triangle[0]
    longest = max(float(np.sum(side**2)) for side in (a, b, b - a))
    return float(a[0] * b[1] - a[1] * b[0]) / 2 / max(longest, 1e-12)
