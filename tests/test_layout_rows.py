"""Rows and pieces: laws on random outlines, boards and directions, and small floors by hand."""

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.errors import LayoutError
from shapecut.layout.layout import Board, Layout
from shapecut.layout.piece_labels import piece_letters
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules, RowStart, StartSide, direction_along
from shapecut.shape.clip import ON_BORDER_MM, strip
from shapecut.shape.curves import Arc, Line
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.shape.placement import Point
from shapecut.shape.polygons import region_polygon
from shapecut.shape.region import Region, Side
from shapecut.shape.validity import ring_loop
from tests.strategies import boards, outlines, turns

BOARD = Board(width_mm=140.0, thickness_mm=28.0, gap_mm=5.0)


def field_of(outline: Outline) -> Region:
    return Region(ring_loop(outline.outer), tuple(ring_loop(hole) for hole in outline.holes))


def straight(*points: Point) -> Region:
    ends = [*points[1:], points[0]]
    return Region(
        tuple(Side(Line(a, b), f"E{n}") for n, (a, b) in enumerate(zip(points, ends), 1))  # noqa: B905
    )


def rectangle(width: float, height: float) -> Region:
    return straight((0, 0), (width, 0), (width, height), (0, height))


layouts = st.builds(
    lambda outline, board, direction, side, offset: lay_rows(
        field_of(outline),
        board,
        LayoutRules(direction_rad=direction, start_side=side, offset_mm=offset),
    ),
    outlines(),
    boards(),
    turns,
    st.sampled_from(StartSide),
    st.one_of(st.just(0.0), st.floats(-200, 200)),
)


def in_rows(layout: Layout) -> Region:
    return layout.field.placed(layout.frame.inverse())


@settings(max_examples=100, deadline=None)
@given(layout=layouts)
def test_pieces_and_gaps_add_up_to_the_field(layout: Layout) -> None:
    field = in_rows(layout)
    _, low, _, high = bounds(side.curve for side in field.outer)
    strips = sorted(row.across_mm for row in layout.rows)
    borders = [low - 1, *(edge for across in strips for edge in across), high + 1]
    gaps = [
        part.area
        for bottom, top in zip(borders[::2], borders[1::2], strict=True)
        if top - bottom > ON_BORDER_MM
        for part in strip(field, bottom, top)
    ]
    pieces = sum(piece.region.area for piece in layout.pieces)
    perimeter = sum(side.curve.length for loop in field.loops for side in loop)
    slack = ON_BORDER_MM * perimeter
    assert pieces + sum(gaps) == pytest.approx(field.area, rel=1e-9, abs=slack)


@settings(max_examples=100, deadline=None)
@given(layout=layouts)
def test_a_row_is_its_pieces_and_its_offcuts(layout: Layout) -> None:
    width = layout.board.width_mm
    for piece in layout.pieces:
        left, low, right, high = bounds(side.curve for side in piece.region.outer)
        assert left == pytest.approx(0, abs=1e-9)
        assert right == pytest.approx(piece.length_mm, abs=1e-9)
        assert low >= -1e-9
        assert high <= width + 1e-9
        blank = shapely.box(0, 0, piece.length_mm, width)
        shape = region_polygon(piece.region, tolerance_mm=0.05)
        offcuts = blank - shape
        assert offcuts.area + piece.region.area == pytest.approx(
            blank.area, rel=1e-6, abs=0.05 * shape.length
        )


@settings(max_examples=60, deadline=None)
@given(layout=layouts)
def test_pieces_never_overlap_and_keep_the_gap(layout: Layout) -> None:
    tolerance_mm = 0.01
    shapes = [
        region_polygon(piece.region.placed(piece.placement), tolerance_mm=tolerance_mm)
        for piece in layout.pieces
    ]
    covered = shapely.union_all(shapes, grid_size=1e-6)
    assert covered.area == pytest.approx(sum(shape.area for shape in shapes), rel=1e-6)
    tree = shapely.STRtree(shapes)
    near = tree.query(shapes, predicate="dwithin", distance=layout.board.gap_mm - 2 * tolerance_mm)
    rows = [piece.row for piece in layout.pieces]
    if layout.board.gap_mm:
        assert all(rows[a] == rows[b] for a, b in near.T)


