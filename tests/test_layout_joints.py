"""Joints: over joists, staggered, as few as can be; laws, brute force, and rows on paper."""

import math
import random
from itertools import chain, combinations, pairwise, product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shapecut.errors import LayoutError
from shapecut.layout.joints import JointPattern, JointRules
from shapecut.layout.joists import JoistRules, Joists, joists_under
from shapecut.layout.layout import Board
from shapecut.layout.row_joints import JointedRow, Stretch, lean_choices
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules
from shapecut.layout.stagger import staggered
from shapecut.shape.placement import Placement
from tests.joint_model import fewest_joints
from tests.strategies import boards, outlines, turns
from tests.test_layout_rows import BOARD, field_of, rectangle, straight

ACROSS = math.pi / 2


def square_joists(*along: float) -> Joists:
    return Joists(Placement(turn_rad=-ACROSS), along)


class TestByHand:
    joists = square_joists(*(20 + 400 * k for k in range(16)))

    def test_a_row_of_six_metres_from_boards_of_3_6(self):
        """Joists at 20, 420, ... 6020; the middle ones at 2820 and 3220 part 6040 mm evenly."""
        layout = lay_rows(
            rectangle(6040, 140), BOARD, LayoutRules(), joists=self.joists,
            joints=JointRules(3600, gap_mm=4),
        )  # fmt: skip
        (joint,) = layout.joints
        assert joint.place == pytest.approx((2820, 70))
        assert [(piece.label, piece.length_mm) for piece in layout.pieces] == [
            ("1a", pytest.approx(2818)), ("1b", pytest.approx(6040 - 2822)),
        ]  # fmt: skip
        assert layout.pieces[1].placement.origin == pytest.approx((2822, 0))

    def test_neighbouring_rows_keep_the_offset_and_come_back(self):
        """Possible joints are 2820 and 3220 (3600 mm boards): 600 apart needs 2820 and 3420+, so
        4000 mm boards, which reach 2420 to 3620, and rows take turns."""
        layout = lay_rows(
            rectangle(6040, 575), BOARD, LayoutRules(), joists=self.joists,
            joints=JointRules(4000, offset_mm=600),
        )  # fmt: skip
        along = [joint.place[0] for joint in layout.joints]
        assert len(along) == 4
        assert all(abs(a - b) >= 600 for a, b in pairwise(along))
        assert all(2040 <= place <= 4000 for place in along)
        assert [piece.label for piece in layout.pieces] == [
            "1a", "1b", "2a", "2b", "3a", "3b", "4a", "4b",
        ]  # fmt: skip

    def test_no_part_is_left_on_one_joist_where_more_are_at_hand(self):
        """Joists at 300, 700 and so on under 3900 mm, boards of 3650: a joint at 300 leaves a part
        of 300 mm on half of that joist alone; from 700 on the first part lies on two.  The last
        joist is at 3500, and a joint there would leave 400 mm on it alone."""
        joists = square_joists(*(300 + 400 * k for k in range(9)))
        for offset in (0, 400, 2400):
            layout = lay_rows(
                rectangle(3900, 285), BOARD, LayoutRules(), joists=joists,
                joints=JointRules(3650, offset_mm=offset),
            )  # fmt: skip
            assert len(layout.joints) == 2
            assert all(700 <= joint.place[0] <= 3100 for joint in layout.joints)

    def test_every_second_joist(self):
        layout = lay_rows(
            rectangle(6040, 575), BOARD, LayoutRules(), joists=self.joists,
            joints=JointRules(4200, offset_mm=300, pattern=JointPattern.EVERY_SECOND),
        )  # fmt: skip
        assert [joint.joist % 2 for joint in layout.joints] == [1, 0, 1, 0]

    def test_a_diagonal_joint_is_cut_along_its_joist(self):
        """Joists at 45°: both parts end on the joist's centre line, their blanks 140 mm longer."""
        joists = Joists(Placement(turn_rad=math.pi / 4), tuple(range(-3000, 1, 300)))
        layout = lay_rows(
            rectangle(3000, 140), BOARD, LayoutRules(), joists=joists, joints=JointRules(1800)
        )
        (joint,) = layout.joints
        x, y = joint.place
        line = joists.lines_mm[joint.joist]
        assert -x * math.sin(math.pi / 4) + y * math.cos(math.pi / 4) == pytest.approx(line)
        first, second = layout.pieces
        assert first.length_mm == pytest.approx(x + 70)
        assert second.length_mm == pytest.approx(3000 - x + 70)

    def test_a_short_row_stays_whole(self):
        layout = lay_rows(
            rectangle(3000, 140), BOARD, LayoutRules(), joists=self.joists, joints=JointRules(3600)
        )
        assert [piece.label for piece in layout.pieces] == ["1a"]
        assert layout.joints == ()

    @pytest.mark.parametrize(
        ("joists", "rules", "said"),
        [
            (None, JointRules(3600), "only be joined over joists, and there are none"),
            (square_joists(20, 3020), JointRules(2900), "Piece 1a, 6040 mm long, cannot be joined"),
            (
                square_joists(20, 3020, 6020), JointRules(3600),
                "joints of rows 1 and 2 cannot be 600 mm apart",
            ),
        ],
    )  # fmt: skip
    def test_what_cannot_be_joined_is_refused_by_name(self, joists, rules, said):
        with pytest.raises(LayoutError, match=said):
            lay_rows(rectangle(6040, 285), BOARD, LayoutRules(), joists=joists, joints=rules)

    def test_a_smallest_piece_longer_than_the_board_is_refused(self):
        with pytest.raises(LayoutError, match="at least 4000 mm long and at most 3600 mm"):
            JointRules(3600, shortest_mm=4000)

    def test_pieces_side_by_side_in_one_row_are_joined_each_for_itself(self):
        """A slot 20 mm wide, open to the left, lies in the row from 0 to 140 mm; right of it a
        second one cuts the upper strip off, which hangs on the row above.

            400  +---------------------------+-----+
            140  |  upper strip         |    |     |   6000..6200 is open from 60 to 200 mm
             80  +----------------------+    |     |
             60  +---------------------------+     |
           -200  +---------------------------------+
        """
        field = straight(
            (0, -200), (6400, -200), (6400, 400), (0, 400), (0, 80), (6000, 80), (6000, 200),
            (6200, 200), (6200, 60), (0, 60),
        )  # fmt: skip
        layout = lay_rows(
            field, BOARD, LayoutRules(offset_mm=55), joists=self.joists,
            joints=JointRules(3600, offset_mm=0),
        )  # fmt: skip
        mine = [piece for piece in layout.pieces if piece.row == 3]
        assert [piece.label for piece in mine] == ["3a", "3b", "3c", "3d"]
        area = 6400 * 60 + 200 * 80 + 6000 * 60
        assert sum(piece.region.area for piece in mine) == pytest.approx(area)
        assert all(piece.length_mm <= 3600 for piece in mine)


