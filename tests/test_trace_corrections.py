"""A person's corrections: what they change, what they leave, and how they are shown."""

import math

import numpy as np
import pytest

from shapecut.errors import TraceError
from shapecut.findings import Level
from shapecut.shape.naming import named_outline
from shapecut.shape.validity import check_outline
from shapecut.trace.correction import KnownLength, MovedCorner, OneEdge, Shadow, TwoEdges
from shapecut.trace.corrections import corrected
from shapecut.trace.traced import BoundarySamples, Traced
from tests.scenes import rounded

SPACING_MM = 3.0


def traced(curves, *, u_mm=0.1, shifted=None):
    """An outline with samples along it; `shifted` gives a sample's true place instead."""
    places = [
        curve.at(float(f))
        for curve in curves
        for f in np.linspace(0.01, 0.99, max(4, round(curve.length / SPACING_MM)))
    ]
    mm = np.array([shifted(x, y) if shifted else (x, y) for x, y in places])
    samples = BoundarySamples(0, 0, mm * 2, mm, np.full(len(mm), 0.1))
    return Traced(named_outline([(curve, u_mm) for curve in curves], []), (samples,), 0.1)


#     ____E2____
#    |          |
#   E1          E3
#    |____E4____|
PLAIN = rounded([(0, 0), (900, 0), (900, 600), (0, 600)])

#     ________E2________
#    |                  |       a shadow's tooth in the lower side makes E4 to E8 of one edge
#   E1                  E3
#    |__E8___/E7|E6\\_E4_|
TOOTH = rounded([(0, 0), (300, 0), (330, 14), (380, 14), (410, 0), (900, 0), (900, 600), (0, 600)])


def curves(traced):
    return {edge.name: edge.curve for edge in traced.outline.edges}


def test_a_corner_moved_to_a_taped_place_moves_its_two_edges_only():
    after = corrected(traced(PLAIN), [MovedCorner("E3/E4", to=(901.0, -1.0))])
    edges = {edge.name: edge for edge in after.outline.edges}
    assert edges["E3"].curve.start == edges["E4"].curve.end == (901.0, -1.0)
    assert edges["E3"].curve.end == (900.0, 600.0)
    assert edges["E4"].curve.start == (0.0, 0.0)
    assert edges["E3"].u_mm is edges["E4"].u_mm is None
    assert edges["E1"].u_mm == 0.1
    (entry,) = after.by_hand
    assert set(entry.edges) == {"E3", "E4"}
    assert "(901.0, -1.0)" in entry.what
    assert after.findings == ()


def test_a_corner_moved_by_far_more_than_it_is_unsure_is_moved_and_questioned():
    after = corrected(traced(PLAIN), [MovedCorner("E4/E3", by=(25.0, 0.0))])
    assert curves(after)["E3"].start == (925.0, 0.0)
    (finding,) = after.findings
    assert finding.level is Level.SERIOUS
    assert "25.0 mm" in finding.what


def test_a_moved_corner_keeps_the_arc_beside_it_an_arc_through_it():
    outline = traced(rounded([(0, 0), (900, 0), (900, 600), (0, 600)], {2: 100.0}))
    after = corrected(outline, [MovedCorner("E3/E4", by=(0.0, 1.0))])
    arc = next(c for c in curves(after).values() if hasattr(c, "centre"))
    assert math.dist(arc.start, arc.centre) == pytest.approx(math.dist(arc.end, arc.centre))
    assert arc.radius == pytest.approx(100.0, abs=5.0)


def test_edges_that_are_one_follow_their_own_samples_past_what_lay_between():
    after = corrected(traced(TOOTH), [OneEdge(("E4", "E8"))])
    assert sorted(curves(after)) == ["E1", "E2", "E3", "E4"]
    check_outline(after.outline)
    lower = curves(after)["E4"]
    assert lower.start == pytest.approx((0.0, 0.0), abs=1e-6)
    assert lower.end == pytest.approx((900.0, 0.0), abs=1e-6)
    assert after.by_hand[0].edges == ("E4",)
    assert after.findings == ()