@settings(max_examples=60, deadline=None)
@given(layout=layouts)
def test_nothing_but_gaps_is_bare(layout: Layout) -> None:
    """Pieces grown by half a gap leave bare only what no board can face across the gap.

    That is: strips at the field's rim that lie wholly in a gap, and tips of the rim in a gap that
    the board on their own side of its middle does not reach.
    """
    tolerance_mm = 0.01
    field = region_polygon(in_rows(layout), tolerance_mm=tolerance_mm)
    to_rows = layout.frame.inverse()
    grown = [
        _grown_across(
            region_polygon(p.region.placed(p.placement).placed(to_rows), tolerance_mm=tolerance_mm),
            layout.board.gap_mm / 2 + tolerance_mm,
        )
        for p in layout.pieces
    ]
    bare = (field - shapely.union_all(grown, grid_size=1e-6)).buffer(-2 * tolerance_mm)
    boards_of_rows = shapely.union_all(
        [shapely.box(-2e4, row.across_mm[0], 2e4, row.across_mm[1]) for row in layout.rows]
    )
    assert bare.intersection(boards_of_rows).area <= 1e-6 * field.area
    # Whatever is bare reaches the rim: it is no strip between two boards.
    for part in getattr(bare, "geoms", [bare] if bare.area else []):
        assert part.distance(field.boundary) <= 4 * tolerance_mm


def _grown_across(shape: shapely.Polygon, by: float) -> shapely.Geometry:
    """A shape swept across the boards (y) by so much to both sides."""
    x, y = shapely.get_coordinates(shape.exterior).T
    sides = [
        shapely.MultiPoint([(x0, y0 - by), (x0, y0 + by), (x1, y1 - by), (x1, y1 + by)]).convex_hull
        for x0, y0, x1, y1 in zip(x, y, x[1:], y[1:], strict=False)
    ]
    return shapely.union_all([shape, *sides])


@settings(max_examples=60, deadline=None)
@given(layout=layouts)
def test_pieces_come_in_order_with_labels_of_their_own(layout: Layout) -> None:
    labels = [piece.label for piece in layout.pieces]
    assert len(set(labels)) == len(labels)
    assert [row.number for row in layout.rows] == list(range(1, len(layout.rows) + 1))
    for row in layout.rows:
        mine = [piece for piece in layout.pieces if piece.row == row.number]
        assert [piece.label for piece in mine] == [
            f"{row.number}{piece_letters(place)}" for place in range(len(mine))
        ]
        along = [layout.frame.to_local(piece.placement.origin)[0] for piece in mine]
        assert along == sorted(along)


@settings(max_examples=60, deadline=None)
@given(layout=layouts)
def test_sides_along_the_outline_follow_it(layout: Layout) -> None:
    whole = {side.source: side.curve for loop in layout.field.loops for side in loop}
    for piece in layout.pieces:
        for side in (side for loop in piece.region.loops for side in loop):
            curve = side.curve.placed(piece.placement)
            if side.source is None:
                # The board's own edge.
                assert not isinstance(curve, Arc)
                heights = side.curve.start[1], side.curve.end[1]
                assert heights in [
                    pytest.approx((edge, edge), abs=1e-6) for edge in (0, layout.board.width_mm)
                ]
            elif isinstance(curve, Arc):
                source = whole[side.source]
                assert isinstance(source, Arc)
                assert curve.centre == pytest.approx(source.centre, abs=1e-6)
                assert curve.radius == pytest.approx(source.radius, abs=2e-6)
            else:
                assert isinstance(whole[side.source], Line)


