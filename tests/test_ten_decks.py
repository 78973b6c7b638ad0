"""Ten small decks, each solved on paper, each through the job file that a person would write.

Every docstring holds the reckoning, so that it can be followed with a pencil.  Outlines are given
counter-clockwise from the lower left corner: E1 is the lower edge, E2 the right one, and so on.
"""

import json
import math
from decimal import Decimal

import pytest

from shapecut.findings import Level
from shapecut.job_folder import plan_into
from shapecut.layout.fasteners import Fixing

BARE = '[edges]\nothers = "covered"\n[allowances]\ncovered = "0 mm"\n'
"""Boards end where the frame does."""

YARD = '[stock]\nkerf = "3 mm"\nlengths = [{ length = "3.6 m", price = 21 }]\n'


@pytest.fixture
def deck(tmp_path):
    """Plan a job from its corners, mm, and the tables of its file."""

    def planned(corners, *tables):
        ends = [*corners[1:], corners[0]]
        edges = [
            {"name": f"E{n}", "kind": "line", "from": start, "to": end}
            for n, (start, end) in enumerate(zip(corners, ends, strict=True), start=1)
        ]
        outline = {"units": "mm", "rings": [{"kind": "outer", "edges": edges}]}
        (tmp_path / "outline.json").write_text(json.dumps(outline))
        template = '[template]\noutline = "outline.json"\n'
        (tmp_path / "job.toml").write_text(template + "\n".join(tables))
        return plan_into(tmp_path, tmp_path / "planned", replace=False)

    return planned


def rectangle(width, depth):
    return [(0, 0), (width, 0), (width, depth), (0, depth)]


def sizes(made):
    """Of each piece its length and its mean width, mm."""
    return {
        piece.label: (piece.length_mm, piece.region.area / piece.length_mm)
        for piece in made.plan.layout.pieces
    }


def test_1_a_floor_between_four_walls(deck):
    """3000 x 1000 mm, 10 mm kept from every wall: 2980 x 980 mm of boards.

    Boards of 140 mm with gaps of 5: six of them and their gaps take 6 x 145 = 870 mm, which leaves
    110 mm for the seventh, ripped.  Each is 2980 mm long and takes a board of 3.6 m: 7 x 21 = 147.
    """
    made = deck(
        rectangle(3000, 1000),
        '[edges]\nothers = "wall"\n[allowances]\nwall = "10 mm"\n',
        '[boards]\nwidth = "140 mm"\ngap = "5 mm"\n',
        YARD,
    )
    assert list(sizes(made)) == [f"{row}a" for row in range(1, 8)]
    for label, (length, width) in sizes(made).items():
        assert length == pytest.approx(2980)
        assert width == pytest.approx(110 if label == "7a" else 140)
    assert (len(made.plan.cut_plan.boards), made.plan.cut_plan.cost) == (7, Decimal(147))
    assert made.plan.cut_plan.proved


def test_2_four_edges_of_four_kinds(deck):
    """2400 x 1200 mm.  E1 overhangs by 25 mm, E2 stays in sight and is cut 2 mm outside the line,
    E3 is covered and cut 3 mm short, E4 is a wall and keeps 6 mm.

    Along: 2400 + 2 - 6 = 2396 mm.  Across: 1200 + 25 - 3 = 1222 mm.  Eight rows take 8 x 145 =
    1160 mm and leave 62 mm for the ninth.  The first row lies from 25 mm below the frame.
    """
    made = deck(
        rectangle(2400, 1200),
        '[edges]\nE1 = "overhang"\nE2 = "exposed"\nE3 = "covered"\nE4 = "wall"\n',
        '[allowances]\noverhang = "25 mm"\nexposed = "2 mm"\ncovered = "3 mm"\nwall = "6 mm"\n',
        '[boards]\nwidth = "140 mm"\ngap = "5 mm"\n',
        YARD,
    )
    found = sizes(made)
    assert len(found) == 9
    assert found["9a"] == pytest.approx((2396, 62))
    first = made.plan.layout.pieces[0]
    assert first.placement.to_plane((0, 0)) == pytest.approx((6, -25))


