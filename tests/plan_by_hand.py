"""A small plan put together by hand: three rows with a slanted end, a round bite and a hole.

In the row frame, mm (board 140, gap 5), the frame itself turned and shifted in the plane:

    430  +--------.      .--------+
         |  3a     `----'          \\
    290  +--------------------------+
    285  +---------------------------+
         |  2a                        \\
    145  +-----------------------------+
    140  +------------------------------+
         |  1a   ( )                     \\
      0  +--------------------------------+
         0                               900
"""

from decimal import Decimal

from shapecut.findings import Finding, Level
from shapecut.layout.layout import Board, Layout, Piece, Row
from shapecut.shape.curves import Arc, Line
from shapecut.shape.outline import Edge, Outline, Ring, Treatment
from shapecut.shape.placement import Placement
from shapecut.shape.region import Loop, Region, Side
from shapecut.stock.cutplan import Cut, CutBoard, CutPlan, Stock

BOARD = Board(width_mm=140.0, thickness_mm=25.0, gap_mm=5.0)
FRAME = Placement((100.0, 50.0), 0.12)
TOP, RIGHT_LOW, RIGHT_HIGH = 430.0, 900.0, 700.0
BITE, BITE_RADIUS = 420.0, 80.0
HOLE, HOLE_RADIUS = (300.0, 70.0), 40.0


def right_at(y: float) -> float:
    """Where the slanted right end stands at a height in the row frame."""
    return RIGHT_LOW + (RIGHT_HIGH - RIGHT_LOW) * y / TOP


def hole() -> Loop:
    """The round hole as two clockwise arcs."""
    (x, y), r = HOLE, HOLE_RADIUS
    left, right = (x - r, y), (x + r, y)
    return (
        Side(Arc(left, right, HOLE, ccw=False), "H1"),
        Side(Arc(right, left, HOLE, ccw=False), "H2"),
    )


def upper_sides(y: float) -> Loop:
    """The upper edge with its bite, from right to left at height y."""
    bite_right, bite_left = (BITE + BITE_RADIUS, y), (BITE - BITE_RADIUS, y)
    return (
        Side(Line((RIGHT_HIGH, y), bite_right), "E3"),
        Side(Arc(bite_right, bite_left, (BITE, y), ccw=False), "E4"),
        Side(Line(bite_left, (0.0, y)), "E5"),
    )


def piece(row: int, label: str) -> Piece:
    """The only piece of a row."""
    low = (row - 1) * (BOARD.width_mm + BOARD.gap_mm)
    width = BOARD.width_mm
    lower, upper = right_at(low), right_at(low + width)
    top: Loop = (Side(Line((upper, width), (0.0, width))),)
    region = Region(
        (
            Side(Line((0.0, 0.0), (lower, 0.0)), "E1" if row == 1 else None),
            Side(Line((lower, 0.0), (upper, width)), "E2"),
            *(upper_sides(width) if row == 3 else top),
            Side(Line((0.0, width), (0.0, 0.0)), "E6"),
        ),
        (hole(),) if row == 1 else (),
    )
    placement = Placement(FRAME.to_plane((0.0, low)), FRAME.turn_rad)
    return Piece(label, row, region, placement, length_mm=lower)


def field() -> Region:
    """The whole field in the plane."""
    outer: Loop = (
        Side(Line((0.0, 0.0), (RIGHT_LOW, 0.0)), "E1"),
        Side(Line((RIGHT_LOW, 0.0), (RIGHT_HIGH, TOP)), "E2"),
        *upper_sides(TOP),
        Side(Line((0.0, TOP), (0.0, 0.0)), "E6"),
    )
    return Region(outer, (hole(),)).placed(FRAME)


def layout() -> Layout:
    """The plan of the drawing above."""
    step = BOARD.width_mm + BOARD.gap_mm
    return Layout(
        board=BOARD,
        field=field(),
        frame=FRAME,
        rows=tuple(Row(n, ((n - 1) * step, (n - 1) * step + BOARD.width_mm)) for n in (1, 2, 3)),
        pieces=tuple(piece(n, f"{n}a") for n in (1, 2, 3)),
        findings=(Finding(Level.CHECK, "row 3", "The bite leaves 60 mm.", "Cut it last."),),
    )


def outline() -> Outline:
    """The outline that the field was laid in, with measured uncertainties."""
    region = field()
    u_mm = {"E1": 0.21, "E2": 0.35, "E3": 0.2, "E4": 0.4, "E5": 0.2, "E6": 0.18}
    treatments = {"E1": Treatment.WALL, "E2": Treatment.EXPOSED}
    rings = [
        Ring(
            tuple(
                Edge(
                    side.source or "",
                    side.curve,
                    u_mm.get(side.source or "", 0.25),
                    treatments.get(side.source or "", Treatment.COVERED),
                )
                for side in loop
            )
        )
        for loop in region.loops
    ]
    return Outline(rings[0], tuple(rings[1:]))


def cut_plan() -> CutPlan:
    """Two boards for the three pieces."""
    stock = Stock(3600.0, Decimal("31.50"))
    lengths = {item.label: item.length_mm for item in layout().pieces}
    first, second, third = lengths["1a"], lengths["2a"], lengths["3a"]
    start = first + 3.0
    return CutPlan(
        boards=(
            CutBoard(
                1,
                stock,
                (Cut("1a", 0.0, first), Cut("2a", start, start + second)),
                3600.0 - start - second - 3.0,
            ),
            CutBoard(2, stock, (Cut("3a", 0.0, third),), 3600.0 - third - 3.0),
        ),
        kerf_mm=3.0,
        cost=Decimal("63.00"),
        bound=Decimal("63.00"),
        proved=True,
    )
