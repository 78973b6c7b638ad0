"""Marks fitted to the noise floor: all black/white borders of a pattern in one fit.

A detector's corners sit about half a pixel inside the black, because blur, tone curve, sharpening
and ink spread all move an edge across itself.  Here every border between a black and a white cell,
of either polarity, is located by its 50 % crossing, and one fit per photograph solves for

    - the projective map of each mark,
    - one edge shift a mark, by which all its borders have moved towards the white,
    - two coefficients of radial lens distortion that all marks of the photograph share: a large
      mark under a distorting lens is not projective any more.

With the shift free, exposure, tone curve and print spread drop out; and the corners that come back
lie in the picture as it is, distortion included.

Frames:
    pattern: x right, y down as printed upright; the black square is [-1, 1] x [-1, 1].
    pixels: OpenCV's convention, the centre of the top-left pixel is (0, 0).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.sampling import bilinear

__all__ = ["FittedMark", "fit_marks"]

Array = NDArray[np.float64]

SAMPLES_PER_CELL = 8
"""Places along each cell's border at which its crossing is looked for."""

PROFILE_STEPS = 17
"""Samples of one profile across a border."""

REACH_CELLS = 0.45
"""A profile reaches this far to each side, in cells; 0.5 would touch the next border."""

REACH_PX = 8.0
"""A profile never reaches farther than this to each side, pixels."""

PLATEAU_STEPS = 4
"""Samples at each end of a profile that tell how dark and how light its two cells are."""

LEAST_CONTRAST = 0.3
"""A border fainter than this fraction of its mark's median contrast was not seen."""

ROUNDS = 4
"""Rounds of looking for the crossings from the fit so far; it settles in three."""

BEND_PRIOR = 0.3
"""Standard deviation of each radial coefficient, referred to half the picture's diagonal."""

CROSSING_U_PX = 0.1
"""Typical scatter of one crossing, pixels; weighs the crossings against `BEND_PRIOR`."""

CORRELATION_PX = 1.5
"""Crossings nearer to each other than this along a border share their noise, pixels."""

TUKEY = 4.685
"""Where Tukey's biweight ends, in robust standard deviations: 95 % efficient on normal noise."""

LEAST_SCATTER_PX = 0.03
"""Crossings are never taken to scatter less than this: near a cell's corners blur moves them."""

AGREEMENT_PX = 0.5
AGREEMENT_CELLS = 0.05
"""A border agrees with the fit when its crossing is off by less than the larger of these two,
pixels and cells."""

CORNERS = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
"""A mark's corners in the pattern frame: top-left, top-right, bottom-right, bottom-left."""


@dataclass(frozen=True)
class FittedMark:
    """A mark as the whole of its pattern says.

    Attributes:
        corners_px: (4, 2) corners of the black square, free of edge shift: top-left, top-right,
            bottom-right, bottom-left of the upright pattern.
        u_px: Standard uncertainty of a corner per axis from the scatter of the crossings, pixels.
        shift_px: How far all borders have moved towards the white, pixels.
        agreement: Fraction of the pattern's borders that were seen where the fit has them.
    """

    corners_px: Array
    u_px: float
    shift_px: float
    agreement: float