def test_3_rows_that_start_and_end_alike(deck):
    """2000 x 1200 mm between walls at E1 and E3, 8 mm from both: 1184 mm of boards 120 mm wide with
    gaps of 4.

    Ten rows of 124 mm less the last gap are 1236 mm; they are 52 mm too wide, 26 mm for either
    outer row: 94 mm, and eight whole rows between: 2 x 94 + 8 x 120 + 9 x 4 = 1184.
    """
    made = deck(
        rectangle(2000, 1200),
        '[edges]\nE1 = "wall"\nE3 = "wall"\nothers = "covered"\n',
        '[allowances]\nwall = "8 mm"\ncovered = "0 mm"\n',
        '[boards]\nwidth = "120 mm"\ngap = "4 mm"\nstart = "balanced"\n',
        YARD,
    )
    widths = [width for _, width in sizes(made).values()]
    assert widths == pytest.approx([94, *[120] * 8, 94])


def test_4_a_sliver_avoided_by_the_best_start(deck):
    """1000 x 450 mm: from E1 three rows take 435 mm and leave 15 mm, a sliver.

    Wherever else the rows start, two whole rows and three gaps take 295 mm and the outer two share
    155 mm.  Neither is to be narrower than 60 mm, so each is 60 to 95 mm, and half of 155, 77.5 mm,
    is furthest from both ends.
    """
    made = deck(
        rectangle(1000, 450),
        BARE,
        '[boards]\nwidth = "140 mm"\ngap = "5 mm"\nstart = "best"\nsmallest_rip = "60 mm"\n',
        YARD,
    )
    widths = [width for _, width in sizes(made).values()]
    assert widths == pytest.approx([77.5, 140, 140, 77.5], abs=0.1)
    best = made.plan.layout.starts[0]
    assert (best.narrow_rows, best.slivers, best.ripped_rows) == (0, 0, 2)


def test_5_going_on_from_an_old_deck(deck):
    """2000 x 1000 mm beside a house at E1, 10 mm kept from it.  The old deck's next row begins 65
    mm from the wall: before it is room for 65 - 10 = 55 mm, less the gap of 5: a row of 50 mm.

    From 65 mm on six rows of 145 mm take 870 mm and reach 935; the last is 1000 - 935 = 65 mm wide.
    """
    made = deck(
        rectangle(2000, 1000),
        '[edges]\nE1 = "wall"\nothers = "covered"\n',
        '[allowances]\nwall = "10 mm"\ncovered = "0 mm"\n',
        '[boards]\nwidth = "140 mm"\ngap = "5 mm"\nstart = "65 mm from E1"\n',
        YARD,
    )
    widths = [width for _, width in sizes(made).values()]
    assert widths == pytest.approx([50, *[140] * 6, 65])


