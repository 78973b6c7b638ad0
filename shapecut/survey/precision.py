"""How sure the measured plane is: the joint covariance of points seen in the pictures.

A point marked without error in a picture comes to the plane with the errors of the camera, of the
pose and of the scale.  They are carried to first order (JCGM 100:2008, 5.2.2): independent causes,
each of standard deviation 1, move each view, and each view moves its points.

Datum: errors are those of shape and scale.  A shift or a turn of the whole plane changes no
template, so the frame is taken to be tied to the cards as a whole: to the shift and turn that best
fit all their mark corners, as often as each was sighted (least squares; the S-transformation of
W. Baarda, "S-transformations and criterion matrices", 1973).  Scale acts from the cards' middle.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.placement import Placement, Point
from shapecut.survey.lens_field import LensField
from shapecut.survey.projection import projected
from shapecut.survey.view import PhotoView, ScanView

__all__ = ["EXACT", "PhotoErrors", "Precision", "ScanErrors", "across_u_mm", "distance_u_mm"]

Array = NDArray[np.float64]
Photos = int | Sequence[int] | NDArray[np.intp]
"""Indices of pictures: one for all points, or one for each."""


@dataclass(frozen=True)
class PhotoErrors:
    """How the causes move a photograph's view.

    Attributes:
        view: As adjusted.
        by_cause: (14, causes) changes of its camera's and its pose's columns (see `network`).
        bumps_by_cause: (bumps, causes) of the field that displaces its pixels (see `lens_field`).
    """

    view: PhotoView
    by_cause: Array
    bumps_by_cause: Array

    def moved(self, px: Array, height_mm: float) -> Array:
        """(N, 2, causes) mm by which the plane points of (N, 2) pixels move."""
        plane = self.view.mm_from_px(px, height_mm)
        points = np.column_stack([plane, np.full(len(plane), height_mm)])
        seen = projected(self.view.camera, self.view.rotation, self.view.translation, points)
        by_view = np.concatenate([seen.by_camera, seen.by_pose], axis=2)
        field = LensField(self.view.camera.size).displacements(px)
        moved_px = field @ self.bumps_by_cause - by_view @ self.by_cause
        return np.asarray(np.linalg.solve(seen.by_plane, moved_px))


@dataclass(frozen=True)
class ScanErrors:
    """How the causes move a scan's view.

    Attributes:
        view: As measured.
        by_cause: (5, causes) relative changes of its millimetres per pixel along x and y, changes
            of its turn about its origin and of its shift in the plane.
    """

    view: ScanView
    by_cause: Array

    def moved(self, px: Array, height_mm: float) -> Array:
        """As `PhotoErrors.moved`; a scan sees every height at the same place."""
        offsets = np.asarray(px, float) - np.array(self.view.origin_px)
        along = np.stack([offsets * side for side in np.eye(2)], axis=-1)
        zero = replace(self.view, origin_px=(0.0, 0.0))
        x, y = (zero.mm_from_px(along[:, :, side]) for side in range(2))
        turned = np.column_stack([-(x + y)[:, 1], (x + y)[:, 0]])
        shifts = np.broadcast_to(np.eye(2), (len(offsets), 2, 2))
        moved = np.concatenate([np.stack([x, y, turned], axis=-1), shifts], axis=2)
        return np.asarray(moved @ self.by_cause)


@dataclass(frozen=True)
class Precision:
    """The joint uncertainty of a survey's plane.

    Attributes:
        views: How the causes move each view, scale aside; a view not among them is taken as exact.
        relative_u: Standard uncertainty of scale, as a fraction of any distance.
        middle: Where scale acts from: the cards' middle in the frame of the adjustment, mm.
        local_u_mm: Standard uncertainty per axis of each point by itself, independent of all other
            points: what no cause explains.
        turn_rad: Turn of that frame's x axis in the plane's present frame.
    """

    views: tuple[PhotoErrors | ScanErrors, ...] = ()
    relative_u: float = 0.0
    middle: Point = (0.0, 0.0)
    local_u_mm: float = 0.0
    turn_rad: float = 0.0

    def factor(self, photo: Photos, px: Array, height_mm: float = 0.0) -> Array:
        """How independent causes of standard deviation 1 move plane points.

        Args:
            photo: Index of the picture (`View.photo`) that all points are seen in, or of each.
            px: (N, 2) pixels that show the points.
            height_mm: Height of the points above the cards' plane.

        Returns:
            F (2 N, causes) in mm, rows x₀, y₀, x₁, y₁, …; the last cause is scale.  `local_u_mm`
            aside, the covariance is F Fᵀ; of any linear function L of the points, (L F)(L F)ᵀ.
        """
        px = np.asarray(px, float)
        of_point = np.broadcast_to(np.asarray(photo), len(px))
        causes = self.views[0].by_cause.shape[1] if self.views else 0
        moved = np.zeros((len(px), 2, causes + 1))
        for errors in self.views:
            rows = np.flatnonzero(of_point == errors.view.photo)
            if not len(rows):
                continue
            moved[rows, :, :causes] = errors.moved(px[rows], height_mm)
            arms = errors.view.mm_from_px(px[rows], height_mm) - np.array(self.middle)
            moved[rows, :, causes] = self.relative_u * arms
        c, s = np.cos(self.turn_rad), np.sin(self.turn_rad)
        return (np.array([[c, -s], [s, c]]) @ moved).reshape(-1, causes + 1)

    def covariance(self, photo: Photos, px: Array, height_mm: float = 0.0) -> Array:
        """Joint covariance (2 N, 2 N) in mm² of plane points, in the plane's present frame.

        The marking of the pixels themselves is taken as exact: add its part to the diagonal.
        For many points `factor` is the smaller form of the same.

        Args:
            photo: As for `factor`.
            px: As for `factor`.
            height_mm: As for `factor`.
        """
        factor = self.factor(photo, px, height_mm)
        return np.asarray(factor @ factor.T + self.local_u_mm**2 * np.eye(len(factor)))

    @property
    def given_scale(self) -> "Precision":
        """The same with scale taken as exact: what is left is uncertainty of shape."""
        return replace(self, relative_u=0.0)

    def placed(self, placement: Placement) -> "Precision":
        """The same in a plane that the present one lies in as `placement`."""
        return replace(self, turn_rad=self.turn_rad + placement.turn_rad)


EXACT = Precision()
"""Of a survey whose views and scale are taken as they are."""


def distance_u_mm(
    precision: Precision, photo: Photos, ends_mm: Array, ends_px: Array, height_mm: float = 0.0
) -> float:
    """Standard uncertainty of the distance between two points, scale included.

    Args:
        precision: Of the survey.
        photo: Index of the picture that shows the points, or of each.
        ends_mm: (2, 2) the points in the plane.
        ends_px: (2, 2) the pixels that show them, taken as exact.
        height_mm: Their height above the cards' plane.
    """
    along = np.asarray(ends_mm[1] - ends_mm[0], float)
    along = along / np.linalg.norm(along)
    factor = precision.factor(photo, ends_px, height_mm)
    carried = float(np.linalg.norm(along @ (factor[2:] - factor[:2])))
    return math.hypot(carried, math.sqrt(2) * precision.local_u_mm)


def across_u_mm(
    precision: Precision, photo: Photos, normals: Array, px: Array, height_mm: float = 0.0
) -> Array:
    """Standard uncertainty (N,) of points across the edges they lie on, mm.

    Args:
        precision: Of the survey.
        photo: Index of the picture that shows the points, or of each.
        normals: (N, 2) unit normals of the edges, in the plane.
        px: (N, 2) the pixels that show the points, taken as exact.
        height_mm: Their height above the cards' plane.
    """
    factor = precision.factor(photo, px, height_mm).reshape(len(px), 2, -1)
    carried = np.linalg.norm(np.einsum("ni,nik->nk", normals, factor), axis=1)
    return np.asarray(np.hypot(carried, precision.local_u_mm))
