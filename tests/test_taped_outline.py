"""Taped outlines: the shape comes back from its distances, as sure as it says, slips named."""

import math
import re
from itertools import combinations

import numpy as np
import pytest
from pydantic import ValidationError

from shapecut.errors import JobFileError
from shapecut.findings import Level
from shapecut.job.taped import Taped
from shapecut.shape.curves import Arc, Line
from shapecut.stages.taped_outline import taped_outline
from shapecut.survey.start import rigid_fit
from shapecut.units import LengthStyle

#        B . . . . C
#       .           .        P and Q: two nails in the joist; the deck's corner A lies near one
#      A             .
#   P . . . . . . . . D . Q
SPOTS = {
    "P": (0.0, 0.0), "Q": (2400.0, 0.0),
    "A": (150.0, 320.0), "B": (350.0, 900.0), "C": (1500.0, 1000.0), "D": (2000.0, 150.0),
}  # fmt: skip
FROM_NAILS = [("P", "Q"), *((nail, corner) for corner in "ABCD" for nail in "PQ")]
ALL = list(combinations("PQABCD", 2))


def distances(pairs, *, spots=SPOTS, rng=None, misread=None):
    """Taped distances, with noise of 1 mm and one of them misread by 30 mm if asked for."""
    rows = []
    for a, b in pairs:
        length = math.dist(spots[a], spots[b])
        length += rng.normal(0, 1.0) if rng else 0.0
        length += 30 if (a, b) == misread else 0.0
        rows.append({"between": (a, b), "length": f"{length:.6f} mm"})
    return rows


def outline_of(pairs, **options):
    taped = Taped(base=("P", "Q"), corners=tuple("ABCD"), distances=distances(pairs, **options))
    return taped_outline(taped)


def lengths(outline):
    return {edge.name: edge.curve.length for edge in outline.edges}


TRUE_LENGTHS = {f"{a}-{b}": math.dist(SPOTS[a], SPOTS[b]) for a, b in ("AB", "BC", "CD", "DA")}


class TestTriangleDistances:
    def test_from_two_fixed_points(self):
        given = outline_of(FROM_NAILS)
        assert lengths(given.outline) == pytest.approx(TRUE_LENGTHS, abs=1e-4)
        assert [finding.level for finding in given.findings] == [Level.CHECK]
        assert "misread" in given.findings[0].what

    def test_the_base_lies_along_x_and_points_to_its_left_above(self):
        outline = outline_of(FROM_NAILS).outline
        corner = {edge.name: edge.curve.start for edge in outline.outer.edges}
        assert any(start == pytest.approx((350.0, 900.0), abs=1e-3) for start in corner.values())

    def test_points_on_the_other_side_are_said_to_be(self):
        spots = SPOTS | {"D": (2000.0, -150.0)}
        taped = Taped(
            base=("P", "Q"), corners=tuple("ABCD"), right=("D",),
            distances=distances(FROM_NAILS, spots=spots),
        )  # fmt: skip
        assert lengths(taped_outline(taped).outline)["C-D"] == pytest.approx(
            math.dist(spots["C"], spots["D"]), abs=1e-4
        )

    def test_a_triangle_by_its_sides(self):
        sides = distances([("A", "B"), ("B", "C"), ("C", "A")])
        taped = Taped(base=("A", "B"), corners=tuple("ABC"), right=("C",), distances=sides)
        given = taped_outline(taped)
        assert lengths(given.outline)["C-A"] == pytest.approx(
            math.dist(SPOTS["C"], SPOTS["A"]), abs=1e-4
        )
        # Each side is off by its own tape; its corners move half of that each.
        assert all(0.2 < edge.u_mm < 1.0 for edge in given.outline.edges)

    def test_a_misread_distance_is_named_with_what_the_others_expect(self):
        rng = np.random.default_rng(5)
        given = outline_of(ALL, rng=rng, misread=("Q", "C"))
        odd = given.findings[0]
        expected = math.dist(SPOTS["Q"], SPOTS["C"])
        assert odd.level is Level.SERIOUS
        assert odd.where == "tape from Q to C"
        read, others = map(int, re.findall(r"(\d+) mm where all others expect (\d+)", odd.what)[0])
        assert read == pytest.approx(expected + 30, abs=4)
        assert others == pytest.approx(expected, abs=4)
        assert lengths(given.outline) == pytest.approx(TRUE_LENGTHS, abs=4.0)
        assert "read more than the adjusted distances by P–Q " in given.findings[-1].what

    def test_a_job_in_inches_is_told_so_in_inches(self):
        taped = Taped(
            base=("P", "Q"), corners=tuple("ABCD"), distances=distances(ALL, misread=("Q", "C"))
        )
        odd, *_, note = taped_outline(taped, LengthStyle("in")).findings
        inches = math.dist(SPOTS["Q"], SPOTS["C"]) / 25.4
        assert f"where all others expect {math.floor(inches)} " in odd.what
        assert note.what.endswith(" in.")
        assert "mm" not in odd.what + note.what

    def test_where_it_cannot_be_told_which_the_result_is_less_sure(self):
        square = ["AB", "BC", "CD", "DA", "AC", "BD"]
        rows = distances([tuple(pair) for pair in square], misread=("B", "D"))
        taped = Taped(base=("A", "B"), corners=tuple("ABCD"), right=("C", "D"), distances=rows)
        given = taped_outline(taped)
        assert given.findings[0].level is Level.SERIOUS
        assert "contradict" in given.findings[0].what
        sound = taped_outline(
            Taped(base=("A", "B"), corners=tuple("ABCD"), right=("C", "D"),
                  distances=distances([tuple(pair) for pair in square]))
        )  # fmt: skip
        pairs = zip(given.outline.edges, sound.outline.edges, strict=True)
        assert all(doubtful.u_mm > 3 * sure.u_mm for doubtful, sure in pairs)

    def test_edges_scatter_as_much_as_is_stated(self):
        rng = np.random.default_rng(1)
        truth = np.array([SPOTS[name] for name in "ABCD"])
        squares, stated = [], []
        for _ in range(300):
            rows = distances(list(combinations("ABCD", 2)), rng=rng)
            taped = Taped(base=("A", "B"), corners=tuple("ABCD"), right=("C", "D"), distances=rows)
            edges = {edge.name: edge for edge in taped_outline(taped).outline.edges}
            # Listed clockwise, the ring was turned: edge A-B runs from B to A.
            found = np.array([edges[f"{a}-{b}"].curve.start for a, b in ("DA", "AB", "BC", "CD")])
            placement, _ = rigid_fit(found, truth)
            off = placement.points_to_plane(found) - truth
            for k, name in enumerate(TRUE_LENGTHS):
                along = truth[(k + 1) % 4] - truth[k]
                normal = np.array([along[1], -along[0]]) / np.hypot(*along)
                start, end = off[k] @ normal, off[(k + 1) % 4] @ normal
                places = np.linspace(0.1, 0.9, 5)
                squares.append(np.mean(((1 - places) * start + places * end) ** 2))
                stated.append(edges[name].u_mm ** 2)
        assert np.mean(squares) == pytest.approx(np.mean(stated), rel=0.1)

    @pytest.mark.parametrize(
        ("pairs", "says"),
        [
            (FROM_NAILS[1:], ["base P–Q", "tape it"]),
            (FROM_NAILS[:-1], ["D has one distance"]),
            ([*FROM_NAILS[:-1], ("D", "A")], ["D could lie on either side", "third point"]),
        ],
    )
    def test_points_that_nothing_holds_are_named(self, pairs, says):
        spots = SPOTS | {"D": (1800.0, 600.0)}
        with pytest.raises(JobFileError) as caught:
            outline_of(pairs, spots=spots)
        for words in says:
            assert words in str(caught.value)

    def test_distances_that_cannot_meet_are_named(self):
        rows = distances(FROM_NAILS)
        rows[1] = {"between": ("P", "A"), "length": "60 mm"}
        with pytest.raises(JobFileError, match=r"A cannot be 60 mm from P and .* from Q"):
            taped_outline(Taped(base=("P", "Q"), corners=tuple("ABCD"), distances=rows))

    def test_corners_out_of_order_are_said(self):
        rows = distances(FROM_NAILS)
        with pytest.raises(JobFileError, match=r"A-C and B-D cross .* order of the corners"):
            taped_outline(Taped(base=("P", "Q"), corners=tuple("ACBD"), distances=rows))


