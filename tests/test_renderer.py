"""The test renderer against exact projection and brute force: what all other tests lean on."""

import math
from dataclasses import replace
from statistics import NormalDist

import cv2
import numpy as np
import pytest
import shapely

from shapecut.capture.cards import Card, square_mark
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Placement
from shapecut.survey.view import Camera, PhotoView
from tests.renderer import (
    INK,
    PAPER,
    Floor,
    LaidCard,
    Scene,
    Shot,
    exposed_light,
    linear_light,
    photographed,
)
from tests.scenes import (
    FLOORS,
    OUTLINES,
    half_cards,
    laid_round,
    look_at,
    outline_of,
    phone_camera,
    rounded,
)

RED, GREEN, BLUE = (0.8, 0.0, 0.0), (0.0, 0.8, 0.0), (0.0, 0.0, 0.8)
SLANTED = outline_of(rounded([(-300, -205), (310, -190), (305, 215), (-290, 180)]))
LENSES = [(0.0,) * 5, (-0.12, 0.05, 0.001, -0.0015, 0.01), (0.06, -0.02, -0.001, 0.0, 0.0)]


def coloured(outline: Outline, thickness_mm: float) -> Scene:
    """Red top, green cut faces, blue floor: each channel is one surface's part of a pixel."""
    return Scene(outline, thickness_mm, RED, GREEN, Floor(colour=BLUE))


def crossing(light: np.ndarray, column: int, near_row: float, reach: int = 5) -> float:
    """Row where a blurred edge crosses half between its two sides, on one column of pixels.

    A straight edge blurred by a Gaussian is a normal distribution, straight on its own scale.
    """
    rows = np.arange(round(near_row) - reach, round(near_row) + reach + 1)
    profile = light[rows, column].astype(float)
    part = (profile - profile[0]) / (profile[-1] - profile[0])
    i = int(np.nonzero((part[:-1] < 0.5) & (part[1:] >= 0.5))[0][0])
    a, b = (NormalDist().inv_cdf(float(part[k])) for k in (i, i + 1))
    return float(rows[i] - a / (b - a))