@dataclass(frozen=True)
class _Bend:
    """Radial distortion about the picture's centre, radius 1 at half its diagonal.

    Only what a mark's own projective map cannot follow is bent: at each mark the distortion is
    taken less its affine part there, so that the coefficients hardly move the marks.
    """

    centre: Array
    radius_px: float
    coefficients: Array

    def bent(self, points: Array, origin: Array) -> Array:
        """Where the lens puts (N, 2) straight pixels of the mark round `origin`."""
        return np.asarray(points + self.by_coefficients(points, origin) @ self.coefficients)

    def by_coefficients(self, points: Array, origin: Array) -> Array:
        """(N, 2, 2) derivatives of `bent` by the two coefficients."""
        affine = self._slopes(origin[None])[0] @ (points - origin).T
        return np.asarray(
            self._shifts(points) - self._shifts(origin[None]) - affine.transpose(2, 1, 0)
        )

    def jacobian(self, points: Array, origin: Array) -> Array:
        """(N, 2, 2) derivative of `bent` by the points."""
        slopes = self._slopes(points) - self._slopes(origin[None])
        return np.asarray(np.eye(2) + np.einsum("nkij,k->nij", slopes, self.coefficients))

    def _shifts(self, points: Array) -> Array:
        """(N, 2, 2) displacements of pixels by each coefficient (last axis)."""
        offsets, r2 = self._polar(points)
        return np.stack([offsets * r2[:, None], offsets * (r2**2)[:, None]], axis=-1)

    def _slopes(self, points: Array) -> Array:
        """(N, 2, 2, 2) derivatives of the displacements by each coefficient (second axis)."""
        offsets, r2 = self._polar(points)
        outer = offsets[:, :, None] * offsets[:, None, :] / self.radius_px**2
        r2 = r2[:, None, None]
        return np.stack([np.eye(2) * r2 + 2 * outer, np.eye(2) * r2**2 + 4 * r2 * outer], axis=1)

    def _polar(self, points: Array) -> tuple[Array, Array]:
        """(N, 2) offsets from the centre, pixels, and (N,) squared radii."""
        offsets = points - self.centre
        return offsets, np.sum(offsets**2, axis=1) / self.radius_px**2


@dataclass(frozen=True)
class _Mark:
    """One mark in the fit.

    Attributes:
        points: (N, 2) places on its borders, pattern frame.
        whiteward: (N, 2) unit vectors across the borders towards the white, pattern frame.
        origin: Its middle in pixels; keeps the equations well conditioned.
        homography: (3, 3) straight pixels, less `origin`, from pattern; last element 1.
        cells: Cells along its side.
    """

    points: Array
    whiteward: Array
    origin: Array
    homography: Array
    cells: int

    def straight(self, points: Array) -> tuple[Array, Array]:
        """(N, 2) straight pixels of pattern points, and (N, 2, 8) derivatives by homography."""
        homogeneous = np.column_stack([points, np.ones(len(points))]) @ self.homography.T
        w = homogeneous[:, 2:]
        uv = homogeneous[:, :2] / w
        rows = np.column_stack([points, np.ones(len(points))]) / w
        derivative = np.zeros((len(points), 2, 8))
        derivative[:, 0, 0:3] = rows
        derivative[:, 1, 3:6] = rows
        derivative[:, :, 6:8] = -uv[:, :, None] * rows[:, None, :2]
        return uv + self.origin, derivative

    def pattern_jacobian(self, straight: Array) -> Array:
        """(N, 2, 2) derivative of `straight` by the pattern points, given what it returned."""
        h = self.homography
        w = np.column_stack([self.points, np.ones(len(self.points))]) @ h[2]
        uv = straight - self.origin
        return np.asarray((h[:2, :2] - uv[:, :, None] * h[2, :2]) / w[:, None, None])


@dataclass(frozen=True)
class _Equations:
    """The crossings of one mark as equations linear in the corrections.

    Attributes:
        offset: (N,) where the crossings are, from where the model has them, towards white, px.
        seen: (N,) whether there was a crossing.
        mark: (N, 9) derivatives by homography and edge shift.
        bend: (N, 2) derivatives by the radial coefficients.
    """

    offset: Array
    seen: NDArray[np.bool_]
    mark: Array
    bend: Array


def fit_marks(
    grey: NDArray[np.uint8], patterns: Sequence[NDArray[np.bool_]], corners_px: Sequence[Array]
) -> tuple[FittedMark, ...]:
    """Fit the marks of one photograph.

    Args:
        grey: (height, width) brightness; any monotone scale does.
        patterns: For each mark its (N, N) cells, border included, True where black.
        corners_px: For each mark its (4, 2) corners to within about two pixels, in the order of
            `FittedMark.corners_px`.

    Returns:
        The fits in the given order; whether to believe one is told by its `agreement`.
    """
    height, width = grey.shape
    bend = _Bend(
        np.array([width - 1, height - 1]) / 2, float(np.hypot(width, height)) / 2, np.zeros(2)
    )
    marks = [_mark(cells, px) for cells, px in zip(patterns, corners_px, strict=True)]
    shifts = np.zeros(len(marks))
    for _ in range(ROUNDS):
        equations = [_crossings(grey, mark, bend) for mark in marks]
        weights, marks, shifts, bend = _corrected(equations, marks, bend)
    return tuple(
        _result(mark, bend, equation, weight, float(shift))
        for mark, equation, weight, shift in zip(marks, equations, weights, shifts, strict=True)
    )


