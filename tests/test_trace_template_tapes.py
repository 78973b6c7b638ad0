"""Tapes over the template: a weighted mean of scales by hand, a mistyped one, an unknown corner."""

import pytest

from shapecut.errors import TraceError
from shapecut.findings import Level
from shapecut.shape.curves import Line
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.survey.survey import Survey
from shapecut.survey.view import ScanView
from shapecut.trace.template_tapes import TemplateTape, scaled_by_tapes
from shapecut.trace.traced import Traced

CORNERS = [(0.0, 0.0), (1000.0, 0.0), (1000.0, 500.0), (0.0, 500.0)]
SURVEY = Survey((ScanView(0, (0.5, 0.5), (0.0, 0.0)),), (), 0.0, 1e-3, 0.0, 0.0)


def rectangle(u_mm=0.0):
    """E4 below, E3 right, E2 above, E1 left: clockwise names on a counter-clockwise ring."""
    pairs = zip(CORNERS, CORNERS[1:] + CORNERS[:1], strict=True)
    edges = (Edge(f"E{4 - k}", Line(*pair), u_mm) for k, pair in enumerate(pairs))
    return Traced(Outline(Ring(tuple(edges))), (), 0.0)


def test_an_exact_tape_sets_the_scale():
    tape = TemplateTape("E4/E1", "E3/E4", 1002.0, 1e-9)
    survey, traced = scaled_by_tapes(SURVEY, rectangle(), [tape])
    assert traced.outline.area == pytest.approx(1002.0 * 501.0, rel=1e-9)
    assert survey.relative_u == pytest.approx(0.0, abs=1e-9)
    assert survey.views[0].mm_per_px == pytest.approx((0.501, 0.501))
    assert traced.findings[0].level is Level.NOTE


def test_a_tape_as_sure_as_the_print_counts_half():
    # The print is sure to 1 mm in 1000 mm, and so is the tape: the mean of 1000 and 1002.
    survey, traced = scaled_by_tapes(
        SURVEY, rectangle(), [TemplateTape("E1/E4", "E4/E3", 1002.0, 1.0)]
    )
    lengths = {edge.name: edge.curve.length for edge in traced.outline.edges}
    assert lengths["E4"] == pytest.approx(1001.0, abs=2e-3)
    assert survey.relative_u == pytest.approx(1e-3 / 2**0.5, rel=1e-3)


def test_a_mistyped_tape_is_named_with_what_was_measured_and_not_used():
    survey, traced = scaled_by_tapes(
        SURVEY, rectangle(0.1), [TemplateTape("E4/E1", "E3/E4", 1360.0, 1.0)]
    )
    (finding,) = traced.findings
    assert finding.level is Level.SERIOUS
    assert "1000.0" in finding.what
    assert "E4/E1" in finding.where
    assert survey == SURVEY


def test_what_is_no_corner_is_refused():
    with pytest.raises(TraceError, match="E1/E3"):
        scaled_by_tapes(SURVEY, rectangle(), [TemplateTape("E1/E3", "E3/E4", 1000.0, 1.0)])
