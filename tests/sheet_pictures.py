"""Photographs of a printed chessboard or ChArUco sheet through an exact camera."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.chessboard import Chessboard, SeenSheet
from shapecut.capture.patterns import opencv_dictionary
from shapecut.capture.photo import Photo
from shapecut.survey.view import Camera, PhotoView
from tests.scenes import look_at

__all__ = ["looks_at_sheet", "seen_sheet", "sheet_photo"]

PX_PER_MM = 8
MARGIN_MM = 20.0
FINE = 3
STEP = 3


def looks_at_sheet(camera: Camera, sheet: Chessboard, *, count: int, seed: int) -> list[PhotoView]:
    """Views from all sides, tilted 20 to 40 degrees, that the sheet nearly fills."""
    rng = np.random.default_rng(seed)
    middle = np.array(sheet.squares) * sheet.square_mm / 2 - sheet.square_mm
    far = 1.9 * max(sheet.squares) * sheet.square_mm * camera.focal_px / camera.size[0]
    views = []
    for k in range(count):
        tilt, side = math.radians(rng.uniform(20, 40)), math.tau * k / count
        place = far * np.array(
            [math.sin(tilt) * math.cos(side), math.sin(tilt) * math.sin(side), math.cos(tilt)]
        )
        target = (middle[0] + rng.uniform(-15, 15), -middle[1] + rng.uniform(-15, 15), 0.0)
        roll = float(rng.uniform(-math.pi, math.pi))
        views.append(look_at(camera, tuple(place + target), target, photo=k, roll_rad=roll))
    return views


def seen_sheet(view: PhotoView, sheet: Chessboard, noise: NDArray[np.float64]) -> SeenSheet:
    """The inner corners (N, 2) as the view shows them, plus noise in pixels."""
    return SeenSheet(view.px_from_mm(sheet.corners_mm * (1, -1)) + noise, sheet.corners_mm)


def sheet_photo(view: PhotoView, sheet: Chessboard, *, blur_px: float = 0.6) -> Photo:
    """The sheet on a grey table; its first inner corner is the plane's origin, rows run down."""
    print_, origin = _print(sheet)
    at = (_seen_mm(view) * (1, -1) * PX_PER_MM + origin).astype(np.float32)
    fine = cv2.remap(print_, at, None, cv2.INTER_LINEAR, borderValue=110)
    light = cv2.resize(fine, view.camera.size, interpolation=cv2.INTER_AREA)
    light = cv2.GaussianBlur(light, (0, 0), blur_px)
    return Photo(f"sheet_{view.photo + 1}.jpg", np.repeat(light[:, :, None], 3, axis=2))


def _seen_mm(view: PhotoView) -> NDArray[np.float64]:
    """(FINE height, FINE width, 2) plane points of sub-pixels: exact in the middle of each square
    of STEP pixels, linear between them."""
    width, height = view.camera.size
    x, y = np.meshgrid(
        *((np.arange(-1, n // STEP + 1) + 0.5) * STEP - 0.5 for n in (width, height))
    )
    coarse = view.mm_from_px(np.column_stack([x.ravel(), y.ravel()])).reshape(*x.shape, 2)
    times = STEP * FINE
    fine = cv2.resize(coarse, None, fx=times, fy=times, interpolation=cv2.INTER_LINEAR)
    return fine[times:-times, times:-times]


def _print(sheet: Chessboard) -> tuple[NDArray[np.uint8], NDArray[np.float64]]:
    """The sheet's picture, and where in it the first inner corner is."""
    square, margin = round(sheet.square_mm * PX_PER_MM), round(MARGIN_MM * PX_PER_MM)
    size = tuple(count * square for count in sheet.squares)
    if sheet.dictionary is None:
        row, column = np.indices(sheet.squares[::-1])
        black = np.kron((row + column) % 2 == 0, np.ones((square, square), bool))
        drawn = np.where(black, 25, 225).astype(np.uint8)
    else:
        board = cv2.aruco.CharucoBoard(
            sheet.squares, sheet.square_mm, sheet.mark_mm, opencv_dictionary(sheet.dictionary)
        )
        drawn = (25 + board.generateImage(size) / 255.0 * 200).astype(np.uint8)
    drawn = cv2.copyMakeBorder(drawn, *4 * (margin,), cv2.BORDER_CONSTANT, value=225)
    return drawn, np.full(2, margin + square - 0.5)