def _mark(black: NDArray[np.bool_], corners_px: Array) -> _Mark:
    """The borders of a pattern, and the projective map that its four corners give."""
    cells = len(black)
    white = np.pad(~black, 1, constant_values=True).astype(int)
    along = (np.arange(SAMPLES_PER_CELL) + 0.5) / SAMPLES_PER_CELL
    points, whiteward = [], []
    for axis in (0, 1):
        step = np.diff(white, axis=axis)
        step = step[:, 1:-1] if axis == 0 else step[1:-1, :]
        row, column = np.nonzero(step)
        for fraction in along:
            place = np.column_stack([column, row]).astype(float)
            place[:, axis] += fraction
            points.append(place)
            across = np.zeros_like(place)
            across[:, 1 - axis] = step[row, column]
            whiteward.append(across)
    origin = corners_px.mean(axis=0)
    return _Mark(
        np.vstack(points) / cells * 2 - 1,
        np.vstack(whiteward),
        origin,
        _homography(corners_px - origin),
        cells,
    )


def _homography(corners: Array) -> Array:
    """The (3, 3) projective map that takes `CORNERS` to four given points."""
    rows = np.zeros((8, 8))
    for k, ((x, y), (u, v)) in enumerate(zip(CORNERS, corners, strict=True)):
        rows[2 * k] = [x, y, 1, 0, 0, 0, -u * x, -u * y]
        rows[2 * k + 1] = [0, 0, 0, x, y, 1, -v * x, -v * y]
    return np.append(np.linalg.solve(rows, corners.ravel()), 1.0).reshape(3, 3)


def _crossings(grey: NDArray[np.uint8], mark: _Mark, bend: _Bend) -> _Equations:
    """Look for the 50 % crossing across every border from where the model has it."""
    straight, by_homography = mark.straight(mark.points)
    px = bend.bent(straight, mark.origin)
    lens = bend.jacobian(straight, mark.origin)
    from_pattern = lens @ mark.pattern_jacobian(straight)
    tangent = np.einsum("nij,nj->ni", from_pattern, mark.whiteward[:, ::-1])
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    rise = np.einsum("ni,nij,nj->n", normal, from_pattern, mark.whiteward)
    normal *= np.sign(rise)[:, None]
    reach = np.minimum(np.abs(rise) * 2 / mark.cells * REACH_CELLS, REACH_PX)

    steps = np.linspace(-1, 1, PROFILE_STEPS)
    along = reach[:, None] * steps
    profile = bilinear(
        grey, px[:, 0, None] + along * normal[:, :1], px[:, 1, None] + along * normal[:, 1:]
    )
    fraction, contrast = _half_way(profile)
    seen = np.isfinite(fraction)
    seen &= contrast > LEAST_CONTRAST * np.median(contrast)

    return _Equations(
        offset=np.where(seen, reach * fraction, 0.0),
        seen=seen,
        mark=np.column_stack(
            [np.einsum("ni,nij,njk->nk", normal, lens, by_homography), np.ones(len(px))]
        ),
        bend=np.einsum("ni,nik->nk", normal, bend.by_coefficients(straight, mark.origin)),
    )


def _half_way(profiles: Array) -> tuple[Array, Array]:
    """Where profiles rise through the mean of their two ends.

    Args:
        profiles: (N, S) brightness from the black side to the white.

    Returns:
        (N,) the crossing nearest the middle, on a scale of -1 to 1 over the profile, NaN if none;
        and (N,) the difference in brightness of the two ends.
    """
    dark = profiles[:, :PLATEAU_STEPS].mean(axis=1)
    light = profiles[:, -PLATEAU_STEPS:].mean(axis=1)
    above = profiles - ((dark + light) / 2)[:, None]
    rises = (above[:, :-1] <= 0) & (above[:, 1:] > 0)
    steps = np.linspace(-1, 1, profiles.shape[1])
    middles = (steps[:-1] + steps[1:]) / 2
    nearest = np.where(rises, np.abs(middles), np.inf).argmin(axis=1)
    each = np.arange(len(profiles))
    low, high = above[each, nearest], above[each, nearest + 1]
    found = rises[each, nearest]
    part = np.where(found, -low / np.where(found, high - low, 1.0), np.nan)
    return steps[nearest] + part * (steps[1] - steps[0]), light - dark


