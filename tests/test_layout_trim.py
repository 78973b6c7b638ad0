"""Fascia, drilling marks, evenly spaced points and strip goods: by hand and by closed formulas."""

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.errors import LayoutError
from shapecut.layout.drill_marks import Ends, ScrewPattern, evenly_spaced, pattern_marks
from shapecut.layout.fascia import FasciaRules, fascia_of
from shapecut.layout.joists_behind import joists_behind
from shapecut.layout.point_rows import PointRowRules, point_row
from shapecut.layout.strip_goods import StripRules, strip_runs
from shapecut.shape.curves import Arc, Line
from tests.test_layout_border import ELL, SQUARE, places
from tests.test_layout_supports import outline_of, square_joists


def fascia(outline, *edges, joists=None, **rules):
    stated = {"thickness_mm": 20.0, "width_mm": 190.0, "longest_mm": 5000.0, **rules}
    return fascia_of(outline, FasciaRules(edges, **stated), joists)


def bowed():
    edges = list(SQUARE.outer.edges)
    edges[1] = type(edges[1])("E2", Arc((2000, 0), (2000, 1500), (2000, 750), True))
    return type(SQUARE)(type(SQUARE.outer)(tuple(edges)))


class TestFascia:
    def test_round_a_square(self):
        """20 mm boards mitred at 45°: each face is 2 x 20 mm longer than its back."""
        made = fascia(SQUARE, "E1", "E2", "E3", "E4")
        assert [part.back_mm for part in made.parts] == pytest.approx([2000, 1500] * 2)
        assert [part.face_mm for part in made.parts] == pytest.approx([2040, 1540] * 2)
        assert [part.length_mm for part in made.parts] == pytest.approx([2040, 1540] * 2)
        for part in made.parts:
            assert [math.degrees(m) for m in part.mitres_rad] == pytest.approx([45, 45])

    def test_at_an_inside_corner_the_face_is_shorter(self):
        """E3 turns left by 90° at its start and right at its end: + 20 and - 20 mm; the board it is
        cut from is as long as its back and the point on the left."""
        made = fascia(ELL, "E2", "E3", "E4")
        part = made.parts[1]
        assert (part.back_mm, part.face_mm, part.length_mm) == pytest.approx((2000, 2000, 2020))
        assert [math.degrees(m) for m in part.mitres_rad] == pytest.approx([45, -45])

    def test_beside_an_edge_without_fascia_the_end_is_square(self):
        (part,) = fascia(SQUARE, "E1").parts
        assert (part.mitres_rad, part.face_mm) == ((0, 0), pytest.approx(2000))

    @settings(max_examples=50, deadline=None)
    @given(places(), st.floats(12, 45))
    def test_faces_close_round_every_corner(self, place, thickness):
        """The outline offset by the thickness has sides as long as the faces, and the mitre of a
        corner of φ is (180° - φ) / 2."""
        outline, _ = place
        names = [edge.name for edge in outline.edges]
        made = fascia(outline, *names, thickness_mm=thickness, longest_mm=1e5)
        for part, edge in zip(made.parts, outline.edges, strict=True):
            ring = outline.outer.edges
            at = ring.index(edge)
            ends = []
            for first, second in ((ring[at - 1], edge), (edge, ring[(at + 1) % len(ring)])):
                (ux, uy), (vx, vy) = first.curve.direction(), second.curve.direction()
                phi = math.pi - math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
                ends.append((math.pi - phi) / 2)
            assert part.mitres_rad == pytest.approx(ends)
            out = sum(thickness / math.tan((math.pi - 2 * m) / 2) for m in ends)
            assert part.face_mm == pytest.approx(edge.curve.length + out)

    def test_joined_evenly(self):
        """2040 mm face to face from 1500 mm boards: two of 1020 mm, point to joint."""
        made = fascia(SQUARE, "E1", "E2", "E4", longest_mm=1500)
        parts = [part for part in made.parts if part.edge == "E1"]
        assert [part.label for part in parts] == ["F1a", "F1b"]
        assert [part.length_mm for part in parts] == pytest.approx([1020, 1020])
        assert sum(part.back_mm for part in parts) == pytest.approx(2000)
        assert "joined 1000 mm" in made.findings[0].what

    def test_joined_away_from_an_edge(self):
        """Away from E2, on the right, the full 1500 mm; the joint lies 500 mm from the left."""
        right = fascia(SQUARE, "E1", longest_mm=1500, away_from="E2").parts
        assert [part.length_mm for part in right] == pytest.approx([500, 1500])
        left = fascia(SQUARE, "E1", longest_mm=1500, away_from="E4").parts
        assert [part.length_mm for part in left] == pytest.approx([1500, 500])

    def test_joined_over_a_joist_behind(self):
        """2040 mm from 1500 mm boards: joists at 100, 700, 1300 and 1900 mm along E1; the one at
        700 leaves 720 and 1320 mm, that at 1300 just 1320 and 720; either has one joint, as few as
        anywhere.  Away from E4 the joint lies as far along as a board reaches: 1300."""
        joists = square_joists(100, 700, 1300, 1900)
        made = fascia(SQUARE, "E1", "E2", "E4", longest_mm=1500, joists=joists)
        parts = [part for part in made.parts if part.edge == "E1"]
        assert [part.length_mm for part in parts] == pytest.approx([720, 1320])
        assert "700 mm (over joist J2)" in made.findings[0].what
        assert "Fix both ends at each joint to the joist" in made.findings[0].todo
        away = fascia(SQUARE, "E1", longest_mm=1500, away_from="E4", joists=joists)
        assert [part.length_mm for part in away.parts] == pytest.approx([1300, 700])

    def test_a_joint_more_is_not_made_for_a_joist(self):
        """From 1050 mm boards two parts of 1000 are enough, and the joist at 1100 is too far."""
        joists = square_joists(100, 900, 1100, 1900)
        made = fascia(SQUARE, "E1", longest_mm=1050, joists=joists)
        assert [part.length_mm for part in made.parts] == pytest.approx([1000, 1000])
        assert "Put a block behind" in made.findings[0].todo

    @settings(max_examples=40, deadline=None)
    @given(
        st.floats(1000, 2500), st.floats(0, 500), st.sampled_from([None, "E2", "E4"]),
        st.floats(300, 700),
    )  # fmt: skip
    def test_parts_make_up_the_run(self, longest, first, away, spacing):
        """As few boards as the length needs, none longer than the longest, joists or not."""
        joists = square_joists(*(first + k * spacing for k in range(8)))
        made = fascia(SQUARE, "E1", "E2", longest_mm=longest, away_from=away, joists=joists)
        parts = [part for part in made.parts if part.edge == "E1"]
        assert len(parts) == math.ceil(2020 / longest)
        assert all(part.length_mm <= longest + 1e-6 for part in parts)
        assert sum(part.back_mm for part in parts) == pytest.approx(2000)
        assert [part.from_mm for part in parts] == pytest.approx(
            [sum(part.back_mm for part in parts[:n]) for n in range(len(parts))]
        )

    def test_the_last_part_is_not_too_short(self):
        parts = fascia(SQUARE, "E1", longest_mm=1900, shortest_mm=300, away_from="E4").parts
        assert [part.length_mm for part in parts] == pytest.approx([1700, 300])

    def test_an_arc_is_refused_by_name(self):
        with pytest.raises(LayoutError, match=r"mitred at E2: it is an arc of radius 750 mm"):
            fascia(bowed(), "E1", "E2")
        with pytest.raises(LayoutError, match='"E9"'):
            fascia(SQUARE, "E9")


