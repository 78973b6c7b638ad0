"""Edges that run on past print and glare, and cut-outs that are not run over."""

import math
from dataclasses import replace

import numpy as np
import pytest

from shapecut.capture.cards import our_cards
from shapecut.capture.marks import find_marks
from shapecut.findings import Level
from shapecut.shape.curves import Arc
from shapecut.shape.outline import Outline
from shapecut.survey.survey import Survey
from shapecut.trace.bridges import Part, bridges
from shapecut.trace.decisions import Decisions, decided
from shapecut.trace.drawn import ShownAs
from shapecut.trace.hints import Hints, Pointed
from shapecut.trace.slab import Slab
from shapecut.trace.trace import trace_template
from shapecut.trace.traced import Traced
from tests.edge_deviation import edge_deviations
from tests.lighting import Glare, Lighting
from tests.renderer import Floor, Paint, Scene, Shot, photographed
from tests.scenes import (
    OUTLINES,
    laid_round,
    look_at,
    outline_of,
    phone_camera,
    round_hole,
    rounded,
)

RECTANGLE = OUTLINES["rectangle"]
FLOOR = Floor(colour=(0.24, 0.21, 0.18), grain=0.05, grain_mm=(2.0, 2.0))
NEARLY_FLOOR = (0.28, 0.25, 0.23)
WHITE_TAPE = (0.75, 0.75, 0.73)
CORNERS = [(-400.0, -250.0), (400.0, -250.0), (400.0, 250.0), (-400.0, 250.0)]


def traced(scene: Scene, *floor: tuple[float, float]) -> Traced:
    """As traced from one photograph; the person says that some places are floor."""
    view = look_at(phone_camera(), (150.0, -450.0, 1450.0))
    said = view.px_from_mm(np.array([[*place, 0.0] for place in floor]).reshape(-1, 3))
    hints = Hints(floor=tuple(Pointed("shed.jpg", (tuple(px),)) for px in said))
    photo = photographed(scene, Shot(view, oversampling=1, jpeg_quality=92), "shed.jpg")
    marks = find_marks(photo, 0, our_cards()).sightings
    survey = Survey((view,), (), scene.thickness_mm, 1e-4, 0.02, 0.03)
    slab = Slab.beside_cards(scene.thickness_mm)
    return decided(
        trace_template([photo], survey, marks, slab, shown=ShownAs(hints=hints)), Decisions()
    )


def scene_of(outline: Outline, **changes) -> Scene:
    usual = {"thickness_mm": 0.0, "cards": laid_round(RECTANGLE), "floor": FLOOR}
    return Scene(outline, **{**usual, **changes})


def square(x: float, y: float, size: float) -> tuple[tuple[float, float], ...]:
    half = size / 2
    return ((x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half))


def off_mm(found: Traced, true: Outline) -> float:
    return float(np.abs(edge_deviations(found.outline, true)[..., 0]).max())


def said(found: Traced, words: str) -> list[Level]:
    return [finding.level for finding in found.findings if words in finding.what]


@pytest.mark.parametrize(
    "place", [(100.0, 250.0), (-400.0, -60.0), (395.0, 245.0)], ids=["side", "end", "corner"]
)
def test_print_of_nearly_the_floors_colour_is_no_bite_out_of_an_edge(place):
    found = traced(scene_of(RECTANGLE, paints=(Paint(square(*place, 70.0), NEARLY_FLOOR),)))
    assert len(found.outline.edges) == 4
    assert off_mm(found, RECTANGLE) < 1.0
    assert said(found, "runs on")


def test_print_in_the_corner_of_a_notch_does_not_shorten_its_sides():
    notched = outline_of(rounded([*CORNERS[:3], (60.0, 250.0), (60.0, 100.0), (-400.0, 100.0)]))
    # Two words, one of which reaches past the notch's corner.
    words = tuple(
        Paint(((x, y), (x + 40.0, y), (x + 40.0, y + 8.0), (x, y + 8.0)), NEARLY_FLOOR)
        for x, y in ((45.0, 88.0), (62.0, 104.0))
    )
    found = traced(scene_of(notched, paints=words))
    assert len(found.outline.edges) == 6
    assert off_mm(found, notched) < 1.0


def test_what_a_person_calls_floor_is_not_run_over():
    ink = Paint(square(100.0, 250.0, 70.0), NEARLY_FLOOR)
    found = traced(scene_of(RECTANGLE, paints=(ink,)), (100.0, 232.0))
    assert len(found.outline.edges) == 8
    assert not said(found, "runs on")


def test_a_notch_is_cut_out_however_small():
    #       ___|‾|___     35 mm wide, 25 mm deep
    notch = [(120.0, 250.0), (120.0, 225.0), (85.0, 225.0), (85.0, 250.0)]
    notched = outline_of(rounded([*CORNERS[:3], *notch, CORNERS[3]]))
    found = traced(scene_of(notched))
    assert len(found.outline.edges) == 8
    assert off_mm(found, notched) < 1.0
    assert not said(found, "runs on")


