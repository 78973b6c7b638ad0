"""Templates traced in rendered photographs and scans whose geometry is known.

The survey is the true one, so that what is seen here is the tracing alone.
"""

import math
from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
import shapely

from shapecut.capture.cards import our_cards
from shapecut.capture.marks import find_marks
from shapecut.capture.photo import Photo
from shapecut.errors import TraceError
from shapecut.shape.curves import Arc
from shapecut.shape.outline import Outline
from shapecut.survey.survey import Survey
from shapecut.survey.view import ScanView
from shapecut.trace.slab import Slab
from shapecut.trace.trace import trace_template
from shapecut.trace.traced import Traced
from tests.renderer import Scene, Shot, photographed
from tests.scenes import (
    FLOORS,
    OUTLINES,
    laid_round,
    looks_round,
    outline_of,
    phone_camera,
    round_hole,
    rounded,
)

THICKNESS_MM = 4.0


def pictures(scene: Scene, *, count: int = 1, **shot) -> list[Photo]:
    return [
        photographed(scene, Shot(view, oversampling=1, **shot), f"shed_{k + 1}.jpg")
        for k, view in enumerate(views(count))
    ]


@cache
def views(count: int):
    looks = looks_round(phone_camera(), count=count, distance_mm=1500.0, tilt_deg=18.0)
    return [replace(view, photo=k) for k, view in enumerate(looks)]


def traced(
    photos: list[Photo], *, height_mm: float = THICKNESS_MM, slab: Slab | None = None
) -> Traced:
    marks = [
        sighting
        for k, photo in enumerate(photos)
        for sighting in find_marks(photo, k, our_cards()).sightings
    ]
    survey = Survey(tuple(views(len(photos))), (), height_mm, 1e-4, 0.02, 0.03)
    return trace_template(photos, survey, marks, slab)


def scene_of(outline: Outline, **changes) -> Scene:
    cards = laid_round(outline)
    return Scene(outline, **{"thickness_mm": THICKNESS_MM, "cards": cards, **changes})


def polygon(outline: Outline) -> shapely.Polygon:
    outer, *holes = (
        np.concatenate([edge.curve.flattened(0.005)[:-1] for edge in ring.edges])
        for ring in outline.rings
    )
    return shapely.Polygon(outer, holes)


def farthest_mm(found: Outline, true: Outline) -> float:
    """Greatest distance between the two boundaries, both ways, where they stand."""
    a, b = (shapely.segmentize(polygon(o).boundary, 5.0) for o in (found, true))
    return shapely.hausdorff_distance(a, b)


def kinds(outline: Outline) -> list[list[str]]:
    return [sorted(type(edge.curve).__name__ for edge in ring.edges) for ring in outline.rings]


@pytest.mark.parametrize("floor", FLOORS)
@pytest.mark.parametrize("name", OUTLINES)
def test_a_template_comes_back_in_the_edges_it_was_drawn_with(name, floor):
    """One photograph, but two from opposite sides for the hole, whose sides hide each other."""
    scene = scene_of(OUTLINES[name], floor=FLOORS[floor])
    found = traced(pictures(scene, count=1 + (name == "post hole"))).outline
    assert kinds(found) == kinds(OUTLINES[name])
    assert farthest_mm(found, OUTLINES[name]) < 0.5


@pytest.mark.parametrize(
    ("template", "floor"),
    [
        ((0.80, 0.80, 0.78), "planks"),
        ((0.22, 0.22, 0.22), "tiles"),
        ((0.75, 0.74, 0.70), "concrete"),
    ],
    ids=["white paper", "dark grey board", "pale board"],
)
def test_other_materials_on_other_floors(template, floor):
    outline = OUTLINES["notched step"]
    scene = scene_of(outline, template=template, cut_face=template, floor=FLOORS[floor])
    scene = replace(scene, thickness_mm=0.0)
    found = traced(pictures(scene), height_mm=0.0).outline
    assert kinds(found) == kinds(outline)
    assert farthest_mm(found, outline) < 0.5


def test_two_photographs_agree_on_paper_to_a_tenth_of_a_millimetre():
    outline = OUTLINES["rounded corner"]
    scene = scene_of(outline, thickness_mm=0.0)
    result = traced(pictures(scene, count=2), height_mm=0.0)
    assert kinds(result.outline) == kinds(outline)
    assert farthest_mm(result.outline, outline) < 0.25
    assert {samples.photo for samples in result.samples} == {0, 1}


def painted(photo: Photo, view, points_mm, colour, *, height_mm: float = THICKNESS_MM) -> Photo:
    """The photograph with a polygon painted on the template's face."""
    raised = np.column_stack([points_mm, np.full(len(points_mm), height_mm)])
    pixels = photo.pixels.copy()
    at = np.round(view.px_from_mm(raised) * 16).astype(np.int32)
    cv2.fillPoly(pixels, [at], colour, cv2.LINE_AA, 4)
    return replace(photo, pixels=pixels)


def test_print_on_the_template_is_neither_hole_nor_edge():
    outline = OUTLINES["rectangle"]
    (photo,) = pictures(scene_of(outline))
    view = views(1)[0]
    for x in (-200.0, 60.0):
        badge = np.array([(x, -80), (x + 90, -80), (x + 90, 60), (x, 60)])
        photo = painted(photo, view, badge, (70, 52, 40))
    found = traced([photo]).outline
    assert kinds(found) == kinds(outline)


