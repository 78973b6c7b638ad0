"""How the template plane is seen in a picture: the camera, its pose, and the way back.

Frames:
    plane: mm, x right, y up, z up from the floor (the plane the cards lie on is z = 0).
    pixels: OpenCV's convention, the centre of the top-left pixel is (0, 0), x right, y down.
    camera: x right, y down, z forward, mm.

Distortion is Brown's model in OpenCV's terms (k1, k2, p1, p2, k3): D. C. Brown, "Close-range camera
calibration", Photogrammetric Engineering 37(8), 1971.
"""

from dataclasses import dataclass, replace
from typing import Protocol, Self

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.placement import Placement

__all__ = ["Camera", "PhotoView", "ScanView", "View"]

Points = NDArray[np.float64]


class View(Protocol):
    """One picture of the plane."""

    @property
    def photo(self) -> int:
        """Index of the picture among the job's."""

    def px_from_mm(self, points: Points) -> Points:
        """Project (N, 2) plane points at z = 0, or (N, 3) points above it, to (N, 2) pixels."""

    def mm_from_px(self, points: Points, height_mm: float = 0.0) -> Points:
        """Bring (N, 2) pixels to the (N, 2) plane points at z = `height_mm` that they show."""

    def placed(self, placement: Placement) -> Self:
        """The same picture seen over the plane that the present one lies in as `placement`."""

    def scaled(self, factor: float) -> Self:
        """The same picture of a plane whose distances are longer by a factor."""


@dataclass(frozen=True)
class Camera:
    """A pinhole camera with Brown distortion.

    Attributes:
        size: (width, height) of its pictures in pixels.
        focal_px: Focal length in pixels (square pixels).
        centre_px: Principal point in pixels.
        distortion: (k1, k2, p1, p2, k3), dimensionless.
    """

    size: tuple[int, int]
    focal_px: float
    centre_px: tuple[float, float]
    distortion: tuple[float, float, float, float, float] = (0.0, 0.0, 0.0, 0.0, 0.0)

    def distorted(self, rays: Points) -> Points:
        """Map (N, 2) ideal image points (x/z, y/z) to the distorted ones the lens makes."""
        k1, k2, p1, p2, k3 = self.distortion
        x, y = rays[:, 0], rays[:, 1]
        r2 = x * x + y * y
        radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        return np.column_stack(
            [
                x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x * x),
                y * radial + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y,
            ]
        )

    def distorted_by_ray(self, rays: Points) -> Points:
        """The (N, 2, 2) derivatives of the distorted points by the ideal ones; symmetric."""
        k1, k2, p1, p2, k3 = self.distortion
        x, y = rays[:, 0], rays[:, 1]
        r2 = x * x + y * y
        radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        slope = 2 * k1 + r2 * (4 * k2 + r2 * 6 * k3)
        by_ray = np.empty((len(rays), 2, 2))
        by_ray[:, 0, 0] = radial + x * x * slope + 2 * p1 * y + 6 * p2 * x
        by_ray[:, 0, 1] = by_ray[:, 1, 0] = x * y * slope + 2 * p1 * x + 2 * p2 * y
        by_ray[:, 1, 1] = radial + y * y * slope + 6 * p1 * y + 2 * p2 * x
        return by_ray

    def px_from_rays(self, rays: Points) -> Points:
        """Map (N, 2) ideal image points (x/z, y/z) to (N, 2) pixels."""
        return np.asarray(self.distorted(rays) * self.focal_px + np.array(self.centre_px))

    def rays_from_px(self, points: Points) -> Points:
        """Map (N, 2) pixels to ideal image points (x/z, y/z), by Newton's method."""
        target: Points = (np.asarray(points, float) - np.array(self.centre_px)) / self.focal_px
        rays = target.copy()
        for _ in range(20):
            error = self.distorted(rays) - target
            by_ray = self.distorted_by_ray(rays)
            j11, j12, j22 = by_ray[:, 0, 0], by_ray[:, 0, 1], by_ray[:, 1, 1]
            determinant = j11 * j22 - j12 * j12
            step = np.column_stack(
                [
                    (j22 * error[:, 0] - j12 * error[:, 1]) / determinant,
                    (j11 * error[:, 1] - j12 * error[:, 0]) / determinant,
                ]
            )
            rays = rays - step
            if float(np.abs(step).max(initial=0.0)) < 1e-13:
                break
        return rays