class TestHoles:
    def test_columns_at_a_spacing(self):
        """2 in a column 30 mm from the edges of 190 mm: at 30 and 160; columns from 50 to 1950 no
        more than 500 apart: 1900 / 4 = 475."""
        pattern = ScrewPattern(2, edge_mm=30, end_mm=50, spacing_mm=500)
        marks = pattern_marks("F1", 2000, 190, pattern)
        assert {mark.up_mm for mark in marks} == {30, 160}
        assert sorted({mark.along_mm for mark in marks}) == pytest.approx(
            [50, 525, 1000, 1475, 1950]
        )
        assert [mark.name for mark in marks[:3]] == ["F1-1a", "F1-1b", "F1-2a"]

    def test_columns_at_joists_count_from_the_left_end_of_the_face(self):
        """Joists at 100, 700, 1300, 1900 behind E1; the mitred face begins 20 mm further left."""
        joists = square_joists(100, 700, 1300, 1900)
        pattern = ScrewPattern(1, edge_mm=30, end_mm=50)
        made = fascia(SQUARE, "E1", "E4", joists=joists, screws=pattern)
        assert [mark.along_mm for mark in made.parts[0].marks] == pytest.approx(
            [120, 720, 1320, 1920]
        )
        assert {mark.up_mm for mark in made.parts[0].marks} == {95}
        # E4 runs along the joists: no joist ends behind it, and that is said.
        assert made.parts[1].marks == ()
        assert "No joist ends behind F2" in made.findings[-1].what

    def test_a_board_too_narrow_is_refused(self):
        with pytest.raises(LayoutError, match="F1, 2000 mm by 50 mm, is too small"):
            pattern_marks("F1", 2000, 50, ScrewPattern(2, 30, 50, 500))

    def test_joists_behind_a_slanted_edge(self):
        """Joists every 500 mm along x meet an edge at 45° every 500 √2 mm, 38 √2 mm wide."""
        found = joists_behind(square_joists(500, 1000, 1500), Line((0, 0), (2000, 2000)))
        assert [one.along_mm for one in found] == pytest.approx(
            [math.sqrt(2) * at for at in (500, 1000, 1500)]
        )
        assert found[0].half_mm == pytest.approx(19 * math.sqrt(2))


