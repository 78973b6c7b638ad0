"""What a person draws on a template with a marker, as strokes for the renderer."""

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.placement import Point
from tests.line_drawings import stroke
from tests.renderer import Paint

__all__ = ["MARKER", "arrow", "cross", "letters", "line", "paints_of"]

Array = NDArray[np.float64]

MARKER = (0.03, 0.03, 0.035)
PEN_MM = 3.0

LETTERS = {
    "H": [((0, 0), (0, 30)), ((18, 0), (18, 30)), ((0, 15), (18, 15))],
    "T": [((9, 0), (9, 30)), ((0, 30), (18, 30))],
    "X": [((0, 0), (18, 30)), ((0, 30), (18, 0))],
    "E": [((0, 0), (0, 30)), ((0, 0), (18, 0)), ((0, 15), (14, 15)), ((0, 30), (18, 30))],
    "L": [((0, 0), (0, 30)), ((0, 0), (18, 0))],
    "I": [((9, 0), (9, 30))],
}
"""Strokes of block letters 30 mm high."""


def line(start: Point, end: Point, width_mm: float = PEN_MM) -> Array:
    """One straight stroke (1, 4, 2)."""
    return stroke(np.array([start, end], float), width_mm)


def cross(at: Point, *, reach_mm: float = 20.0, turn_rad: float = 0.1) -> Array:
    """Two strokes through a point, square to each other."""
    ways = [np.array([np.cos(t), np.sin(t)]) for t in (turn_rad, turn_rad + np.pi / 2)]
    ends = [(np.array(at) - reach_mm * way, np.array(at) + reach_mm * way) for way in ways]
    return np.concatenate([line(tuple(a), tuple(b)) for a, b in ends])


def arrow(start: Point, tip: Point, *, barb_mm: float = 30.0, barb_rad: float = 0.5) -> Array:
    """A shaft and two barbs."""
    back = np.arctan2(start[1] - tip[1], start[0] - tip[0])
    barbs = [
        line(tip, (tip[0] + barb_mm * np.cos(back + t), tip[1] + barb_mm * np.sin(back + t)))
        for t in (-barb_rad, barb_rad)
    ]
    return np.concatenate([line(start, tip), *barbs])


def letters(text: str, at: Point) -> Array:
    """Print in block letters of 4 mm strokes."""
    strokes = []
    for number, letter in enumerate(text):
        x, y = at[0] + 30 * number, at[1]
        strokes += [line((x + a, y + b), (x + c, y + d), 4.0) for (a, b), (c, d) in LETTERS[letter]]
    return np.concatenate(strokes)


def paints_of(*drawn: Array) -> tuple[Paint, ...]:
    """The strokes (N, 4, 2) in a marker's ink."""
    return tuple(Paint(tuple(map(tuple, quad)), MARKER) for quad in np.concatenate(drawn))