@dataclass(frozen=True)
class PhotoView:
    """A photograph's view of the plane.

    Attributes:
        photo: Index of the picture among the job's.
        camera: The camera that took it.
        rotation: (3, 3), camera from plane.
        translation: (3,), camera from plane, mm: x_camera = rotation · x_plane + translation.
    """

    photo: int
    camera: Camera
    rotation: NDArray[np.float64]
    translation: NDArray[np.float64]

    @property
    def position(self) -> Points:
        """The camera's place (3,) in the plane frame, mm; its first two are the nadir."""
        return np.asarray(-self.rotation.T @ self.translation)

    def px_from_mm(self, points: Points) -> Points:
        """See `View.px_from_mm`."""
        points = np.asarray(points, float)
        seen = points @ self.rotation[:, : points.shape[1]].T + self.translation
        return self.camera.px_from_rays(seen[:, :2] / seen[:, 2:])

    def mm_from_px(self, points: Points, height_mm: float = 0.0) -> Points:
        """See `View.mm_from_px`."""
        rays = self.camera.rays_from_px(points)
        directions = np.column_stack([rays, np.ones(len(rays))]) @ self.rotation
        x0, y0, z0 = self.position
        reach = (height_mm - z0) / directions[:, 2]
        return np.asarray(directions[:, :2] * reach[:, None] + np.array([x0, y0]))

    def placed(self, placement: Placement) -> "PhotoView":
        """See `View.placed`."""
        c, s = np.cos(placement.turn_rad), np.sin(placement.turn_rad)
        rotation = self.rotation @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
        shift = rotation @ np.array([*placement.origin, 0.0])
        return replace(self, rotation=rotation, translation=self.translation - shift)

    def scaled(self, factor: float) -> "PhotoView":
        """See `View.scaled`; the camera is farther off by the same factor."""
        return replace(self, translation=self.translation * factor)


@dataclass(frozen=True)
class ScanView:
    """A flatbed scan's view of the plane: every point seen straight from above.

    Attributes:
        photo: Index of the picture among the job's.
        mm_per_px: Millimetres per pixel along the picture's x and y.
        origin_px: The pixel that shows the plane's origin.
        turn_rad: Counter-clockwise turn of the picture's x axis from the plane's x axis.
    """

    photo: int
    mm_per_px: tuple[float, float]
    origin_px: tuple[float, float]
    turn_rad: float = 0.0

    def _plane_from_picture(self) -> NDArray[np.float64]:
        """The (2, 2) matrix from pixel offsets (x right, y down) to plane offsets in mm."""
        c, s = np.cos(self.turn_rad), np.sin(self.turn_rad)
        turn = np.array([[c, -s], [s, c]])
        return np.asarray(turn @ np.diag([self.mm_per_px[0], -self.mm_per_px[1]]))

    def px_from_mm(self, points: Points) -> Points:
        """See `View.px_from_mm`; heights do not show in a scan."""
        offsets = np.asarray(points, float)[:, :2]
        return np.asarray(offsets @ np.linalg.inv(self._plane_from_picture()).T + self.origin_px)

    def mm_from_px(self, points: Points, height_mm: float = 0.0) -> Points:
        """See `View.mm_from_px`; a scan sees every height at the same place."""
        return np.asarray((points - np.array(self.origin_px)) @ self._plane_from_picture().T)

    def placed(self, placement: Placement) -> "ScanView":
        """See `View.placed`."""
        origin = self.px_from_mm(np.array([placement.to_local((0.0, 0.0))]))[0]
        return replace(
            self,
            origin_px=(float(origin[0]), float(origin[1])),
            turn_rad=self.turn_rad + placement.turn_rad,
        )

    def scaled(self, factor: float) -> "ScanView":
        """See `View.scaled`."""
        x, y = self.mm_per_px
        return replace(self, mm_per_px=(factor * x, factor * y))