def rows_at(view: PhotoView, start: np.ndarray, end: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Rows (N,) where a straight line in space (3,) to (3,) passes pixel columns."""
    line = view.px_from_mm(start + np.linspace(0, 1, 20001)[:, None] * (end - start))
    order = np.argsort(line[:, 0])
    return np.interp(columns, line[order, 0], line[order, 1])


@pytest.mark.parametrize("lens", LENSES)
@pytest.mark.parametrize("thickness_mm", [0.0, 25.0])
def test_edges_cross_half_where_they_are_projected(lens, thickness_mm):
    """Far edge: top against floor.  Near edge: top against cut face, cut face against floor."""
    camera = phone_camera(1200, 900, lens)
    view = look_at(camera, (-150.0, -600.0, 700.0))
    light = exposed_light(coloured(SLANTED, thickness_mm), Shot(view, blur_px=0.8))
    near, far = SLANTED.edges[0].curve, SLANTED.edges[2].curve
    checks = [(far, thickness_mm, 0), (near, thickness_mm, 0), (near, 0.0, 2)]
    worst = 0.0
    for line, height, channel in checks:
        start, end = (np.array([*point, height]) for point in (line.start, line.end))
        ends = sorted(view.px_from_mm(np.array([start, end]))[:, 0])
        columns = np.arange(math.ceil(ends[0]) + 15, math.floor(ends[1]) - 15, 7)
        columns = columns[(columns > 10) & (columns < 1190)]
        for column, row in zip(columns, rows_at(view, start, end, columns), strict=True):
            if 10 < row < 890:
                worst = max(worst, abs(crossing(light[:, :, channel], column, row) - row))
    assert worst < 0.003


def test_sides_of_a_printed_mark_cross_half_where_they_are_projected():
    card = Card("big", (square_mark("ArUco 4x4 50", 7, side_mm=300),))
    view = look_at(phone_camera(1200, 900, LENSES[1]), (60.0, -500.0, 600.0))
    laid = LaidCard(card, Placement((20.0, -10.0), 0.05))
    light = exposed_light(Scene(None, cards=(laid,)), Shot(view, blur_px=0.8))
    (left, top), (right, _), *_ = card.marks[0].corners_mm
    ends = laid.placement.points_to_plane(np.array([(left, top), (right, top)]))
    start, end = np.column_stack([ends, [0.0, 0.0]])
    span = view.px_from_mm(np.array([start, end]))[:, 0]
    columns = np.arange(math.ceil(span[0]) + 10, math.floor(span[1]) - 10, 5)
    rows = rows_at(view, start, end, columns)
    found = [crossing(light[:, :, 0], c, r) for c, r in zip(columns, rows, strict=True)]
    assert np.abs(found - rows).max() < 0.004


def test_a_far_edge_hides_its_cut_face_and_a_near_one_shows_it():
    view = look_at(phone_camera(1200, 900), (0.0, -700.0, 600.0))
    light = linear_light(coloured(OUTLINES["rectangle"], 30.0), view)
    green = light[:, :, 1] > 0.4
    low, high = view.px_from_mm(np.array([(0.0, -250.0, 0.0), (0.0, -250.0, 30.0)]))[:, 1]
    rows = np.nonzero(green[:, round(view.px_from_mm(np.array([(0.0, -250.0)]))[0, 0])])[0]
    assert rows.min() == pytest.approx(high, abs=1.0)
    assert rows.max() == pytest.approx(low, abs=1.0)
    assert not green[: math.floor(high) - 2].any()


def test_straight_above_only_the_top_face_shows():
    view = look_at(phone_camera(400, 300), (0.0, 0.0, 1500.0))
    light = linear_light(coloured(OUTLINES["rectangle"], 30.0), view)
    assert not light[:, :, 1].any()
    px = view.px_from_mm(np.array([(-400.0, -250.0, 30.0), (400.0, 250.0, 30.0)]))
    lens_bend = 0.01
    area = abs(float(np.prod(px[1] - px[0])))
    assert float(light[:, :, 0].sum()) / RED[0] == pytest.approx(area, rel=lens_bend)


def test_a_hole_shows_the_cut_face_across_it():
    view = look_at(phone_camera(1200, 900), (120.0, -700.0, 600.0))
    light = linear_light(coloured(OUTLINES["post hole"], 20.0), view)
    points = [(120.0, 40.0 + 60.0, 10.0), (120.0, 40.0 - 60.0 + 5.0, 0.0), (120.0, 70.0, 0.0)]
    far_face, hidden_floor, floor = light[
        tuple(np.rint(view.px_from_mm(np.array(points))).astype(int).T[::-1])
    ]
    assert far_face == pytest.approx(GREEN, abs=1e-6)
    assert hidden_floor == pytest.approx(RED, abs=1e-6)
    assert floor == pytest.approx(BLUE, abs=1e-6)


@pytest.mark.parametrize("name", ["post hole", "notched step"])
def test_every_pixel_agrees_with_brute_force_ray_casting(name):
    """A strongly distorting lens, close up, the template reaching past the frame on three sides."""
    scene = coloured(OUTLINES[name], 35.0)
    view = look_at(Camera((64, 48), 40.0, (32.2, 22.9), LENSES[1]), (150.0, -330.0, 420.0))
    expected = ray_cast(scene, view, per_side=8)
    difference = np.abs(linear_light(scene, view) - expected)
    # 64 rays a pixel: a border that crosses a pixel is known to about an eighth of it.
    assert difference.max() < 0.8 / 8
    assert difference.mean() < 0.001


def ray_cast(scene: Scene, view: PhotoView, per_side: int) -> np.ndarray:
    """Mean colour of many rays a pixel, each followed down through the template's height."""
    outline, t = scene.outline, scene.thickness_mm
    assert outline is not None
    rings = [
        np.concatenate([edge.curve.flattened(0.01)[:-1] for edge in ring.edges])
        for ring in outline.rings
    ]
    shape = shapely.Polygon(rings[0], rings[1:])
    shapely.prepare(shape)
    width, height = view.camera.size
    offsets = (np.arange(per_side) + 0.5) / per_side - 0.5
    x = (np.arange(width)[:, None] + offsets).ravel()
    y = (np.arange(height)[:, None] + offsets).ravel()
    px = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    high, low = view.mm_from_px(px, t), view.mm_from_px(px, 0.0)
    colours = np.tile(np.array(scene.floor.colour), (len(px), 1))
    for depth in np.linspace(0.0, 1.0, 31)[::-1]:
        inside = shapely.contains_xy(shape, high + depth * (low - high))
        colours[inside] = scene.template if depth == 0 else scene.cut_face
    split = colours.reshape(height, per_side, width, per_side, 3)
    return split.mean(axis=(1, 3))


@pytest.mark.parametrize("height_mm", [0.0, 40.0])
def test_marks_decode_where_they_are_projected(height_mm):
    """OpenCV's own corners lie inwards of the true ones, on whole pixels; their mean suffers less.

    Where a mark's sides are to a hundredth of a pixel is tested above.
    """
    outline = OUTLINES["rectangle"]
    cards = half_cards(4)
    places = [(-250.0, -120.0), (240.0, -110.0), (-230.0, 110.0), (250.0, 120.0)]
    laid = tuple(
        LaidCard(card, Placement(place, 0.7 * k), height_mm)
        for k, (card, place) in enumerate(zip(cards, places, strict=True))
    )
    scene = Scene(outline if height_mm else None, height_mm, cards=laid, floor=FLOORS["tiles"])
    view = look_at(phone_camera(), (200.0, -500.0, 900.0))
    grey = cv2.cvtColor(photographed(scene, Shot(view)).pixels, cv2.COLOR_RGB2GRAY)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(grey)
    found = dict(zip(numbers.ravel().tolist(), (c[0] for c in corners), strict=True))
    for card in laid:
        for mark in card.card.marks:
            plane = card.placement.points_to_plane(np.array(mark.corners_mm))
            true = view.px_from_mm(np.column_stack([plane, np.full(4, height_mm)]))
            offset = found.pop(mark.number).mean(axis=0) - true.mean(axis=0)
            assert np.abs(offset).max() < 0.75
    assert not found


def test_cards_are_white_paper_with_black_ink():
    card = half_cards(1)[0]
    view = look_at(phone_camera(800, 600), (0.0, 0.0, 300.0))
    light = linear_light(Scene(None, cards=(LaidCard(card, Placement()),)), view)
    x, y = card.marks[0].corners_mm[0]
    for place, colour in (((0.0, 0.0), PAPER), ((x + 2, y - 2), INK), ((x - 2, y + 2), PAPER)):
        column, row = np.rint(view.px_from_mm(np.array([place])))[0].astype(int)
        assert light[row, column] == pytest.approx(colour, abs=1e-5)


def test_the_floor_keeps_its_mean_and_shows_its_seams():
    floor = replace(FLOORS["tiles"], turn_rad=0.0, variation=0.0, grain=0.0)
    view = look_at(phone_camera(800, 600), (150.0, 150.0, 800.0), (150.0, 150.0, 0.0))
    light = linear_light(Scene(None, floor=floor), view)
    tone = light[:, :, 0] / floor.colour[0]
    column, row = np.rint(view.px_from_mm(np.array([(150.0, 150.0)])))[0].astype(int)
    assert tone[row, column] == pytest.approx(1.0, abs=1e-5)
    # One seam's width, read as excess light along a row that crosses it at x = 300 mm.
    excess = float(np.sum(tone[row, column : column + 200] - 1)) / (floor.seam_tone - 1)
    px_per_mm = (
        float(np.diff(view.px_from_mm(np.array([(298.0, 150.0), (302.0, 150.0)]))[:, 0])[0]) / 4
    )
    assert excess / px_per_mm == pytest.approx(floor.seam_mm, rel=0.01)


def test_the_same_seed_gives_the_same_photograph_and_another_does_not():
    scene = Scene(
        OUTLINES["rectangle"], cards=laid_round(OUTLINES["rectangle"]), floor=FLOORS["planks"]
    )
    view = look_at(phone_camera(400, 300), (0.0, -300.0, 1200.0))
    shot = Shot(view, sharpening=0.5, jpeg_quality=92, falloff=0.2)
    first, again = photographed(scene, shot), photographed(scene, shot)
    other = photographed(scene, replace(shot, seed=2))
    assert np.array_equal(first.pixels, again.pixels)
    assert not np.array_equal(first.pixels, other.pixels)
    assert first.name == "photo_1.jpg"
    assert first.focal_35mm == pytest.approx(26.0)


def test_a_tiled_floor_up_to_the_horizon_is_refused():
    view = look_at(phone_camera(400, 300), (0.0, -2000.0, 300.0), (0.0, 0.0, 300.0))
    with pytest.raises(ValueError, match="horizon"):
        linear_light(Scene(None, floor=FLOORS["tiles"]), view)
