"""Clips, starters and face screws: small decks counted on paper, and laws on random joists."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.errors import LayoutError
from shapecut.layout.border_rules import BorderRules
from shapecut.layout.fasteners import FasteningRules, Fixing, fasteners_of, with_spare
from shapecut.layout.joints import JointRules
from shapecut.layout.layout import Board
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules, StartSide
from tests.test_layout_edging import DECK, laid
from tests.test_layout_rows import field_of
from tests.test_layout_supports import outline_of, square_joists

BOARD = Board(140.0, 28.0, 5.0)
TEN = square_joists(*(100.0 + 600 * k for k in range(10)))
"""Ten joists under the deck of 6000 x 1445 mm: ten rows exactly, no rip."""


def rows(outline, *, rules=None, **more):
    return lay_rows(field_of(outline), BOARD, rules or LayoutRules(), **more)


class TestByHand:
    def test_a_deck_of_whole_boards(self):
        """Ten rows over ten joists: nine gaps x 10 clips, 10 starters along row 1, and 10 screws
        along the outer edge of row 10."""
        found = fasteners_of(rows(DECK), TEN, FasteningRules())
        assert found.counts() == {Fixing.CLIP: 90, Fixing.STARTER: 10, Fixing.SCREW: 10}
        assert found.findings == ()

    def test_counted_from_the_other_side(self):
        start = LayoutRules(start_side=StartSide.HIGH)
        found = fasteners_of(rows(DECK, rules=start), TEN, FasteningRules())
        assert found.counts() == {Fixing.CLIP: 90, Fixing.STARTER: 10, Fixing.SCREW: 10}
        starters = [one for one in found.places if one.kind is Fixing.STARTER]
        assert {one.labels for one in starters} == {("1a",)}
        assert all(one.place[1] > 1440 for one in starters)

    def test_a_ripped_last_row(self):
        """60 mm are left of the last board: its outer groove is sawn off, as its edge is outer; it
        keeps its clips, and the screws go 20 mm from the sawn edge."""
        narrow = outline_of((0, 0), (6000, 0), (6000, 1365), (0, 1365))
        found = fasteners_of(rows(narrow), TEN, FasteningRules())
        assert found.counts() == {Fixing.CLIP: 90, Fixing.STARTER: 10, Fixing.SCREW: 10}
        screws = [one for one in found.places if one.kind is Fixing.SCREW]
        assert {round(one.place[1], 6) for one in screws} == {1365 - 20}

    def test_a_ripped_first_row(self):
        """Started 80 mm in, row 1 is ripped on its outer side: screws there instead of starters."""
        start = LayoutRules(offset_mm=80.0)
        found = fasteners_of(rows(DECK, rules=start), TEN, FasteningRules())
        screws = [one for one in found.places if one.kind is Fixing.SCREW]
        assert [one.labels for one in screws].count(("1a",)) == 10
        assert Fixing.STARTER not in found.counts()

    def test_two_ends_on_one_joist(self):
        """A row of 6000 mm joined once over a joist has two ends there: in the gaps to both
        neighbours two clips instead of one."""
        three = outline_of((0, 0), (6000, 0), (6000, 430), (0, 430))
        joints = JointRules(longest_mm=4000, offset_mm=500)
        layout = rows(three, joists=TEN, joints=joints)
        assert len(layout.joints) == 3
        found = fasteners_of(layout, TEN, FasteningRules())
        # Row 1 doubles in gap 1, row 2 in gaps 1 and 2, row 3 in gap 2; starters and screws too.
        assert found.counts() == {Fixing.CLIP: 20 + 4, Fixing.STARTER: 11, Fixing.SCREW: 11}

    def test_screws_at_a_joint_are_near_the_ends_and_said_to_be(self):
        """A joist 38 mm wide leaves each end 19 mm: its screw sits 9.5 mm from the end."""
        three = outline_of((0, 0), (6000, 0), (6000, 430), (0, 430))
        layout = rows(three, joists=TEN, joints=JointRules(longest_mm=4000, offset_mm=500))
        found = fasteners_of(layout, TEN, FasteningRules(hidden=False))
        assert found.counts() == {Fixing.SCREW: 3 * 11 * 2}
        (finding,) = found.findings
        assert "end of their piece: 12 (" in finding.what
        assert "the nearest 10 mm" in finding.what or "the nearest 9 mm" in finding.what

    def test_face_screws_keep_their_edge_distance(self):
        found = fasteners_of(rows(DECK), TEN, FasteningRules(hidden=False, screws=3, edge_mm=25))
        across = {round(one.place[1], 6) for one in found.places if one.labels == ("1a",)}
        assert across == {25, 70, 115}
        assert len(found.places) == 10 * 10 * 3

    def test_a_border_is_screwed(self):
        """E1 and E3 lie across the joists: 2 x 10 seats x 2 screws, less the inner one of each over
        the joist at 100 mm, which the mitre uncovers (at 120 mm in, the board begins at 120 mm).
        E2 and E4, 1445 mm along the joists, are screwed from 25 mm off both ends and no further
        apart than the joists: 1395 / 600 asks for 3 spaces, so 4 pairs, of which the mitres take
        the inner screws of the first and the last."""
        layout, _ = laid(DECK, border=BorderRules(("E1", "E2", "E3", "E4")))
        found = fasteners_of(layout, TEN, FasteningRules())
        border = [one for one in found.places if one.labels[0].startswith("B")]
        assert len([one for one in border if one.joist is not None]) == 2 * 10 * 2 - 2
        assert len([one for one in border if one.joist is None]) == 2 * (4 * 2 - 2)

    def test_spares_are_rounded_up(self):
        assert with_spare(90, 0.1) == 99
        assert with_spare(91, 0.1) == 101
        assert with_spare(1, 0.0) == 1

    def test_an_edge_distance_of_more_than_half_a_board_is_refused(self):
        with pytest.raises(LayoutError, match="80 mm from both edges of a board 140 mm wide"):
            fasteners_of(rows(DECK), TEN, FasteningRules(edge_mm=80))


class TestLaws:
    @settings(max_examples=40, deadline=None)
    @given(
        st.floats(900, 3000),
        st.floats(0, 139),
        st.lists(st.floats(200, 5800), min_size=1, max_size=6),
        st.booleans(),
    )
    def test_each_edge_of_each_seat_is_held_once(self, height, offset, lines, high):
        """On every joist: one fastener in each gap, and one at both outer edges."""
        lines = sorted({round(line, -2) for line in lines})
        deck = outline_of((0, 0), (6000, 0), (6000, height), (0, height))
        side = StartSide.HIGH if high else StartSide.LOW
        layout = rows(deck, rules=LayoutRules(offset_mm=offset, start_side=side))
        found = fasteners_of(layout, square_joists(*lines), FasteningRules())
        for joist in range(len(lines)):
            here = [one for one in found.places if one.joist == joist]
            clips = [one for one in here if one.kind is Fixing.CLIP]
            assert len(clips) == len(layout.rows) - 1
            assert all(len(one.labels) == 2 for one in clips)
            assert len(here) == len(layout.rows) + 1
            assert all(math.isclose(one.place[0], lines[joist], abs_tol=1e-6) for one in here)

    @settings(max_examples=30, deadline=None)
    @given(st.floats(-0.4, 0.4), st.integers(1, 4))
    def test_screws_keep_their_distances_on_slanted_decks(self, lean, count):
        deck = outline_of((0, 0), (5000, 0), (5000 + 1200 * lean, 1200), (0, 1200))
        rules = FasteningRules(hidden=False, screws=count, edge_mm=20, end_mm=30)
        layout = rows(deck)
        found = fasteners_of(layout, TEN, rules)
        near = [one for one in found.places if one.to_end_mm < 30 - 1e-6]
        assert bool(near) == bool(found.findings)
        pieces = {piece.label: piece for piece in layout.pieces}
        for one in found.places:
            y = pieces[one.labels[0]].placement.to_local(one.place)[1]
            assert 20 - 1e-6 <= y <= 120 + 1e-6
