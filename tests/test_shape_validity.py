"""Outlines that are no shape are refused, each fault by name and place."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings

from shapecut.errors import ShapeError
from shapecut.shape.curves import Arc, Line
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.shape.placement import Point
from shapecut.shape.validity import check_outline, oriented
from tests.strategies import outlines


def ring(*points: Point, prefix: str = "E") -> Ring:
    ends = [*points[1:], points[0]]
    return Ring(
        tuple(
            Edge(f"{prefix}{n}", Line(a, b))
            for n, (a, b) in enumerate(zip(points, ends, strict=True), 1)
        )
    )


def round_hole(x: float, y: float, radius: float, prefix: str = "H") -> Ring:
    left, right = (x - radius, y), (x + radius, y)
    return Ring(
        (
            Edge(f"{prefix}1", Arc(right, left, (x, y), False)),
            Edge(f"{prefix}2", Arc(left, right, (x, y), False)),
        )
    )


SQUARE = ring((0, 0), (100, 0), (100, 100), (0, 100))


@settings(max_examples=100, deadline=None)
@given(outline=outlines())
def test_good_outlines_pass(outline: Outline) -> None:
    check_outline(outline)
    assert oriented(outline) == outline


@settings(max_examples=40, deadline=None)
@given(outline=outlines())
def test_rings_listed_the_wrong_way_are_turned(outline: Outline) -> None:
    def turned(ring: Ring) -> Ring:
        return Ring(tuple(replace(e, curve=e.curve.reversed()) for e in reversed(ring.edges)))

    wrong = Outline(turned(outline.outer), tuple(turned(hole) for hole in outline.holes))
    with pytest.raises(ShapeError, match="wrong way round"):
        check_outline(wrong)
    right = oriented(wrong)
    check_outline(right)
    assert right.area == pytest.approx(outline.area)
    assert {edge.name for edge in right.edges} == {edge.name for edge in outline.edges}


def test_hairline_gaps_are_closed() -> None:
    first, *others = SQUARE.edges
    gappy = Ring((replace(first, curve=Line((0.0004, 0), (99.9996, 0))), *others))
    closed = oriented(Outline(gappy))
    check_outline(closed)
    ends = [edge.curve.end for edge in closed.outer.edges]
    assert [edge.curve.start for edge in closed.outer.edges] == [ends[-1], *ends[:-1]]


def test_a_join_that_is_tangent_only_within_measurement_passes() -> None:
    # The line dips 0.02 degrees into the arc of radius 900: they cross again 0.6 mm on.
    dip = math.radians(0.02)
    start = (-300 * math.cos(dip), 300 * math.sin(dip))
    arc = Arc((0, 0), (900, 900), (0, 900), True)
    check_outline(
        Outline(
            Ring(
                (
                    Edge("E1", Line(start, (0, 0))),
                    Edge("E2", arc),
                    Edge("E3", Line((900, 900), (-300, 900))),
                    Edge("E4", Line((-300, 900), start)),
                )
            )
        )
    )


@pytest.mark.parametrize(
    ("outline", "said"),
    [
        (
            Outline(ring((0, 0), (100, 100), (100, 0), (0, 90))),
            r"E1 and E3 cross .*\(47\.4, 47\.4\)",
        ),
        (Outline(ring((0, 0), (100, 0), (50, 0), (50, 80))), r"E1 and E2 cross or touch"),
        (Outline(ring((0, 0), (100, 0), (50, 80), (50, 0))), r"E1 and E3 cross or touch"),
        (Outline(SQUARE, (round_hole(95, 50, 10),)), r"E2 and H1 cross .*\(100\.0, 41\.3\)"),
        (Outline(SQUARE, (round_hole(90, 50, 10),)), r"E2 and H1 cross or touch near \(100\.0, 50"),
        (Outline(SQUARE, (round_hole(150, 50, 10),)), r"hole of H1 .* outside the outer ring"),
        (
            Outline(SQUARE, (round_hole(50, 50, 30), round_hole(50, 50, 10, "K"))),
            r"hole of K1 .* inside the hole of H1",
        ),
        (Outline(SQUARE, (round_hole(50, 50, 10, "E"),)), r"Two edges are named E1"),
        (
            Outline(Ring((*SQUARE.edges[:3], Edge("E4", Line((0, 100), (0, 3)))))),
            r"open between E4 and E1: E4 ends at \(0\.0, 3\.0\).* 3\.000 mm away",
        ),
        (
            Outline(Ring((*SQUARE.edges[:3], Edge("E4", Line((0, 100), (0, 0))),
                          Edge("E5", Line((0, 0), (0, 0)))))),
            r"E5 starts and ends at \(0\.0, 0\.0\)",
        ),
        (
            Outline(Ring((*SQUARE.edges[:3], Edge("E4", Arc((0, 100), (0, 0), (20, 52), True))))),
            r"E4 is no arc: its start is 52\.000 mm .* its end 55\.714 mm",
        ),
        (Outline(Ring(SQUARE.edges[:1])), r"ring of E1 alone"),
        (
            Outline(Ring((*SQUARE.edges[:3], Edge("E4", Line((0, 100), (math.nan, 0)))))),
            r"E4 has an end that is not a number",
        ),
        (
            Outline(Ring((*SQUARE.edges[:3],
                          Edge("E4", Arc((0, 100), (0, 0), (math.inf, 50), True))))),
            r"centre of arc E4 is no number",
        ),
        (
            Outline(ring((1e12, 0), (1e12 + 100, 0), (1e12 + 100, 100), (1e12, 100))),
            r"E1 has an end at \(1e\+12, 0\), more than 1,000,000 mm from the origin",
        ),
    ],
)  # fmt: skip
def test_faults_are_named(outline: Outline, said: str) -> None:
    with pytest.raises(ShapeError, match=said):
        check_outline(outline)
