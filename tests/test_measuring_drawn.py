"""Measured from rendered photographs: a line drawn on paper, and templates that are pieced together
or larger than a photograph."""

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely

from shapecut.capture.cards import our_cards
from shapecut.errors import JobFileError, TraceError
from shapecut.job.reading import job_from_text
from shapecut.shape.placement import Placement
from shapecut.stages.measuring import measure, measure_scans
from shapecut.survey.view import ScanView
from shapecut.trace.drawn import Drawn, LineSide, ShownAs
from tests.drawn_scans import Scan, drawn_scan
from tests.line_drawings import strokes_along
from tests.outline_deviation import deviations_mm, rough_placement
from tests.renderer import LaidCard, Paint, Scene, Shot, photographed
from tests.scenes import (
    FLOORS,
    half_cards,
    laid_round,
    look_at,
    looks_round,
    outline_of,
    phone_camera,
    rounded,
)

#           ______
#    ______|      |      drawn on a sheet of 0.86 x 0.74 m
#   (_____________|
SHAPE = outline_of(
    rounded([(-300, -200), (300, -190), (310, 180), (40, 185), (30, 60), (-305, 55)], {0: 80.0})
)
SHEET = outline_of(rounded([(-430, -370), (430, -370), (430, 370), (-430, 370)]))
PENCIL, BLACK, RED = (0.30, 0.30, 0.31), (0.03, 0.03, 0.035), (0.40, 0.04, 0.04)


def sheet(width_mm, ink, *, floor, cards):
    quads = strokes_along(SHAPE, width_mm=width_mm, over_mm=6.0)
    paints = tuple(Paint(tuple(map(tuple, quad)), ink) for quad in quads)
    return Scene(
        SHEET, 0.0, template=(0.80, 0.80, 0.78), floor=FLOORS[floor], cards=cards, paints=paints
    )


def cards_on_sheet():
    """Five round the line, and one within it."""
    places = [(-330, -290), (0, -285), (330, -285), (335, 275), (-60, -40), (-330, 190)]
    turns = (0.1, -0.1, 0.05, 3.0, 1.6, 0.1)
    return tuple(
        LaidCard(card, Placement(at, turn), height_mm=1e-6)
        for card, at, turn in zip(half_cards(6), places, turns, strict=True)
    )


def photos_of(scene, views):
    return [
        photographed(scene, Shot(view, oversampling=1, jpeg_quality=92), f"loft_{k + 1}.jpg")
        for k, view in enumerate(views)
    ]


def farthest_mm(outline, true):
    off = deviations_mm(outline, true, rough_placement(outline, true))
    return float(np.abs(off).max())


@pytest.mark.parametrize(
    ("width_mm", "ink", "floor", "on_sheet"),
    [(0.7, PENCIL, "planks", True), (3.0, BLACK, "tiles", False), (3.0, RED, "concrete", True)],
    ids=["pencil", "marker", "red marker"],
)
def test_a_line_drawn_on_paper_is_measured_from_one_photograph(width_mm, ink, floor, on_sheet):
    cards = cards_on_sheet() if on_sheet else laid_round(SHEET)
    views = looks_round(phone_camera(2800, 2100), count=1, distance_mm=1400.0, tilt_deg=15.0)
    photos = photos_of(sheet(width_mm, ink, floor=floor, cards=cards), views)
    found = measure(photos, our_cards(), shown=ShownAs(Drawn.LINE)).outline
    assert [type(edge.curve).__name__ for edge in found.edges].count("Arc") == 1
    assert len(found.edges) == len(SHAPE.edges)
    assert farthest_mm(found, SHAPE) < 0.1


@pytest.mark.parametrize(("gap_mm", "bridged"), [(10.0, True), (60.0, False)])
def test_a_break_in_a_photographed_line_is_named_by_photograph_and_pixel(gap_mm, bridged):
    scene = sheet(3.0, BLACK, floor="planks", cards=cards_on_sheet())
    quads = strokes_along(SHAPE, width_mm=3.0, breaks=[("E1", 0.6, gap_mm)])
    scene = replace(scene, paints=tuple(Paint(tuple(map(tuple, q)), BLACK) for q in quads))
    views = looks_round(phone_camera(2400, 1800), count=1, distance_mm=1400.0, tilt_deg=15.0)
    photos = photos_of(scene, views)
    first = np.array(SHAPE.outer.edges[0].curve.at(0.6))
    x, y = views[0].px_from_mm(np.append(first, 0.0)[None])[0]
    if bridged:
        found = measure(photos, our_cards(), shown=ShownAs(Drawn.LINE))
        (where,) = (f.where for f in found.findings if "has a break of about" in f.what)
        assert farthest_mm(found.outline, SHAPE) < 0.1
    else:
        with pytest.raises(TraceError, match="draw the line through") as caught:
            measure(photos, our_cards(), shown=ShownAs(Drawn.LINE))
        where = str(caught.value).partition(":")[0]
    name, at = re.fullmatch(r"(\S+), near pixel \((.*)\)", where).groups()
    assert name == "loft_1.jpg"
    assert np.allclose([float(value) for value in at.split(",")], (x, y), atol=8)


# --- sheets taped together -----------------------------------------------------------------------

LONG = outline_of(
    rounded([(-900, -220), (900, -230), (905, 210), (300, 215), (295, 90), (-905, 95)], {0: 150.0})
)
SEAMS = (-350.0, 250.0)