class TestEvenlySpaced:
    @given(
        st.floats(200, 9000), st.integers(1, 40), st.floats(0, 20), st.floats(0, 50),
        st.sampled_from(Ends),
    )  # fmt: skip
    def test_clear_distances_add_up(self, length, count, size, margin, ends):
        if length - 2 * margin < count * size:
            return
        places, clear = evenly_spaced(
            length, count=count, size_mm=size, margin_mm=margin, ends=ends
        )
        at_end = clear if ends is Ends.WHOLE else clear / 2
        assert len(places) == count
        assert places[0] - size / 2 - margin == pytest.approx(at_end, abs=1e-6)
        assert length - places[-1] - size / 2 - margin == pytest.approx(at_end, abs=1e-6)
        assert all(
            b - a - size == pytest.approx(clear, abs=1e-6) for a, b in pairwise(places)
        )  # fmt: skip

    @given(st.floats(300, 9000), st.floats(60, 300), st.floats(0, 60), st.sampled_from(Ends))
    def test_as_few_as_keep_the_distance(self, length, at_most, size, ends):
        places, clear = evenly_spaced(length, at_most_mm=at_most, size_mm=size, ends=ends)
        assert clear <= at_most + 1e-6
        if len(places) > 1:
            _, wider = evenly_spaced(length, count=len(places) - 1, size_mm=size, ends=ends)
            assert wider > at_most - 1e-6

    def test_no_room_and_neither_are_refused(self):
        with pytest.raises(LayoutError, match="5 points of 100 mm have no room on 400 mm"):
            evenly_spaced(400, count=5, size_mm=100)
        with pytest.raises(LayoutError, match="either their count or a greatest distance"):
            evenly_spaced(400)


