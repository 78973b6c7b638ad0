"""Fitted lines and circles moved together so that conditions between them hold.

Least squares with conditions: of all ways to make the conditions hold, the one that moves the
primitives least, measured by their covariances, C.  With w the gaps and G their derivatives, the
movement is -C G' (G C G' + U)^-1 w, and w' (G C G' + U)^-1 w is chi-square distributed when the
conditions agree with what was measured (E. M. Mikhail, "Observations and Least Squares", 1976,
ch. 9).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shapecut.trace.primitives import CircleFit, LineFit, Primitive
from shapecut.trace.raster import Points

__all__ = ["Condition", "Settled", "covariance", "gap_and_u", "gap_of", "settle"]

Array = NDArray[np.float64]

_ROUNDS = 20
"""Times the conditions are made linear, at most."""
_SETTLED = 1e-9
"""Movements that change less than this from one time to the next are final, mm or rad."""
_STEP = 1e-4
"""Movement over which derivatives are taken: mm at the primitive, and of its ends when it turns."""
_LEAST_U_MM = 1e-3
"""No edge is known better than this."""
_IMPLIED = 1e-9
"""Share of the greatest eigenvalue below which conditions repeat each other."""


@dataclass(frozen=True)
class Condition:
    """Something said about a few primitives.

    Attributes:
        members: Their places in the sequence.
        gap: Of these primitives, in order: what is missing from the condition; mm or rad.
        u: Standard uncertainty of what is said, in the gap's unit; 0 where it holds exactly.
    """

    members: tuple[int, ...]
    gap: Callable[..., float]
    u: float = 0.0


@dataclass(frozen=True)
class Settled:
    """Primitives that meet conditions.

    Attributes:
        primitives: Moved.
        chi2: How far they had to move, against their covariances.
        freedom: Number of conditions that say something of their own.
        worst_gap: Greatest gap left of a condition that holds exactly; infinite where the search
            for a way to meet them all failed.
    """

    primitives: tuple[Primitive, ...]
    chi2: float
    freedom: int
    worst_gap: float


def covariance(primitive: Primitive, places: Points, u_mm: float) -> Array:
    """Covariance of a primitive's movements, from places along it whose typical uncertainty is u.

    Args:
        primitive: A line moves (mm to its left, rad), a circle by (x, y, radius) in mm.
        places: (N, 2) along it, mm, where it was seen.
        u_mm: Standard uncertainty across itself, root mean square over the places.
    """
    if isinstance(primitive, LineFit):
        along = (places - np.array(primitive.point)) @ np.array(primitive.direction)
        slopes = np.column_stack([np.ones(len(places)), along])
    else:
        spokes = places - np.array(primitive.centre)
        spokes = spokes / np.maximum(np.hypot(*spokes.T), 1e-12)[:, None]
        slopes = np.column_stack([spokes, np.ones(len(places))])
    information = slopes.T @ slopes / len(places)
    # Independent samples of variance v give a variance of v p / N on average along the primitive.
    variance = max(u_mm, _LEAST_U_MM) ** 2 / slopes.shape[1]
    return np.asarray(variance * np.linalg.pinv(information, hermitian=True))


def gap_and_u(
    condition: Condition, primitives: Sequence[Primitive], covariances: Sequence[Array]
) -> tuple[float, float]:
    """A condition's gap, and its standard uncertainty from those of the primitives and its own."""
    variance = condition.u**2
    for k, slope in _slopes(condition, primitives).items():
        variance += float(slope @ covariances[k] @ slope)
    return gap_of(condition, primitives), float(np.sqrt(variance))


def settle(
    primitives: Sequence[Primitive],
    covariances: Sequence[Array],
    conditions: Sequence[Condition],
) -> Settled:
    """Move primitives as little as can be so that all conditions hold.

    Args:
        primitives: As measured.
        covariances: Of the movements of each, see `covariance`.
        conditions: Each between any of them; they may repeat each other.
    """
    firsts = np.cumsum([0, *(len(c) for c in covariances)])
    whole = np.zeros((firsts[-1], firsts[-1]))
    for first, block in zip(firsts[:-1], covariances, strict=True):
        whole[first : first + len(block), first : first + len(block)] = block
    own = np.diag([condition.u**2 for condition in conditions])
    moves, now = np.zeros(firsts[-1]), list(primitives)
    chi2, freedom = 0.0, 0
    for _ in range(_ROUNDS if conditions else 0):
        slopes = np.zeros((len(conditions), firsts[-1]))
        gaps = np.zeros(len(conditions))
        for row, condition in enumerate(conditions):
            gaps[row] = gap_of(condition, now)
            for k, slope in _slopes(condition, now).items():
                slopes[row, firsts[k] : firsts[k + 1]] = slope
        missing = gaps - slopes @ moves
        inverse, freedom = _inverse(slopes @ whole @ slopes.T + own)
        chi2 = float(missing @ inverse @ missing)
        before, moves = moves, -whole @ slopes.T @ inverse @ missing
        now = [
            _moved(primitive, moves[firsts[k] : firsts[k + 1]])
            for k, primitive in enumerate(primitives)
        ]
        if np.abs(moves - before).max() < _SETTLED:
            break
    left = [abs(gap_of(condition, now)) for condition in conditions if condition.u == 0]
    worst = max(left, default=0.0)
    return Settled(tuple(now), chi2, freedom, worst if np.isfinite(worst) else np.inf)


def _inverse(normal: Array) -> tuple[Array, int]:
    """The inverse where conditions say something of their own, and how many do."""
    size = np.sqrt(np.maximum(np.diag(normal), 1e-300))
    values, vectors = np.linalg.eigh(normal / np.outer(size, size))
    kept = values > _IMPLIED * values[-1]
    inverse = (vectors[:, kept] / values[kept]) @ vectors[:, kept].T
    return inverse / np.outer(size, size), int(kept.sum())


def gap_of(condition: Condition, primitives: Sequence[Primitive]) -> float:
    """What is missing from a condition."""
    return condition.gap(*(primitives[k] for k in condition.members))


def _slopes(condition: Condition, primitives: Sequence[Primitive]) -> dict[int, Array]:
    """Derivatives of a condition's gap by the movements of each primitive that it is about."""
    slopes = {}
    for k in set(condition.members):
        steps = np.full(3, _STEP)
        if isinstance(primitives[k], LineFit):
            steps = np.array([_STEP, _STEP / 1000])
        slope = np.zeros(len(steps))
        for at, step in enumerate(steps):
            move = np.zeros(len(steps))
            move[at] = step
            ahead, back = list(primitives), list(primitives)
            ahead[k], back[k] = _moved(primitives[k], move), _moved(primitives[k], -move)
            slope[at] = (gap_of(condition, ahead) - gap_of(condition, back)) / (2 * step)
        slopes[k] = slope
    return slopes


def _moved(primitive: Primitive, move: Array) -> Primitive:
    """The primitive moved; itself where it does not move."""
    if not np.any(move):
        return primitive
    if isinstance(primitive, CircleFit):
        x, y = primitive.centre
        centre = (x + float(move[0]), y + float(move[1]))
        return replace(primitive, centre=centre, radius=primitive.radius + float(move[2]))
    (x, y), (dx, dy) = primitive.point, primitive.direction
    left, turn = map(float, move)
    cosine, sine = float(np.cos(turn)), float(np.sin(turn))
    return replace(
        primitive,
        point=(x - dy * left, y + dx * left),
        direction=(dx * cosine - dy * sine, dy * cosine + dx * sine),
    )
