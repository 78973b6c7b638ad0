"""Real photographs of a chessboard: the camera against published values, the plane against truth.

    python -m tests.benchmarks.real_chessboards FOLDER

FOLDER holds OpenCV's sample pictures, `left01.jpg` … `right14.jpg`, and `left_intrinsics.yml`; the
Debian package `opencv-doc` has them in `FOLDER` below.  A board of 10 x 7 squares of 25 mm (9 x 6
inner corners, 200 mm long), 640 x 480 pixels, a wide lens.

The camera: by our joint adjustment of all photographs with the whole board as one card, beside
`cv2.calibrateCamera` on the same corners and beside the published file, whose own recipe is
repeated to see how far it scatters.  The stated uncertainty is that of `shapecut camera`.

The plane: each photograph by itself, with six blocks of 3 x 3 corners as cards whose places nobody
knows; then all 54 corners, measured in the plane that the survey found, against the board after the
best shift and turn (no change of scale).  Beside it a plain homography that knows all 54 corners.
"""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.chessboard import Chessboard, SeenSheet, find_chessboard
from shapecut.capture.photo import Photo, read_photo
from shapecut.capture.sighting import Sighting
from shapecut.survey.adjust import survey_photos
from shapecut.survey.calibrate import Calibration, calibrated
from shapecut.survey.start import rigid_fit
from shapecut.survey.view import Camera

FOLDER = Path("/usr/share/doc/opencv-doc/examples/data")
SHEET = Chessboard((10, 7), 25.0)
SIZE = (640, 480)
CORNER_U_PX = 0.15
BLOCK = 3
PUBLISHED_WINDOW_PX = 11
"""Half the window of OpenCV's own calibration sample, by which the published file was made."""

Array = NDArray[np.float64]


def photographs(folder: Path, side: str) -> list[Photo]:
    """The photographs of one of the two cameras."""
    return [read_photo(path) for path in sorted(folder.glob(f"{side}[0-9][0-9].jpg"))]


def seen_in(photos: Sequence[Photo]) -> list[SeenSheet]:
    """The board in each photograph; all of them show it."""
    found = [find_chessboard(photo, SHEET) for photo in photos]
    return [seen for seen in found if seen is not None]


def seen_as_published(photos: Sequence[Photo], seen: Sequence[SeenSheet]) -> list[SeenSheet]:
    """The corners as the published file's maker refined them."""
    refined = []
    for photo, sheet in zip(photos, seen, strict=True):
        grey = cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY)
        _, rough = cv2.findChessboardCorners(grey, (9, 6))
        window = (PUBLISHED_WINDOW_PX, PUBLISHED_WINDOW_PX)
        px = cv2.cornerSubPix(grey, rough, window, (-1, -1), (3, 30, 0.1))
        refined.append(SeenSheet(px.reshape(-1, 2).astype(float), sheet.mm))
    return refined


def by_opencv(seen: Sequence[SeenSheet]) -> Array:
    """`cv2.calibrateCamera` with square pixels and k3, as the published file; see `our_values`."""
    flat = [np.column_stack([s.mm, np.zeros(len(s.mm))]).astype(np.float32) for s in seen]
    px = [s.px.astype(np.float32) for s in seen]
    flags = cv2.CALIB_FIX_ASPECT_RATIO
    _, matrix, lens, _, _ = cv2.calibrateCamera(flat, px, SIZE, np.eye(3), np.zeros(5), flags=flags)
    return np.array([matrix[0, 0], matrix[0, 2], matrix[1, 2], *np.ravel(lens)[:5]])


def published(folder: Path) -> Array:
    """The published file; see `our_values`."""
    file = cv2.FileStorage(str(folder / "left_intrinsics.yml"), cv2.FILE_STORAGE_READ)
    matrix = file.getNode("camera_matrix").mat()
    lens = np.ravel(file.getNode("distortion_coefficients").mat())
    return np.array([matrix[0, 0], matrix[0, 2], matrix[1, 2], *lens])


def jackknife_u(seen: Sequence[SeenSheet], camera: Callable[[Sequence[SeenSheet]], Array]) -> Array:
    """Standard uncertainties of a calibration by leaving out one photograph after another."""
    without = np.array([camera([*seen[:k], *seen[k + 1 :]]) for k in range(len(seen))])
    count = len(seen)
    return np.asarray(np.sqrt((count - 1) / count * np.sum((without - without.mean(0)) ** 2, 0)))


