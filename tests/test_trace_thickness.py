"""Thick templates: far and near edges, and the thickness itself, in rendered photographs.

The survey is the true one, so that what is seen here is the tracing alone.

    camera o
            \\             near edge: top, cut face, floor          far edge: top, floor
             \\_________
             |_________|
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from shapecut.capture.cards import our_cards
from shapecut.capture.marks import find_marks
from shapecut.capture.photo import Photo
from shapecut.findings import Level
from shapecut.shape.outline import Outline
from shapecut.stages.measuring import measure
from shapecut.survey.survey import Survey
from shapecut.survey.view import PhotoView
from shapecut.trace.slab import Slab
from shapecut.trace.trace import trace_template
from shapecut.trace.traced import Traced
from tests.outline_deviation import sampled, signed_distances_mm
from tests.renderer import LaidCard, Scene, Shot, photographed
from tests.scenes import OUTLINES, laid_round, looks_round, phone_camera

STEP = OUTLINES["notched step"]
TOP = (0.52, 0.38, 0.24)
SHADES = {"in light": 1.15, "like the top": 1.0, "half shaded": 0.6, "dark as the floor": 0.35}


@cache
def looks(count: int, tilt_deg: float, width: int = 2000) -> tuple[PhotoView, ...]:
    camera = phone_camera(width, width * 3 // 4)
    return looks_round(camera, count=count, distance_mm=1450.0, tilt_deg=tilt_deg)


def scene(thickness_mm: float, shade: float) -> Scene:
    face = tuple(shade * channel for channel in TOP)
    return Scene(
        STEP, thickness_mm=thickness_mm, template=TOP, cut_face=face, cards=laid_round(STEP)
    )


def pictures(of: Scene, views: tuple[PhotoView, ...], blur_px: float = 0.7) -> list[Photo]:
    return [
        photographed(of, Shot(view, blur_px=blur_px, oversampling=1), f"loft_{k + 1}.jpg")
        for k, view in enumerate(views)
    ]


@cache
def from_both_sides(thickness_mm: float) -> list[Photo]:
    return pictures(scene(thickness_mm, 0.75), looks(2, 35.0, 4000))


def traced(photos: list[Photo], views: tuple[PhotoView, ...], slab: Slab) -> Traced:
    marks = [
        sighting
        for k, photo in enumerate(photos)
        for sighting in find_marks(photo, k, our_cards()).sightings
    ]
    survey = Survey(views, (), slab.top_mm, 1e-4, 0.02, 0.03)
    return trace_template(photos, survey, marks, slab)


def worst_mm(found: Outline) -> float:
    """95th percentile of the boundary's distance from the true one, where both stand."""
    return float(np.percentile(np.abs(signed_distances_mm(sampled(found), STEP)), 95))


def test_the_stated_thickness_takes_the_parallax_out_of_an_oblique_photograph():
    views = looks(1, 40.0)
    photos = pictures(scene(6.0, 0.75), views)
    corrected, plain = (
        worst_mm(traced(photos, views, Slab.beside_cards(t)).outline) for t in (6.0, 0.0)
    )
    assert plain > 3.0
    assert corrected <= plain / 20


@pytest.mark.parametrize("stated", [3.0, 5.0], ids=["too thin", "too thick"])
def test_two_opposite_photographs_find_the_thickness(stated):
    found = traced(from_both_sides(4.0), looks(2, 35.0, 4000), Slab.beside_cards(stated))
    assert found.height_mm == pytest.approx(4.0, abs=0.2)
    assert worst_mm(found.outline) < 0.25
    (finding,) = found.findings
    assert (finding.level, finding.where) == (Level.CHECK, "thickness")
    assert f"not at {stated:g} mm as stated" in finding.what


def test_a_thickness_that_was_forgotten_is_found():
    found = traced(from_both_sides(6.0), looks(2, 35.0, 4000), Slab.beside_cards(0.0))
    assert found.height_mm == pytest.approx(6.0, abs=0.3)
    assert worst_mm(found.outline) < 0.3
    assert [finding.level for finding in found.findings] == [Level.CHECK]