def tape_over_seams():
    """A dark slit where two sheets meet, under brown tape that ends short of one side."""
    for x in SEAMS:
        yield Paint(((x - 0.6, -300), (x + 0.6, -300), (x + 0.6, 300), (x - 0.6, 300)), BLACK)
        tape = ((x - 25, -300), (x + 25, -300), (x + 25, 60), (x - 25, 60))
        yield Paint(tape, (0.40, 0.26, 0.13))


def long_template(**changes):
    places = [
        (-1020, -120), (-1030, 200), (-640, 240), (-520, -350), (-130, 240), (-60, -345),
        (160, 250), (330, -360), (560, 370), (760, -380), (1030, 120), (1040, -160),
    ]  # fmt: skip
    turns = np.random.default_rng(4).uniform(-3, 3, len(places))
    cards = tuple(
        LaidCard(card, Placement(at, float(turn)))
        for card, at, turn in zip(half_cards(12), places, turns, strict=True)
    )
    paints = tuple(tape_over_seams())
    return Scene(LONG, 3.0, cards=cards, paints=paints, floor=FLOORS["concrete"], **changes)


def test_seams_and_tape_of_sheets_put_together_are_neither_edge_nor_hole():
    camera = phone_camera(3200, 2400)
    views = looks_round(camera, count=2, distance_mm=2400.0, tilt_deg=18.0)
    found = measure(photos_of(long_template(), views), our_cards(), thickness_mm=3.0)
    assert len(found.outline.edges) == len(LONG.edges)
    assert not found.outline.holes
    assert farthest_mm(found.outline, LONG) < 1.0


def test_a_template_larger_than_any_photograph_is_joined_from_several():
    """Each shows a part of it, cut off by the frame, and cards that the next one shows too."""
    camera = phone_camera(2400, 1800)
    views = [
        replace(
            look_at(camera, (x, -300.0 * side, 1250.0), (x, 0.0, 0.0)),
            photo=k,
        )
        for k, (x, side) in enumerate((x, side) for x in (-620, 0, 620) for side in (-1, 1))
    ]
    found = measure(photos_of(long_template(), views), our_cards(), thickness_mm=3.0)
    assert len(found.outline.edges) == len(LONG.edges)
    assert not found.outline.holes
    assert farthest_mm(found.outline, LONG) < 1.0


def framed(*, grown_mm):
    corners = [(-230, -90), (200, -90), (235, 100), (-230, 95)]
    polygon = shapely.Polygon(corners).buffer(grown_mm, join_style="mitre")
    return list(shapely.get_coordinates(shapely.orient_polygons(polygon))[:-1].tolist())


def test_a_line_larger_than_the_scanner_is_joined_from_two_scans():
    """465 mm on a glass of 310 mm; a marker's line as a frame 3 mm wide."""
    outer, inner = (rounded([tuple(c) for c in framed(grown_mm=g)]) for g in (1.5, -1.5))
    hole = [curve.reversed() for curve in reversed(inner)]
    by_name = {card.name: card for card in our_cards().cards}
    cards = (
        LaidCard(by_name["card 101"], Placement((-40.0, 150.0), 0.1)),
        LaidCard(by_name["card 102"], Placement((30.0, -140.0), -0.2)),
    )
    mm_per_px = (25.4 / 150, 25.4 / 150)
    size = (round(310 / mm_per_px[0]), round(400 / mm_per_px[1]))
    scans = []
    for k, (middle, turn) in enumerate([((-110.0, 0.0), 0.02), ((115.0, 5.0), -0.03)]):
        view = ScanView(k, mm_per_px, ((size[0] - 1) / 2, (size[1] - 1) / 2))
        scan = Scan(view.placed(Placement(middle, turn)), size)
        name = f"part_{k + 1}.png"
        scans.append(drawn_scan(scan, name, outline_of(outer, hole), cards, colour=(35, 35, 40)))
    found = measure_scans(scans, our_cards(), shown=ShownAs(Drawn.LINE)).outline
    true = outline_of(rounded([tuple(c) for c in framed(grown_mm=0.0)]))
    assert len(found.edges) == 4
    assert farthest_mm(found, true) < 0.15


# --- the job file --------------------------------------------------------------------------------

JOB = """
[template]
photos = ["one.jpg"]
[boards]
width = "140 mm"
[stock]
lengths = [{ length = "4 m" }]
"""


def test_the_job_says_what_the_outline_follows():
    assert job_from_text(JOB).template.shown == ShownAs()
    line = JOB.replace("[boards]", 'drawn = "line"\nline_side = "inner"\n[boards]')
    assert job_from_text(line).template.shown == ShownAs(Drawn.LINE, LineSide.INNER)
    opening = JOB.replace("[boards]", 'drawn = "opening"\n[boards]')
    assert job_from_text(opening).template.shown == ShownAs(Drawn.OPENING)


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ('drawn = "lines"', "template.drawn"),
        ('drawn = "line"\nline_side = "left"', "template.line_side"),
        ('line_side = "inner"', 'line_side is for drawn = "line"'),
        ('drawn = "opening"\nthickness = "3 mm"', "leave thickness out"),
    ],
)
def test_ways_of_drawing_that_contradict_each_other_are_refused(keys, says):
    with pytest.raises(JobFileError, match=says):
        job_from_text(JOB.replace("[boards]", f"{keys}\n[boards]"))
