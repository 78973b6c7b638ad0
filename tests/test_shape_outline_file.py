"""outline.json: what is written reads back, and what a hand typed wrong is named."""

import json
import math

import pytest
from hypothesis import given, settings

from shapecut.errors import ShapeError
from shapecut.shape.outline_file import (
    outline_from_text,
    outline_record,
    setting_out_from_text,
)
from tests.strategies import outlines

SQUARE = [[0, 0], [0, 500], [500, 500], [500, 0]]


def ring(corners, kind="outer", **extra):
    edges = [
        {"kind": "line", "from": corners[k], "to": corners[(k + 1) % len(corners)]} | extra
        for k in range(len(corners))
    ]
    return {"kind": kind, "edges": edges}


def read(*rings, **extra):
    return outline_from_text(json.dumps({"units": "mm", "rings": rings} | extra), "outline.json")


@given(outlines())
@settings(max_examples=60, deadline=None)
def test_what_is_written_reads_back(outline):
    again = outline_from_text(json.dumps(outline_record(outline)), "outline.json")
    assert again.area == pytest.approx(outline.area, abs=1e-2)
    assert [edge.name for edge in again.edges] == [edge.name for edge in outline.edges]
    for before, after in zip(outline.edges, again.edges, strict=True):
        assert after.curve.length == pytest.approx(before.curve.length, abs=1e-5)
        assert after.treatment == before.treatment


def test_names_are_given_where_left_out_and_more_keys_are_welcome():
    outline = read(ring(SQUARE, note="by tape"), measured_by="hand")
    assert [edge.name for edge in outline.edges] == ["E1", "E2", "E3", "E4"]


@pytest.mark.parametrize("corners", [SQUARE, SQUARE[::-1]])
def test_a_ring_may_be_typed_in_either_sense(corners):
    assert read(ring(corners)).area == pytest.approx(250_000)


def test_a_full_circle_is_two_arcs():
    arc = {"kind": "arc", "centre": [250, 250], "radius": 100, "turn": "cw"}
    hole = {
        "kind": "hole",
        "edges": [
            arc | {"name": "left", "from": [250, 150], "to": [250, 350]},
            arc | {"name": "right", "from": [250, 350], "to": [250, 150]},
        ],
    }
    assert read(ring(SQUARE), hole).area == pytest.approx(250_000 - math.pi * 100**2)


@pytest.mark.parametrize(
    ("rings", "says"),
    [
        ([ring([[0, 0], [500, 500], [500, 0], [0, 500]])], ["cross"]),
        ([ring(SQUARE, kind="hole")], ["0 outer rings"]),
        ([ring(SQUARE), ring(SQUARE)], ["2 outer rings"]),
        ([ring(SQUARE), ring([[900, 0], [950, 0], [950, 50]], kind="hole")], ["outside"]),
        ([ring(SQUARE, name="E1")], ["E1", "own"]),
        (
            [{"kind": "outer", "edges": ring(SQUARE)["edges"][:3]}],
            ["open between", "E1", "E3", "500.000 mm away"],
        ),
        ([ring(SQUARE, kind="outline")], ["rings.0.kind", "outline"]),
        (
            [
                {
                    "kind": "outer",
                    "edges": [
                        {"kind": "line", "from": [0, 0], "to": [100, 0]},
                        {
                            "kind": "arc",
                            "from": [100, 0],
                            "to": [0, 0],
                            "centre": [50, 0],
                            "radius": 70,
                            "turn": "ccw",
                        },
                    ],
                }
            ],
            ["E2", "radius 70", "starts 50.000 from its centre"],
        ),
    ],
)
def test_a_mistake_is_named_with_its_place(rings, says):
    with pytest.raises(ShapeError) as caught:
        read(*rings)
    for words in says:
        assert words in str(caught.value)


def test_an_outline_may_be_typed_in_inches():
    bow = {"kind": "arc", "from": [10, 0], "to": [0, 0], "centre": [5, 0], "radius": 5}
    edges = [{"kind": "line", "from": [0, 0], "to": [10, 0], "u": 0.1}, bow | {"turn": "ccw"}]
    marks = [{"name": "P1", "kind": "point", "at": [5, 2]}]
    rings = [{"kind": "outer", "edges": edges}]
    text = json.dumps({"units": "in", "rings": rings, "setting_out": marks})
    line, arc = outline_from_text(text, "outline.json").outer.edges
    assert line.curve.end == pytest.approx((254.0, 0.0))
    assert line.u_mm == pytest.approx(2.54)
    assert arc.curve.radius == pytest.approx(127.0)
    assert setting_out_from_text(text, "outline.json").points[0].at == pytest.approx((127.0, 50.8))


@pytest.mark.parametrize("text", ["", "{", "[]", "null", "3", '{"units": "mm"}', "[" * 100_000])
def test_what_is_no_outline_at_all_is_refused(text):
    with pytest.raises(ShapeError, match=r"outline\.json"):
        outline_from_text(text, "outline.json")


def test_numbers_that_are_not_are_refused():
    text = (
        '{"units": "mm", "rings": [{"kind": "outer", "edges": ['
        + ",".join(
            [json.dumps(edge) for edge in ring(SQUARE)["edges"][:3]]
            + ['{"kind": "line", "from": [500, 0], "to": [NaN, 0]}']
        )
        + "]}]}"
    )
    with pytest.raises(ShapeError, match="finite"):
        outline_from_text(text, "outline.json")