class TestByHand:
    def test_three_boards_and_a_rip(self) -> None:
        # 500 mm: 140 + 5 + 140 + 5 + 140 + 5 leaves a rip of 65.
        layout = lay_rows(rectangle(1000, 500), BOARD, LayoutRules())
        assert [piece.label for piece in layout.pieces] == ["1a", "2a", "3a", "4a"]
        assert [piece.region.area for piece in layout.pieces] == pytest.approx(
            [140_000, 140_000, 140_000, 65_000]
        )
        assert layout.rows[3].across_mm == (435, 575)
        assert layout.pieces[3].length_mm == 1000
        assert layout.pieces[3].placement.origin == (0, 435)

    def test_rows_from_the_high_side(self) -> None:
        layout = lay_rows(rectangle(1000, 500), BOARD, LayoutRules(start_side=StartSide.HIGH))
        assert layout.rows[0].across_mm == (360, 500)
        assert layout.rows[3].across_mm == (-75, 65)
        assert layout.pieces[3].region.area == pytest.approx(65_000)

    def test_the_first_full_board_lies_along_the_named_edge(self) -> None:
        #   _______
        #  |       |   E3 is the step's tread at y = 90; a full board starts there and
        #  |   E3__|   the row before it is ripped to 85
        #  |__|
        step = straight((0, 0), (300, 0), (300, 90), (1000, 90), (1000, 600), (0, 600))
        layout = lay_rows(step, BOARD, LayoutRules(start_edge="E3"))
        assert [row.across_mm for row in layout.rows][:2] == [(-55, 85), (90, 230)]
        assert layout.pieces[0].region.area == pytest.approx(300 * 85)
        assert layout.pieces[1].region.area == pytest.approx(1000 * 140)

    def test_an_edge_on_the_far_side_counts_rows_from_there(self) -> None:
        layout = lay_rows(rectangle(1000, 500), BOARD, LayoutRules(start_edge="E3"))
        assert layout.rows[0].across_mm == (360, 500)

    def test_boards_along_an_edge_have_the_field_on_their_left(self) -> None:
        outline = Outline(
            Ring(
                tuple(
                    Edge(f"E{n}", Line(a, b))
                    for n, (a, b) in enumerate(
                        [
                            ((0, 0), (1000, 0)),
                            ((1000, 0), (1000, 500)),
                            ((1000, 500), (0, 500)),
                            ((0, 500), (0, 0)),
                        ],
                        1,
                    )
                )
            )
        )
        direction = direction_along(outline, "E2")
        assert direction == pytest.approx(math.pi / 2)
        layout = lay_rows(
            field_of(outline), BOARD, LayoutRules(direction_rad=direction, start_edge="E2")
        )
        assert len(layout.rows) == 7
        assert layout.pieces[0].placement.to_plane((0, 0)) == pytest.approx((1000, 0))
        assert layout.pieces[0].placement.to_plane((0, 140)) == pytest.approx((860, 0))

    def test_a_post_breaks_a_row(self) -> None:
        post = (
            Side(Line((480, 215), (480, 275)), "P1"),
            Side(Line((480, 275), (520, 275)), "P2"),
            Side(Line((520, 275), (520, 215)), "P3"),
            Side(Line((520, 215), (480, 215)), "P4"),
        )
        board = Board(50.0, 28.0, 5.0)
        layout = lay_rows(Region(rectangle(1000, 500).outer, (post,)), board, LayoutRules())
        row = [piece for piece in layout.pieces if piece.row == 5]
        assert [(piece.label, piece.length_mm) for piece in row] == [("5a", 480), ("5b", 480)]
        assert row[1].placement.origin == (520, 220)

    def test_letters_go_on_after_z(self) -> None:
        assert [piece_letters(n) for n in (0, 25, 26, 51, 52, 701, 702)] == [
            "a", "z", "aa", "az", "ba", "zz", "aaa",
        ]  # fmt: skip


class TestFindings:
    rules = LayoutRules(smallest_rip_mm=70, smallest_length_mm=150)

    def test_a_narrow_last_row(self) -> None:
        (finding,) = lay_rows(rectangle(1000, 500), BOARD, self.rules).findings
        assert finding.where == "row 4"
        assert "65.0 mm" in finding.what
        assert "70.0 mm" in finding.what
        assert finding.todo

    def test_a_short_piece(self) -> None:
        step = straight((0, 0), (100, 0), (100, 145), (1000, 145), (1000, 430), (0, 430))
        (finding,) = lay_rows(step, BOARD, self.rules).findings
        assert finding.where == "piece 1a"
        assert "100.0 mm long" in finding.what

    def test_a_narrow_piece_beside_a_wide_one(self) -> None:
        step = straight((0, 0), (500, 0), (500, 100), (600, 100), (600, 120), (1000, 120),
                        (1000, 430), (600, 430), (0, 430))  # fmt: skip
        tooth = straight((0, 0), (400, 0), (400, 150), (600, 150), (600, 100), (1000, 100),
                         (1000, 430), (0, 430))  # fmt: skip
        (finding,) = lay_rows(step, BOARD, self.rules).findings
        assert finding.where == "piece 1a"
        assert "From 500 mm to 1000 mm along it an arm is only 24.0 mm wide" in finding.what
        (finding,) = lay_rows(tooth, BOARD, self.rules).findings
        assert finding.where == "piece 1b"
        assert "40.0 mm wide" in finding.what

    def test_many_short_pieces_are_told_together(self) -> None:
        rules = LayoutRules(smallest_length_mm=150.0)
        (finding,) = lay_rows(rectangle(145, 140 + 6 * 145), BOARD, rules).findings
        assert "7 pieces (1a, 2a, 3a, 4a, 5a, 6a, 7a) are only 145.0 mm to" in finding.what
        found = lay_rows(rectangle(145, 140 + 2 * 145), BOARD, rules).findings
        assert [one.where for one in found] == ["piece 1a", "piece 2a", "piece 3a"]

    @pytest.mark.parametrize("start", RowStart)
    def test_a_field_narrower_than_a_board_is_one_ripped_row(self, start: RowStart) -> None:
        """A shelf 90 mm deep from a board of 140."""
        rules = LayoutRules(row_start=start, smallest_rip_mm=40.0)
        (piece,) = lay_rows(rectangle(1000, 90), BOARD, rules).pieces
        assert piece.region.area == pytest.approx(1000 * 90)

    def test_a_strip_left_bare_at_the_far_side(self) -> None:
        (finding,) = lay_rows(rectangle(1000, 289), BOARD, self.rules).findings
        assert finding.where == "the last row"
        assert "4.0 mm" in finding.what