@settings(max_examples=60, deadline=None)
@given(
    outline=outlines(smallest_mm=1500, largest_mm=6000),
    board=boards(narrowest_mm=100),
    turn=turns,
    skew=st.one_of(st.just(0.0), st.floats(-0.7, 0.7)),
    spacing=st.floats(250, 500),
    offset=st.floats(0, 500),
    gap=st.floats(0, 6),
)
def test_joints_lie_on_joists_and_keep_their_stagger(
    outline, board, turn, skew, spacing, offset, gap
):
    rules = LayoutRules(direction_rad=turn)
    joists = joists_under(outline, JoistRules(turn + ACROSS + skew, spacing_mm=spacing))
    joints = JointRules(3000, offset_mm=offset, gap_mm=gap)
    whole = lay_rows(field_of(outline), board, rules)
    try:
        layout = lay_rows(field_of(outline), board, rules, joists=joists, joints=joints)
    except LayoutError:
        assume(False)
    labels = [piece.label for piece in layout.pieces]
    assert len(set(labels)) == len(labels)
    assert all(piece.length_mm <= 3000 + 1e-6 for piece in layout.pieces)
    to_joists = joists.frame.inverse()
    for joint in layout.joints:
        across = to_joists.to_plane(joint.place)[1]
        assert across == pytest.approx(joists.lines_mm[joint.joist], abs=1e-6)
    rows = {}
    for joint in layout.joints:
        rows.setdefault(joint.row, []).append(layout.frame.to_local(joint.place)[0])
    for row, along in rows.items():
        for a, b in product(along, rows.get(row + 1, [])):
            assert abs(a - b) >= offset - 1e-5
    # What the joints take away is their end gap over at most the board's width each.
    area = sum(piece.region.area for piece in layout.pieces)
    before = sum(piece.region.area for piece in whole.pieces)
    slant = 1 / math.cos(skew)
    most = len(layout.joints) * gap * board.width_mm * slant
    assert before - most - 1e-3 <= area <= before + 1e-3


@settings(max_examples=200, deadline=None)
@given(
    places=st.lists(st.integers(1, 99), min_size=1, max_size=8, unique=True).map(sorted),
    longest=st.integers(20, 80),
    shortest=st.integers(0, 20),
)
def test_lean_choices_are_all_that_can_do_without_none_of_their_joints(places, longest, shortest):
    def parts(choice):
        return [b - a for a, b in pairwise([0, *(places[index] for index in choice), 100])]

    def fits(choice):
        return all(shortest <= part <= longest for part in parts(choice))

    every = chain.from_iterable(combinations(range(len(places)), n) for n in range(len(places) + 1))
    lean = {
        choice
        for choice in every
        if fits(choice) and all(a + b > longest for a, b in pairwise(parts(choice)))
    }
    found = list(lean_choices(places, (0, 100), shortest=shortest, longest=longest))
    assert set(found) == lean
    assert len(found) == len(lean)
    assert [len(choice) for choice in found] == sorted(len(choice) for choice in found)


