"""Plans with borders from the job's tables: starts, directions, long boards, laws on all of it."""

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.errors import LayoutError
from shapecut.job.boards import Boards, JointTable, JoistTable
from shapecut.job.edges import Allowances, BorderTable, BreakerTable
from shapecut.job.stock import StockTable
from shapecut.shape.polygons import region_polygon
from shapecut.stages.carpentry import edging_rules
from shapecut.stages.planning import plan
from tests.test_layout_border import ELL, GRID_MM
from tests.test_layout_supports import outline_of

NONE = Allowances(wall="0 mm", exposed="0 mm", overhang="0 mm")
STOCK = StockTable(lengths=[{"length": "3.6 m"}, {"length": "4.8 m"}])
DECK = outline_of((0, 0), (4000, 0), (4000, 1735), (0, 1735))


def planned(outline=DECK, *, border=(), breakers=(), left_long=None, joists=None, **boards):
    table = BorderTable(edges=border) if border else None
    return plan(
        outline,
        Boards.model_validate({"width": "140 mm", "gap": "5 mm", **boards}),
        NONE,
        STOCK,
        joists=joists,
        edging=edging_rules(table, breakers, left_long or {}),
    )


def test_rows_start_behind_the_border():
    """1735 - 2 x 145 = 1445: ten rows exactly, from 145 mm behind E1."""
    made = planned(border=("E1", "E2", "E3", "E4"), start="E1")
    assert [row.across_mm for row in made.layout.rows] == [
        pytest.approx((145 + k * 145, 285 + k * 145)) for k in range(10)
    ]


def test_a_taped_start_counts_from_the_edge_itself():
    """The old deck's next board begins 200 mm from E1: 55 mm behind the border's gap."""
    made = planned(border=("E1",), start="200 mm from E1")
    assert made.layout.rows[1].across_mm == pytest.approx((200, 340))


def test_the_best_direction_is_found_with_a_border():
    made = planned(border=("E1", "E2", "E3", "E4"), direction="best", start="balanced")
    assert len(made.trials) == 2
    assert {piece.label for piece in made.layout.pieces if not piece.row} == {
        "B1", "B2", "B3", "B4",
    }  # fmt: skip


def test_border_boards_are_cut_from_the_same_stock():
    made = planned(border=("E1", "E3"))
    cut = {cut.label for board in made.cut_plan.boards for cut in board.cuts}
    assert cut == {piece.label for piece in made.layout.pieces}


def test_a_border_wider_than_the_place_is_answered_by_its_edges():
    with pytest.raises(LayoutError, match="wider than the place: along E1, E3 it takes 145"):
        planned(outline_of((0, 0), (4000, 0), (4000, 280), (0, 280)), border=("E1", "E3"))


@settings(max_examples=15, deadline=None)
@given(
    st.integers(5000, 9000), st.integers(1500, 3000), st.integers(300, 600), st.integers(0, 200),
    st.booleans(), st.integers(0, 3),
)  # fmt: skip
def test_joints_of_a_whole_plan_lie_over_joists(length, depth, spacing, first, divided, edges):
    """Rows and the border boards across the joists are joined over the middle of a joist; nothing
    overlaps and every label is unique."""
    joists = JoistTable(spacing=f"{spacing} mm", first=f"{first} mm", measured_from="E4")
    try:
        made = plan(
            outline_of((0, 0), (length, 0), (length, depth), (0, depth)),
            Boards(width="140 mm", thickness="28 mm", gap="5 mm", smallest_length="200 mm"),
            NONE,
            STOCK,
            joists=joists,
            joints=JointTable(offset="300 mm", gap="3 mm"),
            edging=edging_rules(
                BorderTable(edges=("E1", "E2", "E3", "E4")[: edges + 1]),
                (BreakerTable(measured_from="E4", at=f"{length / 2} mm"),) if divided else (),
                {},
            ),
        )
    except LayoutError as error:
        assert "cannot be" in str(error)  # noqa: PT017 - few joists can make joints impossible
        return
    pieces = made.layout.pieces
    labels = [piece.label for piece in pieces]
    assert len(set(labels)) == len(labels)
    shapes = [region_polygon(piece.region.placed(piece.placement)) for piece in pieces]
    union = shapely.union_all(shapes, grid_size=GRID_MM)
    assert union.area == pytest.approx(sum(shape.area for shape in shapes), rel=1e-6)
    lines = [first + k * spacing for k in range(int(length / spacing) + 1)]
    parts = [piece for piece in pieces if piece.label.startswith("B1") and piece.label != "B1"]
    for piece in parts[:-1]:
        end = piece.placement.origin[0] + piece.length_mm
        assert min(abs(end + 1.5 - line) for line in lines) < 1e-3


def test_the_inside_corner_of_an_l():
    made = planned(ELL, border=("E3", "E4"), left_long={"E6": 30.0})
    assert len(made.edging.corners) == 1
    assert made.edging.trims[0].edge == "E6"