def test_a_thickness_stated_right_is_a_note():
    found = traced(from_both_sides(4.0), looks(2, 35.0, 4000), Slab.beside_cards(4.0))
    assert found.height_mm == pytest.approx(4.0, abs=0.2)
    assert [finding.level for finding in found.findings] == [Level.NOTE]


def test_soft_photographs_do_not_overrule_a_stated_thickness_but_doubt_it():
    views = looks(2, 12.0, 1000)
    photos = pictures(scene(4.0, 0.75), views, blur_px=2.5)
    survey = Survey(views, (), 12.0, 1e-4, 0.02, 0.03)
    found = trace_template(photos, survey, (), Slab.beside_cards(12.0))
    assert found.height_mm == 12.0
    (doubt,) = (finding for finding in found.findings if finding.where == "thickness")
    assert doubt.level is Level.CHECK
    assert "contradict the thickness of 12 mm" in doubt.what
    assert max(edge.u_mm for edge in found.outline.edges) > 1.0


def test_one_photograph_keeps_the_stated_thickness():
    views = looks(1, 25.0)
    found = traced(pictures(scene(4.0, 0.75), views), views, Slab.beside_cards(4.5))
    assert found.height_mm == 4.5
    assert found.findings == ()


@pytest.mark.parametrize(("width", "blur_px"), [(2000, 1.5), (2000, 2.5), (1000, 0.7)])
def test_soft_and_reduced_photographs_keep_edges_and_thickness(width, blur_px):
    """What is known in pixels grows with the blur: no false edges, nothing read off the blur."""
    views = looks(2, 35.0, width)
    photos = pictures(scene(4.0, 0.75), views, blur_px)
    found = traced(photos, views, Slab.beside_cards(4.0))
    assert len(found.outline.edges) == len(STEP.edges)
    assert found.height_mm == pytest.approx(4.0, abs=0.2)
    assert worst_mm(found.outline) < 0.15
    assert min(edge.u_mm for edge in found.outline.edges) > 0.05 * blur_px


@pytest.mark.parametrize("shade", SHADES.values(), ids=SHADES)
def test_near_edges_are_the_top_s_whatever_the_cut_face_looks_like(shade):
    """A 6 mm face, 3 pixels wide: taken for the top or for the floor it would cost 3 mm."""
    views = looks(1, 25.0)
    found = traced(pictures(scene(6.0, shade), views), views, Slab.beside_cards(6.0))
    lower = min(found.outline.edges, key=lambda edge: edge.curve.at(0.5)[1])
    off = np.array([lower.curve.at(f)[1] for f in (0.1, 0.5, 0.9)]) + 260.0
    assert np.abs(off).max() < max(0.35, 2 * lower.u_mm)
    assert lower.u_mm < 1.0


def test_cards_on_the_template_still_show_the_cut_face_below_them():
    """Their plane is the template's face; the floor and the near edges' feet lie below it."""
    inner = tuple(
        LaidCard(laid.card, replace(laid.placement, origin=place), height_mm=5.0)
        for laid, place in zip(
            laid_round(STEP, count=4),
            [(-330.0, -100.0), (-120.0, -130.0), (250.0, 120.0), (300.0, -120.0)],
            strict=True,
        )
    )
    views = looks(1, 25.0)
    on_top = replace(scene(5.0, 0.95), cards=inner)
    found = measure(pictures(on_top, views), our_cards(), thickness_mm=5.0, cards_on="template")
    assert found.survey.height_mm == 0.0
    assert [len(ring.edges) for ring in found.outline.rings] == [6]
    for edge in found.outline.edges:
        true = min(STEP.edges, key=lambda e: abs(e.curve.length - edge.curve.length))
        assert edge.curve.length == pytest.approx(true.curve.length, abs=1.0)