class TestPointRows:
    def test_lights_along_an_edge(self):
        row = point_row(SQUARE, PointRowRules("light", edge="E1", count=4))
        assert [point.along_mm for point in row.points] == pytest.approx([250, 750, 1250, 1750])
        assert row.points[0].place == pytest.approx((250, 0))
        assert [point.name for point in row.points][:2] == ["light 1", "light 2"]

    def test_a_clash_says_how_far_to_move(self):
        """A light of 60 mm at 750 mm, 20 mm from the joist at 730: 19 + 30 + 5 = 54 are asked, so
        it moves 34 mm on to the right."""
        rules = PointRowRules("light", edge="E1", count=4, size_mm=60, clear_mm=5)
        row = point_row(SQUARE, rules, square_joists(100, 730, 1500))
        (clash,) = row.findings
        assert clash.where == "light 2"
        assert "20 mm from the centre line of joist J2" in clash.what
        assert clash.todo.startswith("Move it 34 mm to the right")

    def test_on_a_riser_and_along_an_arc(self):
        row = point_row(SQUARE, PointRowRules("riser", length_mm=900, count=3))
        assert [point.along_mm for point in row.points] == pytest.approx([150, 450, 750])
        assert row.points[0].place is None
        arc = point_row(bowed(), PointRowRules("light", edge="E2", count=1))
        assert arc.points[0].place == pytest.approx((2750, 750))

    def test_mistakes_name_the_row(self):
        with pytest.raises(LayoutError, match='light: the points are to lie along "E9"'):
            point_row(SQUARE, PointRowRules("light", edge="E9", count=1))
        with pytest.raises(LayoutError, match=r"^posts: 90 points"):
            point_row(SQUARE, PointRowRules("posts", edge="E1", count=90, size_mm=90))


class TestStripGoods:
    def test_cut_at_a_pitch(self):
        """1500 and 2000 mm at 62.5 mm: 24 x 62.5 = 1500 and 32 x 62.5 = 2000; at 300 mm: 1500 and
        1800, and 200 mm of E3 stay dark."""
        made = strip_runs(SQUARE, StripRules("light strip", ("E2", "E3"), 5000, 62.5))
        assert [piece.length_mm for piece in made.pieces] == pytest.approx([1500, 2000])
        made = strip_runs(SQUARE, StripRules("light strip", ("E2", "E3"), 5000, 300.0))
        assert [piece.length_mm for piece in made.pieces] == pytest.approx([1500, 1800])
        assert made.rests_mm == pytest.approx((0, 200))
        assert [corner.edges for corner in made.corners] == [("E2", "E3")]
        assert math.degrees(made.corners[0].turn_rad) == pytest.approx(90)

    def test_bent_round_corners_in_one_piece(self):
        """E4 and E1 are neighbours round the start of the ring: one run of 3500 mm from 2000 mm."""
        made = strip_runs(SQUARE, StripRules("edging", ("E1", "E4"), 2000, bends=True))
        assert [piece.length_mm for piece in made.pieces] == pytest.approx([2000, 1500])
        assert made.pieces[0].edges == ("E4", "E1")
        assert made.runs_mm == pytest.approx((3500,))

    def test_along_an_arc_by_its_length(self):
        made = strip_runs(bowed(), StripRules("edging", ("E2",), 5000))
        assert made.length_mm == pytest.approx(math.pi * 750)

    def test_a_run_that_stays_mostly_bare_is_named(self):
        made = strip_runs(SQUARE, StripRules("light strip", ("E2",), 5000, 1000.0))
        assert made.findings == ()
        made = strip_runs(
            outline_of((0, 0), (900, 0), (900, 900), (0, 900)),
            StripRules("light strip", ("E2",), 5000, 1000.0),
        )
        assert "takes only 0 mm" in made.findings[0].what

    @settings(max_examples=40, deadline=None)
    @given(places(), st.floats(20, 400), st.floats(500, 5000), st.booleans())
    def test_pieces_and_rests_make_up_the_runs(self, place, pitch, reel, bends):
        outline, edges = place
        made = strip_runs(outline, StripRules("strip", edges, reel, pitch, bends))
        total = sum(edge.curve.length for edge in outline.edges if edge.name in edges)
        assert sum(made.runs_mm) == pytest.approx(total)
        assert made.length_mm + sum(made.rests_mm) == pytest.approx(total)
        for piece in made.pieces:
            assert piece.length_mm <= reel + 1e-6
            assert piece.length_mm / pitch == pytest.approx(round(piece.length_mm / pitch))
        assert all(-1e-6 <= rest < pitch for rest in made.rests_mm)


def test_a_slip_of_the_unit_is_no_row_without_end():
    with pytest.raises(LayoutError, match="columns of screws in one row"):
        pattern_marks("F1", 3000.0, 145.0, ScrewPattern(2, 20.0, 25.0, 0.01))
    with pytest.raises(LayoutError, match="points in one row"):
        evenly_spaced(3000.0, at_most_mm=0.001)
