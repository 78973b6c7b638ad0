"""Templates found among shadows, print and other things, and places that must be pointed at.

The survey is the true one, so that what is seen here is the finding and following alone.
"""

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely

from shapecut.capture.cards import our_cards
from shapecut.capture.marks import find_marks
from shapecut.capture.photo import Photo
from shapecut.errors import JobFileError, TraceError
from shapecut.findings import Level
from shapecut.job.reading import job_from_text
from shapecut.shape.outline import Outline
from shapecut.survey.survey import Survey
from shapecut.trace.decisions import Decisions, decided
from shapecut.trace.drawn import ShownAs
from shapecut.trace.hints import Hints, Pointed
from shapecut.trace.trace import trace_template
from shapecut.trace.traced import Traced
from tests.lighting import Band, Lighting
from tests.renderer import Floor, Paint, Scene, Shot, Thing, photographed
from tests.scenes import OUTLINES, laid_round, look_at, outline_of, phone_camera, rounded

RECTANGLE = OUTLINES["rectangle"]
SUN = Lighting(sun=0.7, sky=(0.92, 1.0, 1.12), lean=(0.5, 0.4))
NOTHING_DECIDED = Decisions()


@cache
def view():
    return look_at(phone_camera(), (150.0, -450.0, 1450.0))


def scene_of(outline: Outline = RECTANGLE, **changes) -> Scene:
    return Scene(outline, **{"thickness_mm": 0.0, "cards": laid_round(RECTANGLE), **changes})


def picture(scene: Scene) -> Photo:
    return photographed(scene, Shot(view(), oversampling=1, jpeg_quality=92), "shed.jpg")


def traced(photo: Photo, hints: Hints | None = None) -> Traced:
    marks = find_marks(photo, 0, our_cards()).sightings
    survey = Survey((view(),), (), 0.0, 1e-4, 0.02, 0.03)
    shown = ShownAs(hints=hints) if hints else None
    found = trace_template([photo], survey, marks, shown=shown)
    return decided(found, NOTHING_DECIDED)


def farthest_mm(found: Outline, true: Outline) -> float:
    rings = [
        shapely.LinearRing(np.concatenate([e.curve.flattened(0.01)[:-1] for e in o.outer.edges]))
        for o in (found, true)
    ]
    a, b = (shapely.segmentize(ring, 5.0) for ring in rings)
    return shapely.hausdorff_distance(a, b)


def to_check(found: Traced) -> list[str]:
    return [f"{f.where}: {f.what}" for f in found.findings if f.level is not Level.NOTE]


def pixel_in(text: str) -> np.ndarray:
    match = re.search(r"near pixel \((\d+), (\d+)\)", text)
    assert match, text
    return np.array([int(match[1]), int(match[2])], float)


def seen_at(*place: float) -> np.ndarray:
    return view().px_from_mm(np.array([[*place, 0.0]]))[0]


# --- light ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "bands",
    [
        (Band(2530.0, 5000.0, 0.6, 3.0),),
        (Band(2480.0, 5000.0, 2.0, 80.0),),
        (Band(20.0, 45.0, 0.9, 8.0, every_mm=120.0),),
    ],
    ids=["hard", "soft", "railing"],
)
@pytest.mark.parametrize(
    "template", [(0.52, 0.38, 0.24), (0.70, 0.70, 0.68)], ids=["brown", "white"]
)
def test_shadows_across_template_and_floor_are_no_edges(bands, template):
    scene = scene_of(template=template, lighting=replace(SUN, bands=bands))
    found = traced(picture(scene))
    assert len(found.outline.edges) == 4
    assert farthest_mm(found.outline, RECTANGLE) < 1.0


def test_light_that_fades_across_the_floor_hides_nothing():
    scene = scene_of(lighting=Lighting(gradient=(0.9, -0.4)))
    assert farthest_mm(traced(picture(scene)).outline, RECTANGLE) < 1.0


def test_an_edge_in_the_dark_is_named():
    #   A black shadow lies over the right end: neither template nor floor is seen there.
    dark = Band(400.0, 140.0, 0.0, 2.0)
    scene = scene_of(lighting=Lighting(sun=0.999, bands=(dark,)))
    (doubt,) = [text for text in to_check(traced(picture(scene))) if "darkness" in text]
    assert np.linalg.norm(pixel_in(doubt) - seen_at(360.0, 0.0)) < 120


# --- print and tape ------------------------------------------------------------------------------


@pytest.mark.parametrize("tape", [(0.75, 0.75, 0.73), (0.30, 0.08, 0.06)], ids=["white", "red"])
def test_tape_right_across_does_not_cut_the_template_in_two(tape):
    strip = Paint(((80.0, -400.0), (130.0, -400.0), (170.0, 400.0), (120.0, 400.0)), tape)
    found = traced(picture(scene_of(paints=(strip,))))
    assert len(found.outline.edges) == 4
    assert farthest_mm(found.outline, RECTANGLE) < 1.5


def test_a_stripe_of_the_floors_own_colour_does_not_cut_the_template_in_two():
    # Of one colour all along, which no stretch of this floor is.
    colours = ((0.17, 0.045, 0.05), (0.06, 0.06, 0.11), (0.22, 0.16, 0.09))
    carpet = Floor(
        colour=(0.16, 0.05, 0.05), tile_mm=(70.0, 70.0), seam_mm=0.5, tile_colours=colours
    )
    strip = Paint(((80.0, -400.0), (115.0, -400.0), (155.0, 400.0), (120.0, 400.0)), colours[0])
    found = traced(picture(scene_of(floor=carpet, paints=(strip,))))
    assert len(found.outline.edges) == 4
    assert farthest_mm(found.outline, RECTANGLE) < 1.5
    assert any("counts as print" in text for text in to_check(found))