def tipping_of(rows, stagger):
    return sum(
        stretch.tipping_parts(choice)
        for row, way in zip(rows, stagger.taken, strict=True)
        for stretch, choice in zip(row.stretches, way, strict=True)
    )


@settings(max_examples=100, deadline=None)
@given(
    starts=st.lists(st.integers(0, 30), min_size=1, max_size=3),
    spacing=st.integers(15, 25),
    longest=st.integers(30, 70),
    offset=st.integers(0, 30),
)
def test_the_fewest_joints_by_brute_force(starts, spacing, longest, offset):
    """Rows of 120 with joists from different places on; every subset of joists is tried.

    A joint over the first joist or the last leaves a part on that one alone, which is worse than
    any number of joints.
    """
    rows = []
    every_way = []
    for start in starts:
        places = [place for place in range(start, 120, spacing) if place > 0]
        ends = frozenset({0}), frozenset({len(places) - 1})
        stretch = Stretch(tuple(range(len(places))), (0, 120), 5, longest, ends)
        rows.append(JointedRow(tuple(places), (stretch,)))
        assume(any(rows[-1].lean_choices(stretch)))
        subsets = chain.from_iterable(combinations(places, n) for n in range(len(places) + 1))
        every_way.append(
            [s for s in subsets if all(5 <= b - a <= longest for a, b in pairwise([0, *s, 120]))]
        )

    def apart(first, second):
        return all(abs(a - b) >= offset for a, b in product(first, second))

    def cost(row, way):
        tips = (way[0] == row.places[0]) + (way[-1] == row.places[-1]) if way else 0
        return len(way) + 1000 * tips

    # Row by row, the least cost at which each way can be reached.
    fewest = {way: cost(rows[0], way) for way in every_way[0]}
    for row, ways in zip(rows[1:], every_way[1:], strict=True):
        fewest = {
            way: cost(row, way)
            + min(count for before, count in fewest.items() if apart(before, way))
            for way in ways
            if any(apart(before, way) for before in fewest)
        }
    found = staggered(rows, offset=offset)
    if not fewest:
        assert isinstance(found, int)
        return
    assert found.proved
    assert 1000 * tipping_of(rows, found) + found.joints == min(fewest.values())
    in_place = [
        [row.places[index] for index in choice]
        for row, (choice,) in zip(rows, found.taken, strict=True)
    ]
    assert all(apart(a, b) for a, b in pairwise(in_place))


@pytest.mark.parametrize("seed", range(8))
def test_the_fewest_joints_as_another_solver_finds_them(seed):
    """Four rows of 4 to 7 m with joists 230 to 400 mm apart; OR-Tools CP-SAT finds the optimum."""
    chance = random.Random(seed)
    spacing, length = chance.choice([230, 300, 400]), chance.uniform(4000, 7000)
    rows = []
    for _ in range(4):
        first, end = chance.uniform(0, spacing), length + chance.uniform(-200, 200)
        places = tuple(first + step * spacing for step in range(int((end - first) / spacing) + 1))
        stretch = Stretch(tuple(range(len(places))), (0, end), 150, chance.choice([1300, 1800]))
        rows.append(JointedRow(places, (stretch,)))
    offset = chance.choice([250, 300, 450])
    expected = fewest_joints(rows, offset=offset, seconds=60)
    found = staggered(rows, offset=offset)
    if expected is None:
        assert isinstance(found, int)
    else:
        assert found.joints == expected


def test_rows_of_many_joints_are_joined_one_after_another():
    """5 m from boards of 1 m over joists 230 mm apart: thousands of ways a row.

    Four spans of 230 mm make 920, so that six joints are the fewest, and there is room for none of
    the same places within 300 mm in the next row but with one more.
    """
    joists = square_joists(*(20 + 230 * k for k in range(22)))
    layout = lay_rows(
        rectangle(5000, 20 * 145 - 5), BOARD, LayoutRules(), joists=joists,
        joints=JointRules(1000, shortest_mm=150, offset_mm=300),
    )  # fmt: skip
    rows = {}
    for joint in layout.joints:
        rows.setdefault(joint.row, []).append(joint.place[0])
    assert len(rows) == 20
    for row, along in rows.items():
        parts = [b - a for a, b in pairwise([0, *along, 5000])]
        assert all(150 <= part <= 1000 for part in parts)
        assert all(abs(a - b) >= 300 for a, b in product(along, rows.get(row + 1, [])))


def test_forty_rows_of_ten_metres_are_joined_with_the_fewest_joints():
    """60 m2 and more: boards of 4.8 m part 10 m in three, two joints a row."""
    joists = square_joists(*(19 + 400 * k for k in range(26)))
    layout = lay_rows(
        rectangle(10038, 40 * 145 - 5), Board(140, 28, 5), LayoutRules(), joists=joists,
        joints=JointRules(4800, shortest_mm=600, offset_mm=800),
    )  # fmt: skip
    assert len(layout.rows) == 40
    assert len(layout.joints) == 80
    assert not layout.findings
