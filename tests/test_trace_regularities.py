"""Edges said to be square, parallel or equal: offered when measured so, applied, refused."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.errors import TraceError
from shapecut.findings import Level
from shapecut.shape.curves import Arc, Line
from shapecut.shape.naming import named_outline
from shapecut.shape.validity import check_outline
from shapecut.trace.regularities import offered_regularities, with_regularities
from shapecut.trace.regularity import regularity_from_text
from shapecut.trace.traced import Traced
from tests.scenes import random_outline, round_hole, rounded


def traced(outer, *holes, u_mm=0.1):
    return Traced(
        named_outline([(c, u_mm) for c in outer], [[(c, u_mm) for c in hole] for hole in holes]),
        (),
        0.0,
    )


#      ____E2____
#     |          |        nearly a rectangle, out of square by 0.2 mm over 600 mm
#    E1          E3
#     |____E4____|
NEARLY = rounded([(0, 0), (900, 0), (900.2, 600), (0, 600)])


def by_name(traced):
    return {edge.name: edge.curve for edge in traced.outline.edges}


def angle_deg(first, second):
    (ax, ay), (bx, by) = first.direction(), second.direction()
    return math.degrees(math.remainder(math.atan2(ax * by - ay * bx, ax * bx + ay * by), math.pi))


def said(*texts):
    return [regularity_from_text(text) for text in texts]


def test_what_was_measured_square_and_parallel_is_offered_with_how_closely_it_is_known():
    (note,) = offered_regularities(traced(NEARLY))
    assert note.level is Level.NOTE
    assert "E1 square to E2 within 0.06°" in note.what
    assert 'regular = ["' in note.todo


def test_what_is_known_too_loosely_to_mean_anything_is_not_offered():
    small = rounded([(0, 0), (60, 0), (60, 40), (0, 40)])
    assert offered_regularities(traced(small, u_mm=0.6)) == ()


def test_what_was_measured_to_be_otherwise_is_not_offered():
    slanted = rounded([(0, 0), (900, 0), (915, 600), (0, 600)])
    (note,) = offered_regularities(traced(slanted))
    assert "E3 square" not in note.what


def test_applied_regularities_hold_exactly_and_are_shown_as_the_person_s():
    before = traced(NEARLY)
    after = with_regularities(before, said("E3 square to E4", "E1 as long as E3"))
    edges = by_name(after)
    assert abs(angle_deg(edges["E3"], edges["E4"])) == pytest.approx(90.0, abs=1e-7)
    assert edges["E1"].length == pytest.approx(edges["E3"].length, abs=1e-6)
    assert [entry.edges for entry in after.by_hand] == [("E3", "E4"), ("E1", "E3")]
    assert "by choice" in after.by_hand[0].what
    assert after.findings == before.findings
    for edge, old in zip(after.outline.edges, before.outline.edges, strict=True):
        assert math.dist(edge.curve.start, old.curve.start) < 0.25


def test_both_edges_of_a_right_angle_move_the_surer_one_less():
    outline = traced(NEARLY).outline
    sure = {"E4": 0.02}
    outer = [(edge.curve, sure.get(edge.name, 0.2)) for edge in outline.outer.edges]
    before = Traced(named_outline(outer, []), (), 0.0)
    after = with_regularities(before, said("E3 square to E4"))
    turned = {
        name: abs(angle_deg(by_name(before)[name], by_name(after)[name])) for name in ("E3", "E4")
    }
    # Angles have variances in the ratio of (u / length)²: 100 · (900 / 600)² = 225.
    assert turned["E3"] / turned["E4"] == pytest.approx(225, rel=0.02)


def test_what_the_measurement_contradicts_is_refused_with_numbers():
    slanted = traced(rounded([(0, 0), (900, 0), (903, 600), (0, 600)]))
    after = with_regularities(slanted, said("E3 square to E4"))
    assert after.outline == slanted.outline
    assert after.by_hand == ()
    (finding,) = after.findings
    assert finding.level is Level.CHECK
    assert "E3 square to E4" in finding.what
    assert "0.29°" in finding.what


def test_what_contradicts_only_what_was_applied_before_is_refused():
    before = traced(rounded([(0, 0), (900, 0), (900.3, 600), (-0.3, 600)]))
    texts = ("E1 square to E4", "E3 square to E4", "E1 parallel to E3")
    assert len(with_regularities(before, said(*texts)).by_hand) == 3
    wide = traced(rounded([(0, 0), (900, 0), (900.3, 600), (-0.3, 600.0)]), u_mm=0.05)
    after = with_regularities(wide, said("E1 parallel to E3"))
    assert after.by_hand == ()


def test_arcs_take_one_radius_and_centre_and_stay_tangent():
    outer = rounded([(0, 0), (900, 0), (900, 600), (0, 600)], {0: 80.0, 2: 80.5})
    after = with_regularities(traced(outer, u_mm=0.3), said("E1 same radius as E4"))
    arcs = [curve for curve in by_name(after).values() if isinstance(curve, Arc)]
    assert arcs[0].radius == pytest.approx(arcs[1].radius, abs=1e-6)
    edges = after.outline.outer.edges
    for one, other in zip(edges, edges[1:] + edges[:1], strict=True):
        if isinstance(one.curve, Arc) or isinstance(other.curve, Arc):
            ends = (one.curve.direction(1.0), other.curve.direction(0.0))
            assert math.dist(*ends) < 1e-4


def test_round_holes_move_whole():
    holes = [round_hole((200.0, 300.0), 40.0), round_hole((600.0, 300.0), 40.1)]
    after = with_regularities(traced(NEARLY, *holes), said("E5 same radius as E7"))
    check_outline(after.outline)
    radii = {edge.name: edge.curve.radius for ring in after.outline.holes for edge in ring.edges}
    assert max(radii.values()) - min(radii.values()) < 1e-6


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("E9 square to E4", "no edge E9"),
        ("E3 same radius as E4", "E3 is not an arc"),
    ],
)
def test_what_cannot_be_said_of_these_edges_is_named(text, sentence):
    with pytest.raises(TraceError, match=sentence):
        with_regularities(traced(NEARLY), said(text))


@pytest.mark.parametrize("text", ["E3 square E4", 5, "E3 round to E4"])
def test_what_is_no_regularity_is_refused(text):
    with pytest.raises(ValueError, match="two edges"):
        regularity_from_text(text)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_applying_what_is_offered_moves_nothing_beyond_its_uncertainty(seed):
    outline = random_outline(seed)
    before = traced(*([e.curve for e in ring.edges] for ring in outline.rings), u_mm=0.15)
    offers = offered_regularities(before)
    if not offers:
        return
    texts = offers[0].todo.split("[", 2)[2].rstrip("].").split('"')[1::2]
    after = with_regularities(before, said(*texts))
    check_outline(after.outline)
    # One that agrees by itself may contradict those applied before it.
    assert len(after.by_hand) + len(after.findings) == len(texts)
    assert after.by_hand
    for edge, old in zip(after.outline.edges, before.outline.edges, strict=True):
        assert math.dist(edge.curve.at(0.5), old.curve.at(0.5)) < 1.0
        if isinstance(edge.curve, Line):
            assert abs(angle_deg(edge.curve, old.curve)) < 0.5
