"""Split a ring of boundary samples into the fewest lines and arcs that explain it.

A penalised least squares partition of the ring, solved exactly by dynamic programming over nodes
(every few samples): each stretch between two nodes costs its weighted sum of squared distances from
the best line or circle, plus a price for having one more primitive.  All stretches' fits come from
running sums of moments: lines from the scatter matrix, circles from G. Taubin, "Estimation of
planar curves, surfaces and nonplanar space curves defined by implicit equations", IEEE Trans. PAMI
13(11), 1991, whose minimum is the mean squared distance to first order and, unlike Kåsa's fit,
nearly unbiased on shallow arcs; solved as in N. Chernov, "Circular and Linear Regression", 2010,
ch. 5.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.trace.raster import Points

__all__ = ["Prices", "Stretch", "partition"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Prices:
    """What a primitive costs, in units of chi-square.

    Neighbouring samples err together (a hand's wobble, a grain of the floor), so that a primitive
    must explain several times what independent samples would ask for.

    Attributes:
        line: One more line.
        arc: One more arc; more than a line's, since it has one parameter more and lines are what
            people cut.
        knot: One more span of a smooth curve that is neither.
        nodes: Greatest number of places where a primitive may begin.
        rounded: Samples on each side of a corner that are not to be believed.
        least_radius_mm: Smaller arcs are corners, not arcs.
        least_samples: Fewer samples than this are not an arc.
        least_sagitta_mm: Arcs that rise less than this over their chord are lines cut by hand.
    """

    line: float = 100.0
    arc: float = 150.0
    knot: float = 4.0
    nodes: int = 240
    rounded: int = 0
    least_radius_mm: float = 4.0
    least_samples: int = 8
    least_sagitta_mm: float = 1.0


@dataclass(frozen=True)
class Stretch:
    """One primitive's samples.

    Attributes:
        first: Index of its first sample.
        count: Number of samples, going round the ring.
        arc: Whether an arc explains them better than a line.
    """

    first: int
    count: int
    arc: bool


def partition(points: Points, sigma_mm: Array, prices: Prices) -> tuple[Stretch, ...]:
    """Partition a closed ring of samples into stretches, in ring order.

    Args:
        points: (N, 2) samples in ring order, mm.
        sigma_mm: (N,) standard deviation of each across the boundary, wobble of the cut included;
            infinite for samples that say nothing.
        prices: What a primitive costs.

    Returns:
        The stretches; a single one when one circle explains the whole ring.
    """
    step = max(1, int(np.ceil(len(points) / prices.nodes)))
    nodes = np.arange(0, len(points) - step // 2, step)
    lines, arcs = _stretch_costs(points, 1 / sigma_mm**2, nodes, prices)
    costs = np.minimum(lines, arcs)
    round_cost, round_start = float(np.diag(arcs).min()), int(np.argmin(np.diag(arcs)))
    breaks, _ = _cheapest_chain(costs, 0)
    total = np.inf
    # Once from any node, then from a node that is surely a break.
    for _ in range(2):
        breaks, total = _cheapest_chain(costs, breaks[len(breaks) // 2])
    if round_cost <= total:
        return (Stretch(int(nodes[round_start]), len(points), True),)
    return tuple(
        Stretch(
            int(nodes[a]),
            int((nodes[b] - nodes[a]) % len(points)) or len(points),
            bool(arcs[a, b] < lines[a, b]),
        )
        for a, b in zip(breaks, breaks[1:] + breaks[:1], strict=True)
    )


def _cheapest_chain(costs: Array, start: int) -> tuple[list[int], float]:
    """The cheapest closed chain of nodes through `start`, and its cost."""
    n = len(costs)
    order = (start + np.arange(n + 1)) % n
    best = np.full(n + 1, np.inf)
    best[0] = 0.0
    before = np.zeros(n + 1, int)
    for j in range(1, n + 1):
        through = best[:j] + costs[order[:j], order[j]]
        before[j] = int(np.argmin(through))
        best[j] = through[before[j]]
    chain, j = [], n
    while j > 0:
        j = int(before[j])
        chain.append(int(order[j]))
    return chain[::-1], float(best[n])


def _stretch_costs(
    points: Points, weights: Array, nodes: NDArray[np.intp], prices: Prices
) -> tuple[Array, Array]:
    """(M, M) costs of a line and of an arc from node to node round the ring.

    The diagonal is the whole ring from a node back to itself.
    """
    middle = points.mean(axis=0)
    scale = float(np.abs(points - middle).max())
    x, y = ((points - middle) / scale).T
    z = x * x + y * y
    products = weights * np.stack(
        [np.ones_like(x), x, y, z, x * x, x * y, y * y, x * z, y * z, z * z]
    )
    sums = np.concatenate([np.zeros((len(products), 1)), np.cumsum(products, axis=1)], axis=1)
    # A corner lies up to half a step beside its node, and blur rounds it: the samples nearest to
    # the ends of a stretch do not count.
    clear = (int(nodes[1]) + 1) // 2 + prices.rounded
    first, last = nodes + clear, nodes - clear
    count = (last[None] - first[:, None]) % len(points)
    span = (nodes[None] - nodes[:, None]) % len(points)
    span[span == 0] = len(points)
    short = span < 2 * clear + 2
    low, high = first % len(points), last % len(points)
    moments = sums[:, None, high] - sums[:, low, None]
    moments += (high[None, :] <= low[:, None]) * sums[:, -1, None, None]
    weight = np.maximum(moments[0], 1e-12)
    centred = _centred(moments[1:] / weight)
    total = weight * scale**2
    lines = total * _line_misfit(centred) + prices.line
    misfit, radius = _circle_misfit(centred)
    arcs = total * misfit + prices.arc
    tight = radius * scale < prices.least_radius_mm
    arcs[tight | (count < prices.least_samples)] = np.inf
    lines[short] = arcs[short] = np.inf
    np.fill_diagonal(lines, np.inf)
    return lines, arcs


@dataclass(frozen=True)
class _Moments:
    """Means of products of x, y and z = x² + y², each (M, M), about the mean of x and y."""

    xx: Array
    xy: Array
    yy: Array
    xz: Array
    yz: Array
    zz: Array


def _centred(raw: Array) -> _Moments:
    """Moments about their means, from the means (9, M, M) of x, y, z, xx, xy, yy, xz, yz and zz.

    About the mean (a, b), z becomes z - 2 a x - 2 b y + a² + b².
    """
    a, b, z, xx, xy, yy, xz, yz, zz = raw
    c = a * a + b * b
    own_xx, own_xy, own_yy = xx - a * a, xy - a * b, yy - b * b
    return _Moments(
        own_xx,
        own_xy,
        own_yy,
        xz - a * z - 2 * (a * own_xx + b * own_xy),
        yz - b * z - 2 * (a * own_xy + b * own_yy),
        zz + 4 * (a * a * xx + 2 * a * b * xy + b * b * yy - a * xz - b * yz) + c * (2 * z - 3 * c),
    )


def _line_misfit(m: _Moments) -> Array:
    """Mean squared distance from the best line: the scatter matrix's smaller eigenvalue."""
    xx, yy, xy = m.xx, m.yy, m.xy
    half = (xx + yy) / 2
    return np.maximum(half - np.sqrt(((xx - yy) / 2) ** 2 + xy * xy), 0.0)


def _circle_misfit(m: _Moments) -> tuple[Array, Array]:
    """Mean squared distance from Taubin's circle, and its radius.

    The misfit is the smallest root of the characteristic cubic (Chernov 2010, eq. 5.39 ff.), found
    by Newton's method from 0, which cannot overshoot it.
    """
    xx, yy, xy, xz, yz, zz = m.xx, m.yy, m.xy, m.xz, m.yz, m.zz
    z = xx + yy
    cov = xx * yy - xy * xy
    a3, a2 = 4 * z, -3 * z * z - zz
    a1 = zz * z + 4 * cov * z - xz * xz - yz * yz - z**3
    a0 = xz * xz * yy + yz * yz * xx - zz * cov - 2 * xz * yz * xy + z * z * cov
    root = np.zeros_like(z)
    for _ in range(8):
        slope = a1 + root * (2 * a2 + 3 * a3 * root)
        value = a0 + root * (a1 + root * (a2 + root * a3))
        root = root - np.where(np.abs(slope) > 1e-300, value / np.where(slope == 0, 1, slope), 0)
    determinant = root * root - root * z + cov
    safe = np.where(np.abs(determinant) < 1e-300, 1e-300, determinant)
    cx = (xz * (yy - root) - yz * xy) / safe / 2
    cy = (yz * (xx - root) - xz * xy) / safe / 2
    return np.maximum(root, 0.0), np.hypot(np.hypot(cx, cy), np.sqrt(np.maximum(z, 0.0)))