def test_edges_said_to_be_one_across_a_corner_are_questioned():
    bent = rounded([(0, 0), (450, -12), (900, 0), (900, 600), (0, 600)])
    after = corrected(traced(bent), [OneEdge(("E4", "E5"))])
    (finding,) = after.findings
    assert finding.level is Level.CHECK
    assert "E4 and E5" in finding.where


def test_samples_of_a_shadow_are_left_out():
    # The fitted lower side was drawn 0.4 mm off by what lies between 200 and 400 mm.
    seen = traced(rounded([(0, -0.4), (900, -0.4), (900, 600), (0, 600)]))
    mm = seen.samples[0].mm.copy()
    low = mm[:, 1] == -0.4
    mm[low, 1] = np.where((mm[low, 0] > 200) & (mm[low, 0] < 400), -3.0, 0.0)
    seen = Traced(seen.outline, (BoundarySamples(0, 0, mm, mm, np.full(len(mm), 0.1)),), 0.1)
    after = corrected(seen, [Shadow("E4", "E4/E1", (190.0, 410.0))])
    assert curves(after)["E4"].start == pytest.approx((0.0, 0.0), abs=1e-6)
    assert curves(after)["E4"].end == pytest.approx((900.0, 0.0), abs=1e-6)
    assert len(after.samples[0].mm) < len(mm)
    same = corrected(seen, [Shadow("E4", "E3/E4", (490.0, 710.0))])
    assert same.outline == after.outline


def test_an_edge_that_is_a_shadow_goes_and_its_neighbours_meet():
    cut_off = rounded([(0, 0), (885, 0), (900, 12), (900, 600), (0, 600)])
    after = corrected(traced(cut_off), [Shadow("E4")])
    assert sorted(curves(after)) == ["E1", "E2", "E3", "E5"]
    assert curves(after)["E3"].start == pytest.approx((900.0, 0.0))
    check_outline(after.outline)


def test_a_known_length_moves_all_edges_a_little():
    after = corrected(traced(PLAIN), [KnownLength(("E4",), 900.3, 1e-6)])
    edges = curves(after)
    assert edges["E4"].length == pytest.approx(900.3, abs=1e-6)
    assert edges["E4"].start[0] == pytest.approx(-0.15, abs=0.02)
    assert edges["E4"].end[0] == pytest.approx(900.15, abs=0.02)
    assert "900.0 mm was measured" in after.by_hand[0].what


def test_a_length_as_unsure_as_the_measurement_counts_half():
    # Each end of E4 is held by one edge's u = 0.2 mm at that end.
    sure = corrected(traced(PLAIN), [KnownLength(("E4/E1", "E3/E4"), 901.0, 0.01)])
    loose = corrected(traced(PLAIN), [KnownLength(("E4/E1", "E3/E4"), 901.0, 5.0)])
    assert curves(sure)["E4"].length == pytest.approx(901.0, abs=0.01)
    assert curves(loose)["E4"].length == pytest.approx(900.0, abs=0.01)


def test_a_length_that_the_photographs_contradict_is_questioned():
    after = corrected(traced(PLAIN), [KnownLength(("E4",), 940.0, 1.0)])
    (finding,) = after.findings
    assert finding.level is Level.SERIOUS
    assert "40.0 mm" in finding.what
    came_to = f"{curves(after)['E4'].length:.1f} mm"
    assert f"{came_to} came out" in finding.what
    assert f"together they give {came_to}" in after.by_hand[0].what


def test_a_placed_corner_stays_when_a_length_is_known_too():
    after = corrected(
        traced(PLAIN), [MovedCorner("E3/E4", to=(901.0, 0.0)), KnownLength(("E4",), 901.5, 1e-6)]
    )
    edges = curves(after)
    assert edges["E4"].end == pytest.approx((901.0, 0.0), abs=1e-6)
    assert edges["E4"].length == pytest.approx(901.5, abs=1e-5)


