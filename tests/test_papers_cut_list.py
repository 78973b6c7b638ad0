"""The cut list and the list of boards to buy."""

import csv
import io
from dataclasses import replace
from decimal import Decimal

import pytest
import shapely

from shapecut.layout.layout import Layout, Piece
from shapecut.papers.cut_list import buying_list_csv, cut_list_csv
from shapecut.papers.piece_facts import piece_facts
from shapecut.shape.curves import Line
from shapecut.shape.placement import Placement
from shapecut.shape.region import Region, Side
from tests import plan_by_hand


def read(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def polygon(*corners: tuple[float, float]) -> Piece:
    ends = zip(corners, (*corners[1:], corners[0]), strict=True)
    region = Region(tuple(Side(Line(start, end)) for start, end in ends))
    return Piece("1a", 1, region, Placement(), max(x for x, _ in corners))


def test_every_piece_has_a_line_with_its_board_and_marks():
    lines = read(cut_list_csv(plan_by_hand.layout(), plan_by_hand.cut_plan()))

    assert [line["piece"] for line in lines] == ["1a", "2a", "3a"]
    assert [line["board"] for line in lines] == ["1", "1", "2"]
    first = lines[0]
    assert float(first["length mm"]) == 900.0
    assert first["length in"] == "35 7/16 in"
    assert float(first["to on board mm"]) == 900.0
    assert first["reference end"] == "square"
    # atan(200 / 430) from the plan's drawing
    assert first["other end"] == "24.9° off square, lower edge longer"
    assert float(first["upper edge to mm"]) == pytest.approx(900 - 140 * 200 / 430, abs=0.05)
    assert first["openings"] == "1"
    assert lines[2]["cut along"] == "E2 E4 E6"


def test_the_file_is_what_a_spreadsheet_expects():
    data = cut_list_csv(plan_by_hand.layout(), plan_by_hand.cut_plan())

    assert data.startswith(b"\xef\xbb\xbf")
    assert data.endswith(b"\r\n")
    assert data.count(b"\n") == data.count(b"\r\n") == 4


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", '=HYPERLINK("x")'])
def test_a_name_that_looks_like_a_formula_is_not_run(name):
    """An edge may be called anything in an outline typed by hand."""
    layout = plan_by_hand.layout()
    piece = layout.pieces[1]
    outer = tuple(
        replace(side, source=name) if side.source == "E2" else side for side in piece.region.outer
    )
    renamed = replace(piece, region=Region(outer[:3]))
    odd: Layout = replace(layout, pieces=(renamed,))

    (line,) = read(cut_list_csv(odd, plan_by_hand.cut_plan()))

    assert line["cut along"] == f"'{name}"


def test_boards_to_buy_are_counted_by_length_with_prices():
    lines = read(buying_list_csv(plan_by_hand.cut_plan()))

    assert [(line["boards"], float(line["length mm"])) for line in lines] == [("2", 3600.0)]
    assert Decimal(lines[0]["price"]) == Decimal("63.00")


@pytest.mark.parametrize(
    ("price", "each", "together"),
    [("31.0", "31.00", "62.00"), ("19", "19.00", "38.00"), ("0.125", "0.125", "0.25")],
)
def test_money_has_two_digits_behind_the_point_or_more(price, each, together):
    plan = plan_by_hand.cut_plan()
    priced = tuple(
        replace(board, stock=replace(board.stock, price=Decimal(price))) for board in plan.boards
    )
    (line,) = read(buying_list_csv(replace(plan, boards=priced)))

    assert (line["price each"], line["price"]) == (each, together)


def test_no_price_leaves_its_cell_empty():
    plan = plan_by_hand.cut_plan()
    unpriced = tuple(
        replace(board, stock=replace(board.stock, price=None)) for board in plan.boards
    )
    (line,) = read(buying_list_csv(replace(plan, boards=unpriced, cost=None)))

    assert line["price"] == ""


@pytest.mark.parametrize(
    ("corners", "start", "end"),
    [
        (((0, 0), (900, 0), (900, 140), (0, 140)), "square", "square"),
        (
            ((0, 0), (900, 0), (760, 140), (140, 140)),
            "45.0° off square, lower edge longer",
            "45.0° off square, lower edge longer",
        ),
        (
            ((140, 0), (760, 0), (900, 140), (0, 140)),
            "45.0° off square, upper edge longer",
            "45.0° off square, upper edge longer",
        ),
        (
            ((0, 0), (900, 0), (900, 60), (700, 60), (700, 140), (0, 140)),
            "square",
            "shaped, see its corners",
        ),
        (
            ((0, 0), (900, 0), (900, 140), (500, 140), (500, 90), (400, 90), (400, 140), (0, 140)),
            "square",
            "square",
        ),
        (
            ((0, 0), (200, 0), (200, 30), (300, 30), (300, 0), (900, 0), (900, 80), (0, 80)),
            "square",
            "square",
        ),
        (((0, 0), (900, 0), (900.0002, 70), (900, 140), (0, 140)), "square", "square"),
        (
            ((0, 0), (900, 0), (829.9, 70), (760, 140), (0, 140)),
            "square",
            "45.0° off square, lower edge longer",
        ),
        (
            ((0, 0), (900, 0), (870, 70), (760, 140), (0, 140)),
            "square",
            "shaped, see its corners",
        ),
    ],
    ids=[
        "square",
        "long below",
        "long above",
        "stepped",
        "bitten",
        "ripped and bitten",
        "two edges in line",
        "two slanted edges in line but for less than a saw can tell",
        "two slanted edges",
    ],
)
def test_ends_are_told_in_words(corners, start, end):
    facts = piece_facts(polygon(*corners), 140.0)

    assert (str(facts.start), str(facts.end)) == (start, end)


def test_a_piece_sawn_all_round_has_no_straight_ends():
    """Off the board's edges but for one corner; its cuts to the right come back to their start."""
    hook = polygon(
        (340.23, 167.71), (172.84, 221.89), (147.68, 139.59), (50.14, 169.41), (75.79, 253.3),
        (55.09, 260.0), (0.0, 151.64), (288.71, 66.38),
    )  # fmt: skip
    facts = piece_facts(hook, 260.0)

    assert (facts.start.off_square_deg, facts.end.off_square_deg) == (None, None)


def test_a_ripped_piece_needs_less_width_and_leaves_the_upper_edge():
    facts = piece_facts(polygon((0, 0), (900, 0), (900, 80), (0, 80)), 140.0)

    assert facts.width_mm == 80.0
    assert facts.lower == (0.0, 900.0)
    assert facts.upper is None


def test_the_corners_alone_rebuild_a_piece_of_straight_cuts():
    straight = [
        piece
        for piece in plan_by_hand.layout().pieces
        if all(isinstance(side.curve, Line) for side in piece.region.outer)
    ]
    assert straight
    lines = {
        line["piece"]: line
        for line in read(cut_list_csv(plan_by_hand.layout(), plan_by_hand.cut_plan()))
    }
    for piece in straight:
        outer = lines[piece.label]["corners along / across mm"].split(" | ")[0]
        corners = [tuple(map(float, corner.split(" / "))) for corner in outer.split("; ")]
        rebuilt = shapely.Polygon(corners)
        true = shapely.Polygon([side.curve.start for side in piece.region.outer])
        assert rebuilt.hausdorff_distance(true) <= 0.05 * 2**0.5 + 1e-9