def by_joint_adjustment(photos: Sequence[Photo], seen: Sequence[SeenSheet]) -> Array:
    """Our survey of all photographs, the board being their one card; see `our_values`."""
    sightings = [
        Sighting(photo, "board", 0, sheet.px, _upright(sheet), CORNER_U_PX, stands_alone=True)
        for photo, sheet in enumerate(seen)
    ]
    survey = survey_photos(photos, sightings, relative_u=1e-6, height_mm=0.0)
    return our_values(survey.views[0].camera)


def ours(seen: Sequence[SeenSheet]) -> Calibration:
    """Our calibration."""
    return calibrated(seen, [f"photograph {k + 1}" for k in range(len(seen))], SIZE)


def our_values(camera: Camera) -> Array:
    """Focal, centre, k1, k2, p1, p2, k3."""
    return np.array([camera.focal_px, *camera.centre_px, *camera.distortion])


def our_u(made: Calibration) -> Array:
    """Their standard uncertainties."""
    u = np.sqrt(np.diag(made.covariance))
    return np.asarray([u[0] * made.camera.focal_px, *u[1:]])


# --- the plane -----------------------------------------------------------------------------------


def blocks_as_cards(seen: SeenSheet) -> list[Sighting]:
    """Six blocks of corners, each a card whose place on the plane is not told."""
    corners = np.arange(54).reshape(6, 9)
    up = _upright(seen)
    sightings = []
    for row in range(0, 6, BLOCK):
        for column in range(0, 9, BLOCK):
            own = corners[row : row + BLOCK, column : column + BLOCK].ravel()
            name = f"block {len(sightings) + 1}"
            mm = up[own] - up[own].mean(axis=0)
            sightings.append(Sighting(0, name, 0, seen.px[own], mm, CORNER_U_PX))
    return sightings


def _upright(seen: SeenSheet) -> Array:
    """The board's corners with y up: they run as on the sheet, y down, or the other way round."""
    right, down = seen.px[8] - seen.px[0], seen.px[45] - seen.px[0]
    return seen.mm * (1.0, -1.0 if right[0] * down[1] - right[1] * down[0] > 0 else 1.0)


def by_our_survey(photo: Photo, seen: SeenSheet) -> float:
    """Root mean square distance of the measured corners from the board, mm."""
    survey = survey_photos([photo], blocks_as_cards(seen), relative_u=1e-3, height_mm=0.0)
    return rigid_fit(_upright(seen), survey.views[0].mm_from_px(seen.px))[1]


def by_homography(seen: SeenSheet) -> float:
    """The same by a homography fitted to all corners, which knows the board."""
    matrix, _ = cv2.findHomography(seen.px, seen.mm)
    plane = cv2.perspectiveTransform(seen.px[:, None], matrix)[:, 0]
    return rigid_fit(seen.mm, plane)[1]


def _rms(values: Sequence[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def main(folder: Path) -> None:
    """Print the tables."""
    names = ("focal", "centre x", "centre y", "k1", "k2", "p1", "p2", "k3")
    file = published(folder)
    for side in ("left", "right"):
        photos = photographs(folder, side)
        seen = seen_in(photos)
        made, joint, theirs = ours(seen), by_joint_adjustment(photos, seen), by_opencv(seen)
        print(f"{side}: {len(seen)} photographs, residual {made.residual_px:.3f} px per axis")
        print("            ours          ± u (1 sd)   OpenCV, same corners")
        for row in zip(names, joint, our_u(made), theirs, strict=True):
            print(f"  {row[0]:9} {row[1]:11.5f}   {row[2]:10.5f}   {row[3]:11.5f}")
        if side == "left":
            coarse = seen_as_published(photos, seen)
            again, spread = by_opencv(coarse), jackknife_u(coarse, by_opencv)
            print("  the published file; its own recipe repeated, and that recipe's spread")
            for row in zip(names, file, again, spread, strict=True):
                print(f"  {row[0]:9} {row[1]:11.5f}   {row[2]:11.5f}   {row[3]:10.5f}")
        surveyed = [by_our_survey(*pair) for pair in zip(photos, seen, strict=True)]
        plain = [by_homography(sheet) for sheet in seen]
        print(f"  plane, mm rms: survey {_rms(surveyed):.3f} (worst {max(surveyed):.3f}), ", end="")
        print(f"homography {_rms(plain):.3f} (worst {max(plain):.3f})")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