def test_6_a_mitred_border_and_a_slanted_end(deck):
    """A place 3000 mm long at E1 and 1500 mm deep, whose end E2 leans inwards by 866.0 mm: tan 30°
    = 866.0 / 1500, so that the corner E1/E2 is 60° and E2/E3 120°.

    The border is mitred along the bisectors: its boards at E1/E2 are cut 90 - 60 / 2 = 60° off
    square, those at E2/E3 90 - 120 / 2 = 30°, at the square corners 45°.  Each board is as long
    outside as its edge: 3000, 1732.1, 2134.0 and 1500 mm.  Rows 145 mm behind E1 and E4 begin at
    x = 145; the first, from y = 145 to 285, ends at the line 145 mm behind E2, which is 145 / sin
    60° = 167.4 mm along the row from E2: at y = 145 that is 3000 - 145 tan 30° - 167.4 = 2748.9,
    hence 2603.9 mm.
    """
    lean = 1500 * math.tan(math.radians(30))
    made = deck(
        [(0, 0), (3000, 0), (3000 - lean, 1500), (0, 1500)],
        BARE,
        '[boards]\nwidth = "140 mm"\ngap = "5 mm"\nstart = "E1"\n',
        '[border]\nedges = ["E1", "E2", "E3", "E4"]\n',
        YARD,
    )
    found = sizes(made)
    lengths = [found[f"B{n}"][0] for n in (1, 2, 3, 4)]
    assert lengths == pytest.approx([3000, 1732.1, 2134.0, 1500], abs=0.05)
    mitres = {c.edges: math.degrees(c.mitre_rad) for c in made.plan.edging.corners}
    assert mitres[("E1", "E2")] == pytest.approx(60)
    assert mitres[("E2", "E3")] == pytest.approx(30)
    assert (mitres[("E3", "E4")], mitres[("E4", "E1")]) == pytest.approx((45, 45))
    assert found["1a"][0] == pytest.approx(2603.9, abs=0.05)


def test_7_rows_longer_than_any_board(deck):
    """5000 x 430 mm, three whole rows, boards of 3 m, joists 500 mm apart from E4 on.

    One joint a row is enough, over a joist from 2000 to 3000 mm: at 2000, 2500 or 3000.  At 2500 a
    row is parted evenly, which two of the three rows can have; the joint of the row between them
    lies at least 400 mm away, at 2000 or 3000.  A joint open by 4 mm takes 2 mm from both parts.
    """
    made = deck(
        rectangle(5000, 430),
        BARE,
        '[boards]\nwidth = "140 mm"\ngap = "5 mm"\n',
        '[joists]\nspacing = "500 mm"\nmeasured_from = "E4"\n',
        '[joints]\noffset = "400 mm"\ngap = "4 mm"\n',
        '[stock]\nlengths = [{ length = "3 m" }]\n',
    )
    places = [joint.place[0] for joint in made.plan.layout.joints]
    assert (places[0], places[2]) == pytest.approx((2500, 2500))
    assert places[1] in (pytest.approx(2000), pytest.approx(3000))
    found = sizes(made)
    for row, place in enumerate(places, start=1):
        parts = (found[f"{row}a"][0], found[f"{row}b"][0])
        assert parts == pytest.approx((place - 2, 5000 - place - 2))


def test_8_joists_too_far_apart(deck):
    """Boards 1 in thick (5/4x6 by PS 20: 139.7 x 25.4 mm) over joists 20 in apart.

    IRC Table R507.7 allows 16 in under boards square to the joists: serious, and the same boards
    over joists 16 in apart are not mentioned.  A board between the joists of 508 mm and 38 mm width
    spans 508 mm; past the last of them, at 5 x 508 = 2540 mm, the 2590 mm deck leaves a free end of
    2590 - 2540 - 19 = 31 mm, within the 50 mm allowed.
    """
    tables = (BARE, '[boards]\nsize = "5/4x6"\ngap = "1/8 in"\n')
    made = deck(
        rectangle(2590, 600),
        *tables,
        '[joists]\nspacing = "20 in"\nmeasured_from = "E4"\n',
        YARD + '[papers]\nunits = "in"\n',
    )
    serious = [f for f in made.plan.findings if f.level is Level.SERIOUS]
    assert [finding.where for finding in serious] == ["joists"]
    assert "They are up to 20 in apart" in serious[0].what
    assert "IRC Table R507.7 allows 16 in" in serious[0].what
    first = made.plan.supports.pieces[0]
    assert first.joists == (0, 1, 2, 3, 4, 5)
    assert first.span_mm == pytest.approx(508)
    assert first.free_ends_mm[1] == pytest.approx(31)
    assert made.plan.supports.blocks == ()


