"""Decisions on an outline measured from a scan: applied, shown as the person's, doubts settled."""

import io

import numpy as np
import pytest
from PIL import Image

from shapecut.capture.cards import our_cards
from shapecut.errors import TraceError
from shapecut.findings import Finding, Level
from shapecut.papers.closeups import closeups
from shapecut.papers.records import outline_result
from shapecut.stages.measuring import measure_scans
from shapecut.survey.view import ScanView
from shapecut.trace.correction import KnownLength, MovedCorner, Shadow
from shapecut.trace.decisions import Decisions
from shapecut.trace.regularity import regularity_from_text
from tests.drawn_scans import Scan, drawn_scan
from tests.scenes import outline_of, rounded

DPI = 150.0
MM_PER_PX = 25.4 / DPI
SIZE = (1500, 1100)

#      ____E3____
#    E2          E4        E5, a torn corner, 12 mm; names as measured
#     |___E1____/E5
TORN = outline_of(rounded([(20, 20), (210, 20), (220, 28), (220, 160), (20, 160)]))


@pytest.fixture(scope="module")
def scan():
    view = ScanView(0, (MM_PER_PX, MM_PER_PX), (0.0, SIZE[1] - 1.0))
    return drawn_scan(Scan(view, SIZE, stated_dpi=(DPI, DPI)), "step.png", TORN)


def measured(scan, *corrections, regular=()):
    decisions = Decisions(corrections, tuple(regularity_from_text(text) for text in regular))
    return measure_scans([scan], our_cards(), decisions=decisions)


def torn_edge(found):
    return min(found.outline.edges, key=lambda edge: edge.curve.length).name


def test_a_torn_corner_is_doubted_and_settled_by_one_line(scan):
    found = measured(scan)
    name = torn_edge(found)
    (finding,) = [one for one in found.findings if one.where == name]
    assert finding.level is Level.CHECK
    settled = measured(scan, Shadow(name))
    assert len(settled.outline.edges) == len(found.outline.edges) - 1
    assert settled.outline.area == pytest.approx(200 * 140, rel=2e-3)
    assert [one for one in settled.findings if one.level is not Level.NOTE] == []
    (entry,) = settled.traced.by_hand
    assert name in entry.what


def test_the_doubtful_place_is_shown_as_photographed_and_with_the_outline(scan):
    found = measured(scan)
    (crop,) = closeups(found.photos, found.survey, found.outline, found.findings)
    assert crop.finding.where == torn_edge(found)
    picture = np.asarray(Image.open(io.BytesIO(crop.jpeg)).convert("RGB")).astype(int)
    half = picture.shape[1] // 2
    plain, drawn = picture[:, : half - 3], picture[:, half + 3 :]
    # In the middle of both lies the place, half kraft and half lid, and a dark line in one.
    assert plain[200:220, 200:220, 2].min() > 60
    assert np.abs(plain - drawn).max() > 60
    corner = plain[:40, :40].mean(axis=(0, 1))
    assert np.allclose(corner, drawn[:40, :40].mean(axis=(0, 1)), atol=25)


def test_findings_without_a_place_and_notes_have_no_picture(scan):
    found = measured(scan)
    plain = [
        Finding(Level.CHECK, "card 1", "It is bent.", "Lay it flat."),
        Finding(Level.NOTE, "E1", "It is a curve.", place_mm=(0.0, 0.0)),
    ]
    assert closeups(found.photos, found.survey, found.outline, plain) == ()


def test_decisions_are_in_the_json_as_the_person_s(scan):
    found = measured(scan)
    longest = max(found.outline.edges, key=lambda edge: edge.curve.length)
    known = KnownLength((longest.name,), longest.curve.length + 0.05, 0.2)
    settled = measured(scan, known)
    record = outline_result(settled.outline, ("step.png",), settled.survey, settled.traced)
    (entry,) = record["measurement"]["by_hand"]
    assert tuple(entry["edges"]) == (longest.name,)
    assert "given as" in entry["what"]


def test_corrections_that_leave_no_outline_are_refused(scan):
    found = measured(scan)
    first, second = found.outline.outer.edges[:2]
    corner = f"{first.name}/{second.name}"
    with pytest.raises(TraceError, match="corrections leave no outline"):
        measured(
            scan,
            MovedCorner(corner, by=(-5000.0, 3000.0)),
            MovedCorner(f"{second.name}/{found.outline.outer.edges[2].name}", by=(5000.0, -3000.0)),
        )


def test_a_regularity_holds_in_the_outline_that_is_measured(scan):
    found = measured(scan)
    lines = sorted(found.outline.edges, key=lambda edge: -edge.curve.length)[:4]
    text = f"{lines[2].name} square to {lines[0].name}"
    settled = measured(scan, regular=[text])
    by_name = {edge.name: edge.curve.direction() for edge in settled.outline.edges}
    first, second = by_name[lines[2].name], by_name[lines[0].name]
    assert first[0] * second[0] + first[1] * second[1] == pytest.approx(0.0, abs=1e-8)
    assert any(text in entry.what for entry in settled.traced.by_hand)