def test_print_that_reaches_the_edge_does_not_dent_it():
    outline = OUTLINES["rectangle"]
    (photo,) = pictures(scene_of(outline))
    view = views(1)[0]
    inside = np.array([(-200, -80), (-110, -80), (-110, 60), (-200, 60)])
    at_edge = np.array([(380, -60), (399.4, -60), (399.4, 20), (380, 20)])
    for badge in (inside, at_edge):
        photo = painted(photo, view, badge, (70, 52, 40))
    found = traced([photo]).outline
    assert kinds(found) == kinds(outline)
    assert farthest_mm(found, outline) < 1.0


def test_each_sample_lies_near_the_outline_within_its_uncertainty():
    outline = OUTLINES["notched step"]
    result = traced(pictures(scene_of(outline, thickness_mm=0.0)), height_mm=0.0)
    (samples,) = result.samples
    assert len(samples.px) == len(samples.mm) == len(samples.u_mm)
    off = shapely.distance(polygon(outline).boundary, shapely.points(samples.mm))
    # Not all, since neighbours err together; but an uncertainty ten times off shows.
    assert np.mean(off < 3 * samples.u_mm) > 0.8
    assert np.median(samples.u_mm) < 0.3
    assert np.allclose(views(1)[0].px_from_mm(samples.mm), samples.px, atol=1e-6)


def test_an_edge_that_shows_its_cut_face_is_less_sure():
    """From one side only: the lower edge faces the camera, the upper one faces away.

    The thickness is known by a calliper, so that its own uncertainty does not hide the difference.
    """
    outline = OUTLINES["rectangle"]
    photos = pictures(scene_of(outline, thickness_mm=12.0))
    found = traced(photos, height_mm=12.0, slab=Slab(12.0, 0.0, top_u_mm=0.02))
    edges = found.outline.edges
    uncertainties = [edge.u_mm for edge in edges]
    assert max(uncertainties) > 3 * min(uncertainties)


def test_cards_close_to_the_edges_are_not_taken_for_template():
    outline = OUTLINES["notched step"]
    scene = scene_of(outline, template=(0.80, 0.80, 0.78), cut_face=(0.7, 0.7, 0.68))
    scene = replace(scene, cards=laid_round(outline, gap_mm=8.0), floor=FLOORS["planks"])
    found = traced(pictures(scene, count=2)).outline
    assert kinds(found) == kinds(outline)
    assert farthest_mm(found, outline) < 0.5


# --- refusals ------------------------------------------------------------------------------------


@pytest.mark.parametrize("floor", FLOORS)
def test_a_bare_floor_is_refused(floor):
    bare = Scene(None, floor=FLOORS[floor], cards=laid_round(OUTLINES["rectangle"]))
    with pytest.raises(TraceError, match="No template stands out"):
        traced(pictures(bare))


def test_a_template_that_leaves_the_frame_is_refused_by_photograph_and_side():
    outline = OUTLINES["rectangle"]
    (photo,) = pictures(scene_of(outline))
    view = views(1)[0]
    right = float(view.px_from_mm(np.array([[320.0, 0.0, THICKNESS_MM]]))[0, 0])
    cut = replace(photo, pixels=photo.pixels[:, : int(right)].copy())
    with pytest.raises(TraceError, match=r"shed_1\.jpg: the template reaches the right side"):
        traced([cut])


# --- scans ---------------------------------------------------------------------------------------

DPI = 300
MM_PER_PX = 25.4 / DPI


def scan_of(outline: Outline, *, shape: int, paper: int) -> tuple[Photo, Survey]:
    """A shape on paper at 300 dpi, its edges covered to a sixteenth of a pixel."""
    size, times = (2480, 1900), 4
    view = ScanView(0, (MM_PER_PX, MM_PER_PX), (size[0] / 2, size[1] / 2))
    fine = np.full((size[1] * times, size[0] * times), paper, np.uint8)
    for ring, tone in zip(outline.rings, (shape, paper, paper), strict=False):
        points = np.concatenate([edge.curve.flattened(0.005)[:-1] for edge in ring.edges])
        px = (view.px_from_mm(points) + 0.5) * times - 0.5
        cv2.fillPoly(fine, [np.round(px * 256).astype(np.int32)], tone, cv2.LINE_8, 8)
    grey = cv2.resize(fine, size, interpolation=cv2.INTER_AREA)
    pixels = np.repeat(grey[..., None], 3, axis=2)
    return Photo("scan.png", pixels), Survey((view,), (), 0.0, 1e-4, 0.0, 0.0)


@pytest.mark.parametrize(("shape", "paper"), [(20, 245), (245, 20)], ids=["black", "white"])
def test_a_scanned_shape_comes_back_to_a_tenth_of_a_millimetre(shape, paper):
    #    ________
    #   |   o   /      lines, a slanted side, a fillet and a round hole
    #   (______/
    drawn = outline_of(
        rounded([(-80, -50), (60, -50), (85, 55), (-80, 55)], {0: 25.0}),
        round_hole((10.0, 5.0), 15.0),
    )
    photo, survey = scan_of(drawn, shape=shape, paper=paper)
    found = trace_template([photo], survey).outline
    assert kinds(found) == kinds(drawn)
    assert farthest_mm(found, drawn) < 0.1
    (fillet,) = [edge.curve for edge in found.outer.edges if isinstance(edge.curve, Arc)]
    assert fillet.radius == pytest.approx(25.0, abs=0.2)
    assert math.dist(found.holes[0].edges[0].curve.centre, (10.0, 5.0)) < 0.05
