"""What holds for every layout: random outlines, allowances, borders, breakers, joists and joints.

Each example is laid with as much as there is room for: what is refused is left out, the border
first, and the rest laid again.
"""

import math
from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np
import pytest
import shapely
from hypothesis import given, reject, settings
from hypothesis import strategies as st

from shapecut.errors import LayoutError, ShapeError
from shapecut.layout.border_rules import BorderRules, Corners
from shapecut.layout.edging import BreakerPlace, EdgingRules, lay_edged
from shapecut.layout.joints import JointRules
from shapecut.layout.joists import JoistRules, Joists, joists_under
from shapecut.layout.layout import Layout
from shapecut.layout.rules import LayoutRules, RowStart
from shapecut.shape.allowance import with_allowances
from shapecut.shape.curves import Line
from shapecut.shape.outline import Outline, Treatment
from shapecut.shape.polygons import outline_polygon, region_polygon
from tests.strategies import boards, outlines, turns

LONGEST_MM = 3000.0
STAY_BACK_MM = 6.0
REACH = {
    Treatment.WALL: -STAY_BACK_MM,
    Treatment.COVERED: -1.0,
    Treatment.EXPOSED: 2.0,
    Treatment.OVERHANG: 25.0,
    Treatment.BUTT: -5.0,
}
ARC_MM = 0.01
"""Shapes are flattened to this; between arcs distances are only as exact."""


@dataclass(frozen=True)
class Laid:
    outline: Outline
    layout: Layout
    joists: Joists
    joints: JointRules
    edging: EdgingRules

    @property
    def widest_gap_mm(self) -> float:
        border = self.edging.border
        corner = border.corner_gap_mm if border else 0.0
        return max(self.layout.board.gap_mm, self.joints.gap_mm, corner)

    @property
    def shapes(self) -> list[shapely.Polygon]:
        return [
            region_polygon(piece.region.placed(piece.placement), tolerance_mm=ARC_MM)
            for piece in self.layout.pieces
        ]


@st.composite
def laid(draw: st.DrawFn) -> Laid:
    outline = draw(outlines(smallest_mm=900, largest_mm=5000))
    board = draw(boards(narrowest_mm=80, widest_mm=200))
    direction = draw(turns)
    rules = LayoutRules(
        direction_rad=direction,
        row_start=draw(st.sampled_from(RowStart)),
        smallest_rip_mm=30.0,
        smallest_length_mm=draw(st.sampled_from([0.0, 150.0])),
    )
    skew = draw(st.one_of(st.just(0.0), st.floats(-0.6, 0.6)))
    spacing = draw(st.floats(250, 500))
    joints = JointRules(LONGEST_MM, offset_mm=draw(st.floats(0, 400)), gap_mm=draw(st.floats(0, 6)))
    straight = [edge.name for edge in outline.edges if isinstance(edge.curve, Line)]
    chosen = draw(st.lists(st.sampled_from(straight), max_size=4, unique=True)) if straight else []
    border = None
    if chosen:
        border = BorderRules(tuple(chosen), corners=draw(st.sampled_from(Corners)))
    breakers = ()
    if straight and draw(st.booleans()):
        breakers = (BreakerPlace(draw(st.sampled_from(straight)), draw(st.floats(200, 2000))),)
    wanted = (border, breakers), (border, ()), (None, breakers), (None, ())
    for edging in (EdgingRules(*each) for each in wanted):
        try:
            place = with_allowances(outline, REACH)
            joists = joists_under(
                outline, JoistRules(direction + math.pi / 2 + skew, spacing_mm=spacing)
            )
            layout, _ = lay_edged(
                outline, place, board, rules, edging,
                longest_mm=LONGEST_MM, joists=joists, joints=joints,
            )  # fmt: skip
        except (LayoutError, ShapeError):
            continue
        return Laid(outline, layout, joists, joints, edging)
    return reject()


law = settings(max_examples=40, deadline=None)


@law
@given(made=laid())
def test_no_two_boards_overlap(made: Laid) -> None:
    shapes = made.shapes
    union = shapely.union_all(shapes, grid_size=1e-6)
    boundary = sum(shape.length for shape in shapes)
    assert sum(shape.area for shape in shapes) - union.area <= 1e-6 * boundary + 1.0


