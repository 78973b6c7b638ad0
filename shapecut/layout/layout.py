"""The plan of rows and pieces.

Glossary:
    board: a straight length of stock of one actual width; laid with a gap to its neighbours.
    row: one board's course across the field; its strip is `width_mm` across, its neighbours
        `gap_mm` away.
    piece: a connected part of a row as it is cut; a row broken by a notch or post has several.
    along: the boards' direction; local x of a piece.
    across: at right angles to it, to the left of along; local y of a piece.
    blank: the rectangle of board a piece is cut from: its length by the board's full width.
"""

from dataclasses import dataclass

from shapecut.findings import Finding
from shapecut.shape.placement import Placement, Point
from shapecut.shape.region import Region

__all__ = ["Board", "Joint", "Layout", "Piece", "Row", "Start"]


@dataclass(frozen=True)
class Board:
    """The board as it really is, mm (a nominal 2 x 6 is 38 x 140)."""

    width_mm: float
    thickness_mm: float
    gap_mm: float


@dataclass(frozen=True)
class Row:
    """One course of boards.

    Attributes:
        number: Counted from 1 at the starting side.
        across_mm: Across-coordinates (low, high) of the board's two edges in the row frame; the
            whole board, also where the outline takes only a part of it.
    """

    number: int
    across_mm: tuple[float, float]


@dataclass(frozen=True)
class Piece:
    """One piece to cut.

    Attributes:
        label: Unique in the plan: row number and a letter along the row, e.g. `4b`.
        row: The row's number.
        region: Its shape in its own frame: x along the board from the reference end (x = 0 is the
            blank's end), y across from the board's lower edge (0) to its upper (the width).
            Sides with a source follow that outline edge (allowance included); sides without one
            are the board's own edges.
        placement: Of the piece's frame in the template plane.
        length_mm: Length of its blank.
    """

    label: str
    row: int
    region: Region
    placement: Placement
    length_mm: float


@dataclass(frozen=True)
class Joint:
    """Where two pieces of a row meet.

    Attributes:
        row: The row's number.
        joist: Index of the joist under it.
        place: Its middle, in the plane.
    """

    row: int
    joist: int
    place: Point


@dataclass(frozen=True)
class Start:
    """A start and what it costs.

    Attributes:
        level_mm: The lower edge of one board, row frame.
        narrow_rows: Rows none of whose pieces is as wide as the smallest rip.
        short_pieces: Pieces shorter than the smallest length.
        slivers: Pieces narrower than the smallest rip, those of narrow rows included.
        arms: Places where a wider piece is narrower than the smallest rip.
        blanks_mm: Total length of all blanks.
        ripped_rows: Rows none of whose pieces takes the whole width of its board.
    """

    level_mm: float
    narrow_rows: int
    short_pieces: int
    slivers: int
    arms: int
    blanks_mm: float
    ripped_rows: int

    @property
    def faults(self) -> tuple[int, int, int, int]:
        """Of two starts the one with the lesser faults is the better, the first ones first."""
        return self.narrow_rows, self.short_pieces, self.slivers, self.arms


@dataclass(frozen=True)
class Layout:
    """Rows and pieces over an outline.

    Attributes:
        board: The board they are laid with.
        field: The outline with its allowances: the regions that boards are to cover, in the plane.
        frame: Placement of the row frame (x along the boards, y across) in the plane.
        rows: From the starting side.
        pieces: Row by row, along each row.
        findings: What a fitter must know.
        joints: Row by row, along each row.
        starts: Where the best start was looked for, it and the runners-up.
    """

    board: Board
    field: Region
    frame: Placement
    rows: tuple[Row, ...]
    pieces: tuple[Piece, ...]
    findings: tuple[Finding, ...] = ()
    joints: tuple[Joint, ...] = ()
    starts: tuple[Start, ...] = ()