def test_a_circle_goes_round_behind_print_at_its_rim():
    drilled = outline_of(rounded(CORNERS), round_hole((60.0, 20.0), 70.0))
    ink = Paint(square(130.0, 20.0, 50.0), NEARLY_FLOOR)
    found = traced(scene_of(drilled, paints=(ink,)))
    (hole,) = found.outline.holes
    assert all(isinstance(edge.curve, Arc) for edge in hole.edges)
    assert off_mm(found, drilled) < 1.5


def test_the_far_wall_in_a_hole_of_a_thick_template_is_not_its_rim():
    # The wall in sight is as wide as the template is thick in the middle of the half circle that
    # faces the camera, and not to be seen at its ends.
    drilled = outline_of(rounded(CORNERS), round_hole((60.0, 60.0), 60.0))
    dark = {"template": (0.13, 0.075, 0.042), "cut_face": (0.10, 0.06, 0.035)}
    found = traced(scene_of(drilled, thickness_mm=7.0, **dark))
    assert off_mm(found, drilled) < 1.0


def test_glare_beside_an_edge_is_no_bump():
    glare = Lighting(glares=(Glare((150.0, 275.0), (45.0, 30.0), 0.6),))
    found = traced(scene_of(RECTANGLE, lighting=glare))
    assert len(found.outline.edges) == 4
    assert off_mm(found, RECTANGLE) < 2.0


def test_a_corner_in_glare_is_where_its_edges_meet():
    x, y = CORNERS[2]
    glare = Lighting(glares=(Glare((x + 25.0, y + 10.0), (40.0, 55.0), 0.8),))
    found = traced(scene_of(RECTANGLE, lighting=glare))
    assert len(found.outline.edges) == 4
    assert off_mm(found, RECTANGLE) < 1.0
    assert Level.CHECK in said(found, "lie in glare")


def test_white_tape_is_no_glare():
    tape = Paint(((-150.0, -400.0), (-100.0, -400.0), (-60.0, 400.0), (-110.0, 400.0)), WHITE_TAPE)
    found = traced(scene_of(RECTANGLE, paints=(tape,)))
    assert len(found.outline.edges) == 4
    assert off_mm(found, RECTANGLE) < 1.0
    assert not said(found, "glare")


def test_print_within_that_looks_like_a_hole_is_pointed_at():
    scene = scene_of(RECTANGLE, paints=(Paint(square(80.0, 30.0, 90.0), NEARLY_FLOOR),))
    found = traced(scene)
    asked = [finding for finding in found.findings if finding.level is Level.CHECK]
    assert any("counts as print" in finding.what for finding in asked)
    assert not found.outline.holes
    plain = traced(replace(scene, paints=()))
    assert len(plain.outline.holes) == 0


def test_print_of_the_floors_colour_without_its_grain_is_pointed_at():
    concrete = Floor(colour=(0.25, 0.25, 0.235), grain=0.08, grain_mm=(1.5, 1.5))
    grey = Paint(square(80.0, 30.0, 110.0), concrete.colour)
    found = traced(scene_of(RECTANGLE, floor=concrete, paints=(grey,)))
    assert said(found, "unlike the floor") == [Level.CHECK]


def test_a_sliver_of_three_lines_is_left_alone():
    # Its two long sides nearly lie in one line; as one they would leave two lines, no ring.
    corners = [(0.0, 0.0), (400.0, 3.0), (800.0, 0.0)]
    parts = [Part(curve, np.arange(3)) for curve in rounded(corners)]
    assert not list(bridges(parts))


def test_glare_on_the_template_may_hide_a_hole():
    glare = Lighting(glares=(Glare((80.0, 20.0), (50.0, 40.0), 0.8),))
    found = traced(scene_of(RECTANGLE, lighting=glare))
    assert off_mm(found, RECTANGLE) < 1.0
    assert said(found, "a hole there would not be seen") == [Level.CHECK]


def test_edges_that_hardly_turn_are_pointed_at():
    turn = math.radians(1.5)
    kinked = outline_of(rounded([*CORNERS[:3], (0.0, 250.0 + 400.0 * math.tan(turn)), CORNERS[3]]))
    found = traced(scene_of(kinked))
    assert len(found.outline.edges) == 5
    assert said(found, "turn by only") == [Level.CHECK]


def test_an_edge_whose_samples_stray_is_pointed_at():
    found = traced(scene_of(RECTANGLE))
    assert not said(found, "not seen evenly")
    (seen,) = found.samples
    # A fifth of all samples in one stretch, as a shadow along the edge leads them astray.
    mm = seen.mm.copy()
    mm[: len(mm) // 5] += (2.5, 2.5)
    strayed = replace(found, samples=(replace(seen, mm=mm),))
    assert said(decided(strayed, Decisions()), "not seen evenly")
