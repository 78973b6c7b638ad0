"""A printed chessboard or ChArUco sheet in a photograph: inner corners to calibrate a camera by.

Glossary:
    squares: all squares along a side of the sheet, black and white.
    inner corner: where four squares meet; one less than the squares along each side.
    ChArUco: a chessboard with marks in its white squares, so that part of it is enough.
"""

import re
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.patterns import opencv_dictionary
from shapecut.capture.photo import Photo
from shapecut.errors import CaptureError

__all__ = ["Chessboard", "SeenSheet", "find_chessboard", "squares_from_text"]

LEAST_SQUARES = 4
"""Along each side; fewer corners tell next to nothing of a lens."""

SEARCH_PX = 1600
"""The board is looked for in a picture reduced to this longer side: there it is found in a fraction
of a second, and the corners are refined in the full picture anyway."""

LEAST_CORNERS = 12
"""Corners of a ChArUco sheet that must be in sight for the photograph to be of use."""

WINDOW = 0.2
"""Half the window in which a corner is refined, as a fraction of the distance to its nearest
neighbour.  A window that reaches the neighbours' edges pulls corners away by a pixel and more."""

CLEAR_OF_MARKS = 0.9
"""The same as a fraction of the white between a ChArUco sheet's marks and the edges of squares."""


@dataclass(frozen=True)
class Chessboard:
    """A printed sheet.

    Attributes:
        squares: Squares along its two sides.
        square_mm: Side of a square as printed.
        dictionary: Plain name of the dictionary of a ChArUco sheet's marks; None: a chessboard.
        mark_mm: Side of those marks' black square.

    Raises:
        CaptureError: If there are too few squares, or a side is not possible.
    """

    squares: tuple[int, int]
    square_mm: float
    dictionary: str | None = None
    mark_mm: float | None = None

    def __post_init__(self) -> None:
        """Refuse sheets that cannot be."""
        if min(self.squares) < LEAST_SQUARES:
            raise CaptureError(
                f"A sheet of {self} is too coarse to calibrate a camera by: print one with at "
                f"least {LEAST_SQUARES} squares along each side."
            )
        if self.square_mm <= 0:
            raise CaptureError("The squares of the sheet have no size: state the side of one.")
        if self.dictionary is not None and not 0 < (self.mark_mm or 0.0) < self.square_mm:
            raise CaptureError(
                "The marks of a ChArUco sheet are smaller than its squares: state the side of a "
                "mark's black square."
            )

    def __str__(self) -> str:
        """As a person would say it."""
        return f"{self.squares[0]} x {self.squares[1]} squares"

    @property
    def window(self) -> float:
        """Half the window round a corner in which nothing but its four squares is seen, squares."""
        if self.mark_mm is None:
            return WINDOW
        return min(WINDOW, CLEAR_OF_MARKS * (1 - self.mark_mm / self.square_mm) / 2)

    @property
    def corners_mm(self) -> NDArray[np.float64]:
        """(N, 2) inner corners in the sheet's frame, row after row; y down as OpenCV has it."""
        columns, rows = (count - 1 for count in self.squares)
        x, y = np.meshgrid(np.arange(columns), np.arange(rows))
        return np.asarray(np.column_stack([x.ravel(), y.ravel()]) * self.square_mm, dtype=float)


@dataclass(frozen=True)
class SeenSheet:
    """The sheet in one photograph.

    Attributes:
        px: (N, 2) inner corners, sub-pixel.
        mm: (N, 2) the same corners in the sheet's frame.
    """

    px: NDArray[np.float64]
    mm: NDArray[np.float64]


def squares_from_text(text: str) -> tuple[int, int]:
    """Read how many squares a sheet has along its sides, such as 10x7.

    Raises:
        CaptureError: If it is not two numbers.
    """
    match = re.fullmatch(r"\s*(\d{1,3})\s*[xX×]\s*(\d{1,3})\s*", text)
    if not match:
        raise CaptureError(f'"{text}" does not say how many squares: write for example 10x7.')
    return (int(match[1]), int(match[2]))


def find_chessboard(photo: Photo, sheet: Chessboard) -> SeenSheet | None:
    """Find the sheet's inner corners in a photograph.

    Saddle points need no whole-pattern fit as marks do: blur and exposure move the four edges that
    meet in one symmetrically.

    Returns:
        The corners, or None if the sheet (of a ChArUco sheet, enough of it) is not in sight.
    """
    grey = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    scale = min(1.0, SEARCH_PX / max(grey.shape))
    reduced = np.asarray(
        cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), dtype=np.uint8
    )
    rough = _rough_corners(reduced, sheet)
    if rough is None:
        return None
    # Pixel centres: the reduced picture's (x + 1/2) is the full picture's (x + 1/2) times scale.
    full = (rough.px + 0.5) / scale - 0.5
    return SeenSheet(_refined(grey, full, sheet.window), rough.mm)


def _rough_corners(grey: NDArray[np.uint8], sheet: Chessboard) -> SeenSheet | None:
    """The corners to about a pixel."""
    if sheet.dictionary is not None:
        return _rough_charuco(grey, sheet, sheet.dictionary)
    columns, rows = (count - 1 for count in sheet.squares)
    found, px = cv2.findChessboardCorners(grey, (columns, rows))
    return SeenSheet(px.reshape(-1, 2).astype(float), sheet.corners_mm) if found else None


def _rough_charuco(grey: NDArray[np.uint8], sheet: Chessboard, dictionary: str) -> SeenSheet | None:
    """In today's arrangement of the marks, or in that of sheets drawn before OpenCV 4.6."""
    for legacy in (False, True):
        board = cv2.aruco.CharucoBoard(
            sheet.squares, sheet.square_mm, sheet.mark_mm or 0.0, opencv_dictionary(dictionary)
        )
        board.setLegacyPattern(legacy)
        px, numbers, _, _ = cv2.aruco.CharucoDetector(board).detectBoard(grey)
        if numbers is not None and len(numbers) >= LEAST_CORNERS:
            corners = np.asarray(board.getChessboardCorners(), float)[:, :2]
            return SeenSheet(px.reshape(-1, 2).astype(float), corners[np.ravel(numbers)])
    return None


def _refined(
    grey: NDArray[np.uint8], px: NDArray[np.float64], window: float
) -> NDArray[np.float64]:
    """Corners to a small fraction of a pixel."""
    apart = np.linalg.norm(px[:, None] - px[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    half = max(2, round(window * float(np.median(apart.min(axis=1)))))
    refined = cv2.cornerSubPix(
        grey,
        px.astype(np.float32).reshape(-1, 1, 2),
        (half, half),
        (-1, -1),
        (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 100, 1e-4),
    )
    return np.asarray(refined, dtype=np.float64).reshape(-1, 2)