def test_9_a_grooved_deck_with_its_fascia(deck):
    """2400 x 1010 mm: seven whole rows (7 x 145 - 5), seven joists at 0, 400, ... 2400.

    Clips in six gaps over seven joists: 42, and 10 % are 46.2, so 47.  Seven starters along the
    first row and seven screws along the last: 7.7, so 8 of each.  The fascia hides a frame of 150
    mm and boards of 25 and hangs 5 mm lower: ripped to 180 mm; 20 mm thick and mitred at 45° it is
    2 x 20 mm longer outside than the frame: 2440 and 1050 mm.  Three lights along E1 have a third
    of it each and sit in its middle: at 400, 1200 and 2000 mm.  Light strip cut every 100 mm
    covers 2400 mm of E1 and 1000 of the 1010 mm of E2.
    """
    made = deck(
        rectangle(2400, 1010),
        BARE,
        '[boards]\nwidth = "140 mm"\nthickness = "25 mm"\ngap = "5 mm"\nedges = "grooved"\n',
        '[joists]\nspacing = "400 mm"\nmeasured_from = "E4"\n',
        "[fasteners]\nspare_percent = 10\n",
        '[fascia]\nframe_depth = "150 mm"\nreveal = "5 mm"\nthickness = "20 mm"\n'
        'lengths = [{ length = "3.6 m" }]\n',
        '[[points]]\nname = "light"\nedge = "E1"\ncount = 3\n',
        '[[strips]]\nname = "light strip"\nedges = ["E1", "E2"]\npitch = "100 mm"\n'
        'lengths = [{ length = "5 m" }]\n',
        YARD,
    )
    fittings = made.fittings
    assert fittings.fasteners.counts() == {Fixing.CLIP: 42, Fixing.STARTER: 7, Fixing.SCREW: 7}
    bought = {material.name: material.bought for material in fittings.materials}
    assert [bought[f"{kind}s"] for kind in Fixing] == [47, 8, 8]
    assert fittings.fascia.rules.width_mm == pytest.approx(180)
    assert [part.face_mm for part in fittings.fascia.parts] == pytest.approx([2440, 1050] * 2)
    (lights,) = fittings.rows
    assert [light.along_mm for light in lights.points] == pytest.approx([400, 1200, 2000])
    (strip,) = fittings.strips
    assert [piece.length_mm for piece in strip.pieces] == pytest.approx([2400, 1000])


def test_10_left_long_and_cut_from_the_cheapest_boards(deck):
    """1160 x 1010 mm, seven rows, left 30 mm long at E2: rough 1190 mm, of which the trim leaves
    1160.  The line runs along E2 itself, from corner to corner.

    With a kerf of 3 mm a board of 3.6 m gives three (3 x 1190 + 2 x 3 = 3576) and one of 4.8 m four
    (4 x 1190 + 3 x 3 = 4769).  Seven pieces: one of each for 21 + 29 = 50, three of the shorter
    ones 63, two of the longer ones 58.
    """
    made = deck(
        rectangle(1160, 1010),
        BARE,
        '[boards]\nwidth = "140 mm"\ngap = "5 mm"\n[left_long]\nE2 = "30 mm"\n',
        '[stock]\nkerf = "3 mm"\n'
        'lengths = [{ length = "3.6 m", price = 21 }, { length = "4.8 m", price = 29 }]\n',
    )
    (trim,) = made.plan.edging.trims
    assert len(trim.pieces) == 7
    for piece in trim.pieces:
        assert (piece.rough_mm, piece.left_mm) == pytest.approx((1190, 1160))
    assert [mark.place for mark in trim.marks] == [
        pytest.approx((1160, 0)), pytest.approx((1160, 1010)),
    ]  # fmt: skip
    cut_plan = made.plan.cut_plan
    assert (cut_plan.cost, cut_plan.bound, cut_plan.proved) == (Decimal(50), Decimal(50), True)
    assert sorted(len(board.cuts) for board in cut_plan.boards) == [3, 4]
