"""Ready-made parts of scenes for the renderer: outlines, cards round them, cameras, floors."""

import math

import numpy as np

from shapecut.capture.cards import Card, our_cards
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.shape.placement import Placement, Point
from shapecut.survey.view import Camera, PhotoView
from tests.renderer import Floor, LaidCard

__all__ = [
    "FLOORS",
    "OUTLINES",
    "half_cards",
    "laid_round",
    "look_at",
    "looks_round",
    "outline_of",
    "phone_camera",
    "random_outline",
    "round_hole",
    "rounded",
]

# --- outlines ------------------------------------------------------------------------------------


def rounded(corners: list[Point], radii: dict[int, float] | None = None) -> list[Curve]:
    """A closed chain of lines through corners, some of them replaced by tangent arcs.

    Args:
        corners: In mm, counter-clockwise round material.
        radii: Radius of the arc at a corner, by the corner's index.
    """
    joints: list[tuple[Point, Point, Arc | None]] = []
    for i, corner in enumerate(corners):
        radius = (radii or {}).get(i)
        before, after = corners[i - 1], corners[(i + 1) % len(corners)]
        arc = None if radius is None else _tangent_arc(before, corner, after, radius)
        joints.append((corner, corner, None) if arc is None else (arc.start, arc.end, arc))
    curves: list[Curve] = []
    for i, (_, leave, _) in enumerate(joints):
        arrive, _, arc = joints[(i + 1) % len(joints)]
        curves += [Line(leave, arrive)] + ([arc] if arc else [])
    return curves


def _tangent_arc(before: Point, corner: Point, after: Point, radius: float) -> Arc:
    here = np.array(corner)
    into, out = here - before, np.array(after) - here
    into, out = into / np.linalg.norm(into), out / np.linalg.norm(out)
    cross = float(into[0] * out[1] - into[1] * out[0])
    reach = radius * math.tan(abs(math.atan2(cross, float(into @ out))) / 2)
    start, end = here - reach * into, here + reach * out
    centre = start + math.copysign(radius, cross) * np.array([-into[1], into[0]])
    return Arc(_point(start), _point(end), _point(centre), cross > 0)


def _point(place: np.ndarray) -> Point:
    return (float(place[0]), float(place[1]))


def round_hole(centre: Point, radius: float) -> list[Curve]:
    """A full circle as two arcs, clockwise."""
    x, y = centre
    left, right = (x - radius, y), (x + radius, y)
    return [Arc(left, right, centre, False), Arc(right, left, centre, False)]


def outline_of(outer: list[Curve], *holes: list[Curve]) -> Outline:
    """An outline with its edges named `E1`, `E2`, … ring by ring."""
    numbers = iter(range(1, 1000))
    rings = [
        Ring(tuple(Edge(f"E{next(numbers)}", curve) for curve in curves))
        for curves in (outer, *holes)
    ]
    return Outline(rings[0], tuple(rings[1:]))


def _turned(outline: Outline, turn_rad: float) -> Outline:
    """About the plane's origin."""
    turn = Placement(turn_rad=turn_rad)
    outer, *holes = ([e.curve.placed(turn) for e in ring.edges] for ring in outline.rings)
    return outline_of(outer, *holes)


OUTLINES = {
    "rectangle": outline_of(rounded([(-400, -250), (400, -250), (400, 250), (-400, 250)])),
    "notched step": outline_of(
        rounded([(-450, -260), (450, -260), (450, 270), (130, 262), (128, 60), (-452, 55)])
    ),
    "rounded corner": outline_of(
        rounded([(-380, -250), (380, -250), (380, 250), (-380, 250)], {2: 140.0})
    ),
    "post hole": outline_of(
        rounded([(-420, -260), (420, -260), (420, 260), (-420, 260)]),
        round_hole((120.0, 40.0), 60.0),
    ),
    "acute angle": outline_of(rounded([(-450, -200), (470, -200), (90, 250), (-450, 250)])),
}
"""By name; each roughly centred on the origin, all sides but a few square to the axes."""


def random_outline(seed: int) -> Outline:
    """A board about 0.7–1.1 m long with a slanted end, a corner notch, an arc and maybe a hole."""
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(350, 550), rng.uniform(200, 320)
    slant, notch_x, notch_y = rng.uniform(30, 160), rng.uniform(90, 250), rng.uniform(80, 160)
    corners = [(-x, -y), (x - slant, -y), (x, y), (-x + notch_x, y), (-x + notch_x, y - notch_y)]
    corners += [(-x, y - notch_y)]
    outer = rounded(corners, {int(rng.choice([0, 2])): float(rng.uniform(60, 150))})
    holes = [round_hole((float(rng.uniform(0, 100)), -20.0), float(rng.uniform(35, 70)))]
    outline = outline_of(outer, *(holes if rng.random() < 0.5 else []))
    return _turned(outline, float(rng.uniform(-0.6, 0.6)))


