"""Which parts of a piece's contour the saw makes, and which the board has already.

A run is an unbroken stretch of either kind round the contour.
"""

from dataclasses import dataclass

from shapecut.shape.curves import Curve, Line
from shapecut.shape.region import Loop

__all__ = ["BOARD_EDGE_TOLERANCE_MM", "Run", "board_edge_runs", "saw_runs"]

BOARD_EDGE_TOLERANCE_MM = 0.25
"""Greatest distance of a straight side's ends from the board's edge for it to need no saw: half of
what a card's marks are rounded to.  Nobody saws off less."""


@dataclass(frozen=True)
class Run:
    """A chain of curves of one kind; closed when it is a whole loop."""

    curves: tuple[Curve, ...]
    closed: bool = False

    def is_bite(self) -> bool:
        """Whether it leaves a board's edge and comes back to the same one farther along.

        Contours run counter-clockwise: to the right on a board's lower edge, to the left on the
        upper one.  A run that comes back behind its start goes round the whole piece instead.
        """
        if self.closed:
            return False
        (x0, y0), (x1, y1) = self.curves[0].start, self.curves[-1].end
        if abs(y1 - y0) > BOARD_EDGE_TOLERANCE_MM:
            return False
        on_lower = abs(y0) <= BOARD_EDGE_TOLERANCE_MM
        return x1 > x0 if on_lower else x1 < x0


def saw_runs(loop: Loop, board_width_mm: float) -> tuple[Run, ...]:
    """The runs that the saw makes, of a loop in its piece's frame."""
    return _runs(loop, [not _is_board_edge(side.curve, board_width_mm) for side in loop])


def board_edge_runs(loop: Loop, board_width_mm: float) -> tuple[Run, ...]:
    """The runs that are the board's own edges, of a loop in its piece's frame."""
    return _runs(loop, [_is_board_edge(side.curve, board_width_mm) for side in loop])


def _is_board_edge(curve: Curve, board_width_mm: float) -> bool:
    """Whether the board has a curve already, also where it follows the outline there."""
    if not isinstance(curve, Line):
        return False
    return any(
        abs(curve.start[1] - across) <= BOARD_EDGE_TOLERANCE_MM
        and abs(curve.end[1] - across) <= BOARD_EDGE_TOLERANCE_MM
        for across in (0.0, board_width_mm)
    )


def _runs(loop: Loop, wanted: list[bool]) -> tuple[Run, ...]:
    curves = [side.curve for side in loop]
    if all(wanted):
        return (Run(tuple(curves), closed=True),)
    # Start just behind an unwanted side, so that no run is broken where the loop's list begins.
    first = wanted.index(False)
    runs: list[Run] = []
    run: list[Curve] = []
    for index in (*range(first, len(curves)), *range(first + 1)):
        if wanted[index]:
            run.append(curves[index])
        elif run:
            runs.append(Run(tuple(run)))
            run = []
    return tuple(runs)