@law
@given(made=laid())
def test_gaps_are_as_stated(made: Laid) -> None:
    """Rows are a gap apart to 1e-6 mm and no piece leaves its row; other boards keep the gap."""
    layout = made.layout
    gap, width = layout.board.gap_mm, layout.board.width_mm
    strips = sorted(row.across_mm for row in layout.rows)
    for (low, high), (above, _) in pairwise(strips):
        assert high - low == pytest.approx(width, abs=1e-6)
        assert above - high == pytest.approx(gap, abs=1e-6)
    across = {row.number: row.across_mm for row in layout.rows}
    to_rows = layout.frame.inverse()
    for piece in layout.pieces:
        if piece.row:
            low, high = across[piece.row]
            for side in piece.region.outer:
                y = to_rows.to_plane(piece.placement.to_plane(side.curve.start))[1]
                assert low - 1e-6 <= y <= high + 1e-6
    shapes = made.shapes
    tree = shapely.STRtree(shapes)
    rows = [piece.row for piece in layout.pieces]
    within = max(0.0, min(gap, made.joints.gap_mm or gap) - 2 * ARC_MM)
    for a, b in tree.query(shapes, predicate="dwithin", distance=within).T if within else ():
        # Mitres without a gap touch; so do parts of one row that a hole or a joint divides.
        assert rows[a] == rows[b]


@law
@given(made=laid())
def test_every_point_is_board_gap_or_allowance(made: Laid) -> None:
    points = _points_in(made.outline, 400)
    place = region_polygon(made.layout.field, tolerance_mm=ARC_MM)
    covered = shapely.union_all(made.shapes, grid_size=1e-6)
    inside = shapely.contains_xy(place, points[:, 0], points[:, 1])
    rim = outline_polygon(made.outline, tolerance_mm=ARC_MM).boundary
    for point, is_inside in zip(shapely.points(points), inside, strict=True):
        if not is_inside:
            # What boards stay back from; past the end of a wall its gap goes on by its own width.
            assert point.distance(rim) <= STAY_BACK_MM * math.sqrt(2) + 2 * ARC_MM
        elif point.distance(covered) > made.widest_gap_mm + 2 * ARC_MM:
            assert _is_named_bare(made, point)


def _is_named_bare(made: Laid, point: shapely.Point) -> bool:
    """Whether a finding tells of the slot that a bare point lies in."""
    slots = [f for f in made.layout.findings if f.where.startswith("slot")]
    bare = shapely.difference(
        region_polygon(made.layout.field), shapely.union_all(made.shapes, grid_size=1e-6)
    )
    part = next(part for part in shapely.get_parts(bare) if part.distance(point) < 1e-3)
    return any(part.distance(shapely.Point(slot.place_mm)) < 1.0 for slot in slots)


def _points_in(outline: Outline, count: int) -> np.ndarray:
    shape = outline_polygon(outline)
    left, low, right, high = shape.bounds
    chance = np.random.default_rng(7)
    points = chance.uniform((left, low), (right, high), (count, 2))
    return points[shapely.contains_xy(shape, points[:, 0], points[:, 1])]


@law
@given(made=laid())
def test_pieces_reproduce_the_outline(made: Laid) -> None:
    """Where boards end at an edge they end on the field's own side, to 1e-6 mm; none passes it."""
    layout = made.layout
    sources = {side.source for loop in layout.field.loops for side in loop}
    rim = [side.curve for loop in layout.field.loops for side in loop]
    chords = shapely.MultiLineString([curve.flattened(1e-7 * curve.length) for curve in rim])
    place = region_polygon(layout.field, tolerance_mm=ARC_MM)
    for piece, shape in zip(layout.pieces, made.shapes, strict=True):
        assert shape.difference(place).area <= ARC_MM * shape.length
        for side in (side for loop in piece.region.loops for side in loop):
            if side.source in sources:
                curve = side.curve.placed(piece.placement)
                for part in (0.0, 0.5, 1.0):
                    assert chords.distance(shapely.Point(curve.at(part))) <= 1e-6 + 2e-7 * max(
                        one.length for one in rim
                    )


@law
@given(made=laid())
def test_labels_are_unique_and_pieces_are_no_longer_than_boards(made: Laid) -> None:
    labels = [piece.label for piece in made.layout.pieces]
    assert len(set(labels)) == len(labels)
    assert all(piece.length_mm <= LONGEST_MM + 1e-6 for piece in made.layout.pieces)


@law
@given(made=laid())
def test_joints_lie_over_joists_and_keep_their_stagger(made: Laid) -> None:
    layout = made.layout
    to_joists = made.joists.frame.inverse()
    along = {}
    for joint in layout.joints:
        line = made.joists.lines_mm[joint.joist]
        assert to_joists.to_plane(joint.place)[1] == pytest.approx(line, abs=1e-6)
        along.setdefault(joint.row, []).append(layout.frame.to_local(joint.place)[0])
    for row, places in along.items():
        for a, b in product(places, along.get(row + 1, [])):
            assert abs(a - b) >= made.joints.offset_mm - 1e-5