@pytest.mark.parametrize(
    ("corrections", "sentence"),
    [
        ([MovedCorner("E1/E3", by=(1, 0))], "E1/E3 is no corner"),
        ([MovedCorner("E3/E4", by=(1, 0)), MovedCorner("E4/E3", to=(0, 0))], "contradict"),
        ([MovedCorner("E3/E4", to=(0.0, 0.0))], "onto the next corner"),
        ([OneEdge(("E3", "E9"))], "no edge E9"),
        ([OneEdge(("E1", "E2", "E3", "E4"))], "no outline"),
        ([Shadow("E4", "E1/E2", (0, 10))], "E1/E2 is no end of E4"),
        ([Shadow("E4", "E3/E4", (0, 900))], "too few"),
        ([Shadow("E4", "E3/E4", (5000, 6000))], "only 900 mm long"),
        ([Shadow("E4")], "do not meet near by"),
        ([KnownLength(("E7",), 100, 1)], "no edge E7"),
        ([KnownLength(("E1/E2", "E2/E1"), 100, 1)], "from a corner to itself"),
        ([KnownLength(("E4",), 900, 1), KnownLength(("E4",), 920, 1)], "contradict"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(corrections, sentence):
    with pytest.raises(TraceError, match=sentence):
        corrected(traced(PLAIN), corrections)


def bent(x, y, *, by=4.0):
    """The lower side E4 of PLAIN turns at x = 400 and ends `by` lower on the right."""
    return (x, y - by * max(0.0, x - 400.0) / 500.0 if y < 1.0 else y)


class TestTwoEdges:
    def test_that_meet_where_the_photographs_show_it(self):
        """A bend of 80 mm in 500 at x = 400, said to be at about 430."""
        told = TwoEdges("E4", "E1/E4", 430.0)
        after = corrected(traced(PLAIN, shifted=lambda x, y: bent(x, y, by=80.0)), [told])
        parts = curves(after)
        assert parts["E4.2"].start == pytest.approx((0.0, 0.0), abs=1.5)
        assert parts["E4.2"].end == parts["E4.1"].start == pytest.approx((400.0, 0.0), abs=8.0)
        assert parts["E4.1"].end == parts["E3"].start == pytest.approx((900.0, -80.0), abs=1.5)
        check_outline(after.outline)
        (entry,) = after.by_hand
        assert entry.edges == ("E4.1", "E4.2")
        assert "430 mm from E1/E4" in entry.what

    def test_that_hardly_turn_meet_where_it_is_said(self):
        after = corrected(traced(PLAIN), [TwoEdges("E4", "E3/E4", 300.0)])
        parts = curves(after)
        assert parts["E4.1"].length == pytest.approx(300.0, abs=0.1)
        assert parts["E4.1"].start == parts["E4.2"].end == pytest.approx((600.0, 0.0), abs=1e-6)
        check_outline(after.outline)

    def test_what_was_said_of_the_edge_holds_of_both(self):
        after = corrected(
            traced(PLAIN), [TwoEdges("E4", "E3/E4", 300.0), MovedCorner("E3/E4", by=(0.0, -1.0))]
        )
        assert curves(after)["E3"].start == (900.0, -1.0)
        assert "E4.1" in {name for one in after.by_hand for name in one.edges}

    def test_of_an_arc_both_stay_arcs(self):
        arcs = rounded([(0, 0), (900, 0), (900, 600), (0, 600)], {2: 200.0})
        plain = traced(arcs)
        (arc,) = (edge for edge in plain.outline.edges if hasattr(edge.curve, "centre"))
        names = [edge.name for edge in plain.outline.outer.edges]
        before = names[names.index(arc.name) - 1]
        after = corrected(plain, [TwoEdges(arc.name, f"{arc.name}/{before}", 100.0)])
        parts = [curve for name, curve in curves(after).items() if name.startswith(f"{arc.name}.")]
        assert [part.radius for part in parts] == pytest.approx([200.0, 200.0], abs=0.5)
        assert curves(after)[f"{arc.name}.2"].length == pytest.approx(100.0, abs=0.5)
        check_outline(after.outline)

    @pytest.mark.parametrize(
        ("told", "says"),
        [
            (TwoEdges("E4", "E3/E4", 900.5), "beyond E4, which is 900 mm long"),
            (TwoEdges("E4", "E2/E3", 300.0), "E2/E3 is no end of E4"),
            (TwoEdges("E4", "E3/E4", 10.0), "too few to follow it"),
            (TwoEdges("E9", "E3/E4", 10.0), "no edge E9"),
        ],
    )
    def test_that_cannot_be_are_refused(self, told, says):
        with pytest.raises(TraceError, match=says):
            corrected(traced(PLAIN), [told])
