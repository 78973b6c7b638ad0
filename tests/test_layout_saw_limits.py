"""Pieces that cannot be cut as drawn, each by hand."""

import math

import pytest

from shapecut.errors import LayoutError
from shapecut.findings import Level
from shapecut.layout.layout import Board, Piece
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules
from shapecut.layout.saw_limits import SawRules, saw_findings
from shapecut.shape.curves import Arc, Line
from shapecut.shape.region import Region, Side
from tests.test_layout_rows import straight


def piece_of(region: Region) -> Piece:
    (piece,) = lay_rows(region, Board(140, 28, 5), LayoutRules()).pieces
    return piece


def test_a_plain_board_has_nothing_to_say():
    assert (
        saw_findings([piece_of(straight((0, 0), (900, 0), (800, 140), (0, 140)))], SawRules()) == ()
    )


NOTCHED = straight(
    (0, 0), (900, 0), (900, 140), (500, 140), (500, 90), (300, 90), (300, 140), (0, 140)
)


def test_inside_corners_are_named_with_what_to_do():
    (finding,) = saw_findings([piece_of(NOTCHED)], SawRules())
    assert finding.level is Level.NOTE
    assert "2 inside corners, at 500 mm along and 90 mm across; 300 mm along" in finding.what
    assert "Stop the saw short" in finding.todo
    (finding,) = saw_findings([piece_of(NOTCHED)], SawRules(relief_radius_mm=4))
    assert "radius of 4.0 mm" in finding.todo


def test_a_hollow_tighter_than_the_cutter():
    bite = Region(
        (
            Side(Line((0, 0), (900, 0))), Side(Line((900, 0), (900, 140))),
            Side(Line((900, 140), (453, 140))),
            Side(Arc((453, 140), (447, 140), (450, 140), ccw=False)),
            Side(Line((447, 140), (0, 140))), Side(Line((0, 140), (0, 0))),
        )
    )  # fmt: skip
    rules = SawRules(relief_radius_mm=4)
    assert any("radius 3.0 mm" in finding.what for finding in saw_findings([piece_of(bite)], rules))
    assert not saw_findings([piece_of(bite)], SawRules(relief_radius_mm=2))


def test_a_point_too_sharp_to_last():
    """140 in 800: atan = 9.93°; 8 mm wide at 8 / 2 / tan(4.96°) = 46 mm from the tip."""
    (finding,) = saw_findings([piece_of(straight((0, 0), (800, 0), (0, 140)))], SawRules())
    assert "10°, less than 20°" in finding.what
    assert "last 46 mm" in finding.what
    assert "cut it off where it is 8 mm wide" in finding.todo
    rules = SawRules(smallest_angle_rad=math.radians(9))
    assert not saw_findings([piece_of(straight((0, 0), (800, 0), (0, 140)))], rules)


@pytest.mark.parametrize(("wide", "found"), [(2.0, 1), (4.0, 0)])
def test_a_slot_narrower_than_the_blade(wide, found):
    slotted = straight(
        (0, 0), (900, 0), (900, 140), (400 + wide, 140), (400 + wide, 60), (400, 60), (400, 140),
        (0, 140),
    )  # fmt: skip
    findings = saw_findings([piece_of(slotted)], SawRules(blade_mm=3))
    assert sum("narrower than the blade" in finding.what for finding in findings) == found


@pytest.mark.parametrize(("neck", "found"), [(2.0, 1), (4.0, 0)])
def test_a_piece_that_falls_apart(neck, found):
    necked = straight(
        (0, 0), (900, 0), (900, 140), (500, 140), (500, neck), (400, neck), (400, 140), (0, 140)
    )
    findings = saw_findings([piece_of(necked)], SawRules(blade_mm=3))
    serious = [finding for finding in findings if finding.level is Level.SERIOUS]
    assert len(serious) == found
    if found:
        assert "holds it together at 450 mm along and 2 mm across" in serious[0].what


def test_figures_that_cannot_be_are_refused():
    with pytest.raises(LayoutError, match="less than nothing"):
        SawRules(blade_mm=-1)
    with pytest.raises(LayoutError, match="0 to 90°"):
        SawRules(smallest_angle_rad=math.pi)