def test_a_patch_that_is_no_floor_is_print_and_no_hole():
    # Darker than the floor by far, and not of the template's colour.
    dark = Paint(((-50.0, -60.0), (60.0, -60.0), (60.0, 50.0), (-50.0, 50.0)), (0.03, 0.03, 0.03))
    found = traced(picture(scene_of(paints=(dark,))))
    assert not found.outline.holes


# --- other things --------------------------------------------------------------------------------


def box(left: float, low: float, right: float, high: float) -> Outline:
    return outline_of(rounded([(left, low), (right, low), (right, high), (left, high)]))


def test_a_second_template_is_pointed_at_and_the_middle_one_measured():
    small = box(-180.0, -250.0, 400.0, 250.0)
    second = Thing(box(-400.0, -250.0, -230.0, 250.0), 0.0, (0.52, 0.38, 0.24), (0.4, 0.3, 0.2))
    found = traced(picture(scene_of(small, things=(second,))))
    assert farthest_mm(found.outline, small) < 1.0
    (doubt,) = [text for text in to_check(found) if "looks like the template" in text]
    assert np.linalg.norm(pixel_in(doubt) - seen_at(-315.0, 0.0)) < 60


def test_a_hint_chooses_the_other_template():
    small = box(-180.0, -250.0, 400.0, 250.0)
    other = box(-400.0, -250.0, -230.0, 250.0)
    second = Thing(other, 0.0, (0.52, 0.38, 0.24), (0.4, 0.3, 0.2))
    x, y = seen_at(-310.0, 30.0)
    found = traced(
        picture(scene_of(small, things=(second,))),
        Hints(template=(Pointed("shed.jpg", ((float(x), float(y)),)),)),
    )
    assert farthest_mm(found.outline, other) < 1.0


def test_a_box_keeps_out_what_lies_beside_it():
    small = box(-180.0, -250.0, 400.0, 250.0)
    second = Thing(box(-400.0, -250.0, -230.0, 250.0), 0.0, (0.52, 0.38, 0.24), (0.4, 0.3, 0.2))
    corners = np.array([seen_at(x, y) for x in (-180.0, 400.0) for y in (-250.0, 250.0)])
    (x0, y0), (x1, y1) = corners.min(axis=0) - 15, corners.max(axis=0) + 15
    pointed = Pointed("shed.jpg", ((float(x0), float(y0)), (float(x1), float(y1))))
    found = traced(picture(scene_of(small, things=(second,))), Hints(boxes=(pointed,)))
    assert farthest_mm(found.outline, small) < 1.0


def test_a_box_that_cuts_the_template_is_refused():
    (x0, y0), (x1, y1) = seen_at(-380.0, 230.0), seen_at(380.0, -230.0)
    pointed = Pointed("shed.jpg", ((float(x0), float(y0)), (float(x1), float(y1))))
    with pytest.raises(TraceError, match="draw the box round all of it"):
        traced(picture(scene_of()), Hints(boxes=(pointed,)))


def test_a_hint_off_its_picture_is_refused():
    hints = Hints(template=(Pointed("shed.jpg", ((5000.0, 10.0),)),))
    with pytest.raises(
        TraceError, match=r"shed\.jpg has 1600 × 1200 pixels; the place \[5000, 10\]"
    ):
        traced(picture(scene_of()), hints)


def at(*place: float) -> Pointed:
    x, y = seen_at(*place)
    return Pointed("shed.jpg", ((float(x), float(y)),))


def test_hints_that_contradict_each_other_are_refused():
    with pytest.raises(TraceError, match="calls one place template and floor"):
        traced(picture(scene_of()), Hints(template=(at(0.0, 0.0),), floor=(at(3.0, 0.0),)))
    (x0, y0), (x1, y1) = seen_at(-440.0, 290.0), seen_at(440.0, -290.0)
    whole = Pointed("shed.jpg", ((float(x0), float(y0)), (float(x1), float(y1))))
    with pytest.raises(TraceError, match="outside the box"):
        traced(picture(scene_of()), Hints(template=(at(520.0, 0.0),), boxes=(whole,)))


def test_a_thing_that_touches_the_template_is_pointed_at():
    thing = Thing(box(401.0, -60.0, 460.0, 60.0), 0.0, (0.05, 0.10, 0.35), (0.05, 0.1, 0.3))
    doubts = to_check(traced(picture(scene_of(things=(thing,)))))
    beside = [
        text for text in doubts if "something else than floor" in text or "looks neither" in text
    ]
    assert beside, doubts
    assert np.linalg.norm(pixel_in(beside[0]) - seen_at(415.0, 0.0)) < 60


# --- the job file --------------------------------------------------------------------------------

JOB = """
[template]
photos = ["a.jpg"]
[template.hints]
on_template = { "%s" = [400, 300] }
[boards]
width = "140 mm"
[stock]
lengths = [{ length = "4 m" }]
"""


def test_the_job_file_takes_hints_and_refuses_those_into_other_pictures():
    hints = job_from_text(JOB % "a.jpg").template.shown.hints
    assert hints.template == (Pointed("a.jpg", ((400.0, 300.0),)),)
    with pytest.raises(JobFileError, match=r"hints point into b\.jpg, which is none"):
        job_from_text(JOB % "b.jpg")