def offset(name, along, side_mm, side="left"):
    return {"name": name, "along": f"{along} mm", side: f"{side_mm} mm"}


class TestOffsets:
    def test_corners_and_a_point_on_an_arc(self):
        taped = Taped(
            offsets=[
                offset("A", 0, 0), offset("B", 0, 600), offset("bow", 600, 700),
                offset("C", 1200, 600), offset("D", 1200, 40, "right"),
            ],
            arcs=("bow",),
        )  # fmt: skip
        edges = {edge.name: edge for edge in taped_outline(taped).outline.edges}
        assert {name: type(edge.curve) for name, edge in edges.items()} == {
            "A-B": Line, "B-C": Arc, "C-D": Line, "D-A": Line,
        }  # fmt: skip
        # Sagitta 100 over a chord of 1200.
        assert edges["B-C"].curve.radius == pytest.approx(600**2 / 200 + 50)
        assert edges["C-D"].curve.length == pytest.approx(640)

    def test_long_offsets_are_less_sure_along_the_base(self):
        def side_u(square_u_deg):
            taped = Taped(
                offsets=[offset("A", 0, 0), offset("B", 0, 1000), offset("C", 900, 0)],
                square_u_deg=square_u_deg,
            )
            return next(e.u_mm for e in taped_outline(taped).outline.edges if e.name == "A-B")

        assert side_u(0.0) == pytest.approx(1.0 * math.sqrt(0.66), rel=1e-6)
        assert side_u(0.5) > 3.0


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ({}, "either offsets"),
        ({"offsets": [offset("A", 0, 0), offset("B", 0, 9)]}, "2 corners"),
        ({"offsets": [offset("A", 0, 0)] * 3}, "A is named twice"),
        ({"distances": distances(FROM_NAILS)}, "need base"),
        (
            {"distances": distances(FROM_NAILS), "base": ("P", "Q"), "corners": ("A", "B", "E")},
            "corners names E",
        ),
        (
            {
                "offsets": [offset(name, 9 * k, k) for k, name in enumerate("ABCD")],
                "arcs": ("A", "D"),
            },
            "both points on arcs",
        ),
    ],
)
def test_a_table_that_says_too_little_is_refused(table, says):
    with pytest.raises(ValidationError, match=says):
        Taped.model_validate(table)