class TestRefusals:
    field = rectangle(1000, 500)

    @pytest.mark.parametrize(
        ("board", "said"),
        [
            (Board(140, 28, 140), r"gap of 140\.0 mm .* 140\.0 mm wide"),
            (Board(140, 28, -1), r"gap of -1\.0 mm"),
            (Board(0, 28, 0), r"The board is 0\.0 mm wide"),
        ],
    )
    def test_boards(self, board: Board, said: str) -> None:
        with pytest.raises(LayoutError, match=said):
            lay_rows(self.field, board, LayoutRules())

    def test_a_field_narrower_than_the_smallest_rip(self) -> None:
        with pytest.raises(LayoutError, match=r"only 39\.0 mm across .* smallest rip of 40\.0 mm"):
            lay_rows(rectangle(1000, 39), BOARD, LayoutRules(smallest_rip_mm=40.0))

    def test_a_field_shorter_than_a_board_is_wide(self) -> None:
        with pytest.raises(LayoutError, match=r"only 100\.0 mm along the boards"):
            lay_rows(rectangle(100, 500), BOARD, LayoutRules())

    def test_a_starting_edge_that_does_not_exist(self) -> None:
        with pytest.raises(LayoutError, match=r'"E9".* there are E1, E2, E3, E4'):
            lay_rows(self.field, BOARD, LayoutRules(start_edge="E9"))

    def test_a_starting_edge_across_the_boards(self) -> None:
        with pytest.raises(LayoutError, match=r"E2: it is 90\.0° off"):
            lay_rows(self.field, BOARD, LayoutRules(start_edge="E2"))

    def test_a_direction_along_an_arc_or_nowhere(self) -> None:
        half = Outline(
            Ring(
                (
                    Edge("base", Line((-500, 0), (500, 0))),
                    Edge("bow", Arc((500, 0), (-500, 0), (0, 0), True)),
                )
            )
        )
        with pytest.raises(LayoutError, match=r"bow: it is an arc; .* \(base\)"):
            direction_along(half, "bow")
        with pytest.raises(LayoutError, match=r'"E1".* it has base, bow'):
            direction_along(half, "E1")
        with pytest.raises(LayoutError, match=r"bow: it is an arc"):
            lay_rows(field_of(half), BOARD, LayoutRules(start_edge="bow"))


def test_more_rows_than_anyone_lays_are_refused() -> None:
    board = Board(width_mm=0.01, thickness_mm=28.0, gap_mm=0.0)
    said = r"0\.01 mm wide would lie in about 500000 rows on a place 4000 mm by 5000 mm, and 2000"
    with pytest.raises(LayoutError, match=said):
        lay_rows(rectangle(4000, 5000), board, LayoutRules())


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_rules_that_are_no_numbers_are_refused(number: float) -> None:
    with pytest.raises(LayoutError, match=r"direction is .*, no angle"):
        LayoutRules(direction_rad=number)
    with pytest.raises(LayoutError, match=r"to start .* mm from its edge"):
        LayoutRules(offset_mm=number)