# --- cards ---------------------------------------------------------------------------------------


def laid_round(
    outline: Outline,
    *,
    cards: tuple[Card, ...] | None = None,
    count: int = 6,
    gap_mm: float = 40.0,
    seed: int = 1,
) -> tuple[LaidCard, ...]:
    """Cards on the floor at even steps round the outline's bounding box, each turned at random.

    Args:
        outline: What they lie round.
        cards: The cards; our own half-sheet ones 1, 2, … when not given.
        count: How many of our own.
        gap_mm: Least distance of a card's paper from the bounding box.
        seed: Of the turns.
    """
    rng = np.random.default_rng(seed)
    chosen = cards or half_cards(count)
    reach = float(np.linalg.norm(LaidCard(chosen[0], Placement()).paper_mm(), axis=1).max())
    points = np.concatenate([edge.curve.flattened(1.0) for edge in outline.edges])
    (x0, y0), (x1, y1) = points.min(axis=0) - reach - gap_mm, points.max(axis=0) + reach + gap_mm
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    sides = [Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]
    around = sum(side.length for side in sides)
    laid = []
    for k, card in enumerate(chosen):
        way = (k + 0.5) / len(chosen) * around
        for side in sides:
            if way <= side.length:
                break
            way -= side.length
        turn = float(rng.uniform(-math.pi, math.pi))
        laid.append(LaidCard(card, Placement(side.at(way / side.length), turn)))
    return tuple(laid)


def half_cards(count: int) -> tuple[Card, ...]:
    """Our own half-sheet cards 1 to `count`."""
    by_name = {card.name: card for card in our_cards().cards}
    return tuple(by_name[f"card {number}"] for number in range(1, count + 1))


# --- cameras -------------------------------------------------------------------------------------


def phone_camera(
    width: int = 1600,
    height: int = 1200,
    distortion: tuple[float, float, float, float, float] = (-0.03, 0.02, 0.0003, -0.0002, 0.0),
) -> Camera:
    """A phone's main camera: about 26 mm equivalent, principal point a little off the middle."""
    return Camera(
        (width, height), 0.75 * width, (0.503 * width - 0.5, 0.497 * height - 0.5), distortion
    )


def look_at(
    camera: Camera,
    position: tuple[float, float, float],
    target: tuple[float, float, float] = (0.0, 0.0, 0.0),
    *,
    photo: int = 0,
    roll_rad: float = 0.0,
) -> PhotoView:
    """A camera at a position (mm) that points its axis at a target, held upright.

    Args:
        camera: The camera.
        position: Where it is; straight above the target, the top of the picture is the plane's +y.
        target: What is in its principal point.
        photo: Index of the picture among the job's.
        roll_rad: Turn of the camera about its axis.
    """
    forward = np.array(target, float) - position
    forward /= np.linalg.norm(forward)
    level = np.hypot(forward[0], forward[1]) > 1e-6
    right = np.cross(forward, (0.0, 0.0, 1.0) if level else (0.0, 1.0, 0.0))
    right /= np.linalg.norm(right)
    upright = np.array([right, np.cross(forward, right), forward])
    c, s = math.cos(roll_rad), math.sin(roll_rad)
    rotation = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]) @ upright
    return PhotoView(photo, camera, rotation, -rotation @ np.array(position, float))


def looks_round(
    camera: Camera, *, count: int, distance_mm: float, tilt_deg: float, first_deg: float = -90.0
) -> tuple[PhotoView, ...]:
    """Photographs from evenly spaced sides, all tilted alike from straight above."""
    tilt = math.radians(tilt_deg)
    views = []
    for k in range(count):
        side = math.radians(first_deg + 360.0 * k / count)
        out = distance_mm * math.sin(tilt)
        position = (out * math.cos(side), out * math.sin(side), distance_mm * math.cos(tilt))
        views.append(look_at(camera, position, photo=k))
    return tuple(views)


# --- floors --------------------------------------------------------------------------------------

FLOORS = {
    "concrete": Floor(colour=(0.17, 0.17, 0.16), grain=0.10, grain_mm=(1.5, 1.5)),
    "planks": Floor(
        colour=(0.16, 0.10, 0.06),
        tile_mm=(1800.0, 120.0),
        seam_mm=2.0,
        bond=0.38,
        variation=0.10,
        grain=0.12,
        grain_mm=(40.0, 1.5),
        turn_rad=0.3,
    ),
    "tiles": Floor(
        colour=(0.14, 0.15, 0.16),
        tile_mm=(300.0, 300.0),
        seam_mm=4.0,
        seam_tone=1.8,
        variation=0.05,
        grain=0.04,
        turn_rad=-0.2,
    ),
}
"""By name; all darker than the default template."""