def _corrected(
    equations: Sequence[_Equations], marks: Sequence[_Mark], bend: _Bend
) -> tuple[list[Array], list[_Mark], Array, _Bend]:
    """One robust solution of all crossings: weights, corrected marks, shifts and bend."""
    weights = [equation.seen.astype(float) for equation in equations]
    for _ in range(3):
        corrections, bending = _solved(equations, weights, bend.coefficients)
        weights = [
            _tukey(equation.offset - equation.mark @ own - equation.bend @ bending, equation.seen)
            for equation, own in zip(equations, corrections, strict=True)
        ]
    moved = [
        _Mark(
            mark.points,
            mark.whiteward,
            mark.origin,
            mark.homography + np.append(own[:8], 0.0).reshape(3, 3),
            mark.cells,
        )
        for mark, own in zip(marks, corrections, strict=True)
    ]
    shifts = np.array([own[8] for own in corrections])
    return weights, moved, shifts, _Bend(bend.centre, bend.radius_px, bend.coefficients + bending)


def _solved(
    equations: Sequence[_Equations], weights: Sequence[Array], coefficients: Array
) -> tuple[list[Array], Array]:
    """Least squares with the marks' own unknowns eliminated from those of the shared bend."""
    precision = (CROSSING_U_PX / BEND_PRIOR) ** 2
    normal = np.eye(2) * precision
    right = -coefficients * precision
    eliminated = []
    for equation, weight in zip(equations, weights, strict=True):
        weighted = equation.mark * weight[:, None]
        own = np.linalg.pinv(weighted.T @ equation.mark, hermitian=True)
        by_bend = own @ (weighted.T @ equation.bend)
        by_offset = own @ (weighted.T @ equation.offset)
        free = equation.bend - equation.mark @ by_bend
        normal += free.T @ (weight[:, None] * equation.bend)
        right += free.T @ (weight * equation.offset)
        eliminated.append((by_offset, by_bend))
    bending = np.asarray(np.linalg.solve(normal, right), dtype=np.float64)
    return [by_offset - by_bend @ bending for by_offset, by_bend in eliminated], bending


def _scatter(residual: Array, seen: NDArray[np.bool_]) -> float:
    """Robust standard deviation of the residuals of what was seen, pixels."""
    if not seen.any():
        return float("inf")
    return max(1.4826 * float(np.median(np.abs(residual[seen]))), LEAST_SCATTER_PX)


def _tukey(residual: Array, seen: NDArray[np.bool_]) -> Array:
    """Tukey's biweight of each residual; what was not seen weighs nothing."""
    reach = np.minimum(np.abs(residual) / (TUKEY * _scatter(residual, seen)), 1.0)
    return np.asarray(seen * (1 - reach**2) ** 2)


def _result(
    mark: _Mark, bend: _Bend, equation: _Equations, weight: Array, shift: float
) -> FittedMark:
    """Corners and their uncertainty; the last equations' offsets stand for the residuals."""
    straight, by_homography = mark.straight(CORNERS)
    corners = bend.bent(straight, mark.origin)
    residual = equation.offset - shift
    scatter = _scatter(residual, equation.seen)
    cell_px = float(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).mean())
    cell_px /= mark.cells
    agrees = np.abs(residual) < max(AGREEMENT_PX, AGREEMENT_CELLS * cell_px)
    inverse = np.linalg.pinv((equation.mark * weight[:, None]).T @ equation.mark, hermitian=True)
    covariance = by_homography.reshape(8, 8) @ inverse[:8, :8] @ by_homography.reshape(8, 8).T
    repeated = max(1.0, CORRELATION_PX * SAMPLES_PER_CELL / cell_px)
    variance = np.trace(covariance) / 8 * scatter**2 * repeated
    return FittedMark(
        corners, float(np.sqrt(variance)), shift, float(np.mean(agrees & equation.seen))
    )
