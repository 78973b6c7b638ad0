"""Random scenes as they come: any material on any floor, in any light, with things lying about."""

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np

from shapecut.shape.outline import Outline
from shapecut.shape.placement import Placement, Point
from tests.lighting import Band, Glare, Lighting
from tests.renderer import Colour, Floor, LaidCard, Mottle, Paint, Scene, Shot, Thing
from tests.scenes import (
    laid_round,
    look_at,
    outline_of,
    phone_camera,
    random_outline,
    rounded,
)

__all__ = ["FLOORS", "MATERIALS", "RoughScene", "rough_scene"]

LEAST_STEP = 11.0
"""Least difference in CIE L*, a*, b* between template and floor: weaker ones are drawn again."""

CARD_REACH_MM = 240.0
"""Cards whose middles are this far apart do not overlap."""

FLOORS = {
    "brown deck": Floor(
        colour=(0.20, 0.115, 0.065),
        tile_mm=(2400.0, 140.0),
        seam_mm=6.0,
        seam_tone=0.12,
        bond=0.37,
        variation=0.10,
        grain=0.10,
        grain_mm=(60.0, 2.0),
        mottles=(Mottle(0.08, (400.0, 12.0)),),
    ),
    "grey deck": Floor(
        colour=(0.26, 0.25, 0.23),
        tile_mm=(2000.0, 120.0),
        seam_mm=5.0,
        seam_tone=0.15,
        bond=0.5,
        variation=0.12,
        grain=0.12,
        grain_mm=(50.0, 1.5),
    ),
    "tiles": Floor(
        colour=(0.24, 0.24, 0.25),
        tile_mm=(300.0, 300.0),
        seam_mm=5.0,
        seam_tone=1.7,
        variation=0.06,
        grain=0.03,
        mottles=(Mottle(0.05, (25.0, 25.0)),),
    ),
    "terracotta": Floor(
        colour=(0.29, 0.12, 0.07),
        tile_mm=(200.0, 200.0),
        seam_mm=8.0,
        seam_tone=1.9,
        variation=0.10,
        mottles=(Mottle(0.07, (15.0, 15.0)),),
    ),
    "concrete": Floor(
        colour=(0.25, 0.25, 0.235),
        grain=0.08,
        grain_mm=(1.5, 1.5),
        mottles=(Mottle(0.06, (7.0, 7.0)), Mottle(0.05, (120.0, 90.0))),
    ),
    "grass": Floor(
        colour=(0.09, 0.14, 0.035),
        mottles=(
            Mottle(0.30, (14.0, 2.5), (1.0, 0.8, 0.9), 0.3),
            Mottle(0.30, (14.0, 2.5), (0.8, 1.0, 0.6), 1.9),
            Mottle(0.16, (90.0, 70.0), (1.0, 0.7, 0.6)),
        ),
    ),
    "carpet": Floor(
        colour=(0.16, 0.05, 0.05),
        tile_mm=(70.0, 70.0),
        seam_mm=0.5,
        tile_colours=((0.17, 0.045, 0.05), (0.06, 0.06, 0.11), (0.22, 0.16, 0.09)),
        grain=0.10,
        grain_mm=(2.0, 2.0),
    ),
    "parquet": Floor(
        colour=(0.33, 0.19, 0.09),
        tile_mm=(350.0, 60.0),
        seam_mm=1.0,
        seam_tone=0.4,
        bond=0.5,
        variation=0.14,
        grain=0.06,
        grain_mm=(40.0, 1.5),
    ),
}
"""By name."""

MATERIALS: dict[str, tuple[Colour, tuple[Mottle, ...]]] = {
    "white card": ((0.78, 0.78, 0.76), ()),
    "grey board": ((0.42, 0.42, 0.41), (Mottle(0.03, (2.0, 2.0)),)),
    "brown cardboard": (
        (0.46, 0.32, 0.19),
        (Mottle(0.03, (30.0, 2.0)), Mottle(0.02, (60.0, 60.0))),
    ),
    "pale cardboard": ((0.60, 0.47, 0.31), (Mottle(0.02, (40.0, 40.0)),)),
    "hardboard": ((0.13, 0.075, 0.042), (Mottle(0.05, (3.0, 3.0)),)),
    "plywood": ((0.55, 0.40, 0.25), (Mottle(0.07, (150.0, 5.0)),)),
}
"""Colour and texture of the template's face, by name."""

LIGHTS = ("even", "even", "hard shadow", "railing", "soft shadow", "gradient")
PRINTS = ("none", "none", "logos", "text", "stripe to the edge", "tape", "crease")
THINGS = ("nothing", "nothing", "pencil", "tape measure", "shoe box")
CARDS = ("clear", "clear", "near", "over the edge")
GLARES = ("none", "none", "none", "floor", "template")


@dataclass(frozen=True)
class RoughScene:
    """A scene, how it is photographed, and what it is a case of.

    Attributes:
        scene: With the true outline.
        shots: One or two.
        stated_mm: The thickness that the person states.
        traits: Names of what it has, by kind: floor, material, light and so on.
    """

    scene: Scene
    shots: tuple[Shot, ...]
    stated_mm: float
    traits: dict[str, str]


def rough_scene(seed: int) -> RoughScene:
    """A random scene; the same for the same seed."""
    rng = np.random.default_rng([seed, 4])
    traits = {
        name: str(rng.choice(list(choices)))
        for name, choices in {
            "light": LIGHTS, "print": PRINTS, "things": THINGS, "cards": CARDS, "glare": GLARES,
        }.items()
    }  # fmt: skip
    outline = _outline(rng, seed)
    thickness = 0.0 if rng.random() < 0.25 else float(rng.uniform(1, 8))
    if traits["cards"] == "over the edge":
        thickness = min(thickness, 1.0)
    floor_name, material, floor, colour = _contrasting(rng)
    scene = Scene(
        outline,
        thickness_mm=thickness,
        template=colour,
        cut_face=_scaled(colour, float(rng.uniform(0.5, 1.3))),
        floor=floor,
        cards=_cards(outline, traits["cards"], thickness, rng, seed),
        seed=seed,
        face=MATERIALS[material][1],
        paints=_paints(outline, traits["print"], colour, rng),
        lighting=_lighting(traits, rng),
    )
    shots = _shots(rng, seed)
    scene = replace(scene, things=_things(scene, traits["things"], rng))
    reading = thickness + 0.4 * float(rng.standard_normal()) if thickness else 0.0
    traits |= {
        "floor": floor_name,
        "material": material,
        "thickness": "paper" if thickness == 0 else "up to 4 mm" if thickness < 4 else "4 to 8 mm",
        "step": _step_name(lab_step(colour, floor.colour)),
        "photographs": str(len(shots)),
    }
    return RoughScene(scene, shots, max(0.0, reading), traits)


def lab_step(a: Colour, b: Colour) -> float:
    """Difference of two reflectances in CIE L*, a*, b*."""
    light = np.array([[a, b]], np.float32)
    code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    lab = cv2.cvtColor(code.astype(np.float32), cv2.COLOR_RGB2LAB)[0]
    return float(np.linalg.norm(lab[0] - lab[1]))


def _step_name(step: float) -> str:
    return "weak, below 20" if step < 20 else "middling" if step < 35 else "strong, above 35"


def _contrasting(rng: np.random.Generator) -> tuple[str, str, Floor, Colour]:
    """Floor and material that can be told apart: names, floor, the template's colour."""
    while True:
        floor_name, material = str(rng.choice(list(FLOORS))), str(rng.choice(list(MATERIALS)))
        floor = FLOORS[floor_name]
        tone = float(rng.uniform(0.75, 1.25))
        floor = replace(
            floor,
            colour=_scaled(floor.colour, tone),
            tile_colours=tuple(_scaled(c, tone) for c in floor.tile_colours),
            turn_rad=float(rng.uniform(-1.5, 1.5)),
        )
        colour = _scaled(MATERIALS[material][0], float(rng.uniform(0.85, 1.1)))
        if all(lab_step(colour, c) > LEAST_STEP for c in (floor.colour, *floor.tile_colours)):
            return floor_name, material, floor, colour


def _scaled(colour: Colour, factor: float) -> Colour:
    red, green, blue = (min(0.88, c * factor) for c in colour)
    return red, green, blue


# --- the template and the cards ------------------------------------------------------------------


def _outline(rng: np.random.Generator, seed: int) -> Outline:
    """A random board, or one of the plainer shapes, turned at random."""
    if rng.random() < 0.5:
        return random_outline(seed)
    x, y = float(rng.uniform(300, 520)), float(rng.uniform(180, 300))
    a, b = float(rng.uniform(0.2, 0.5)), float(rng.uniform(0.3, 0.6))
    across, notch, high = x - 2 * a * x, y - 2 * b * y, y - b * y
    shapes: list[list[Point]] = [
        [(-x, -y), (x, -y), (x, y), (-x, y)],
        [(-x, -y), (x, -y), (x, y), (across, y), (across, notch), (-x, notch)],
        [
            (-x, -y),
            (x, -y),
            (x, y),
            (a * x, y),
            (a * x, high),
            (-a * x, high),
            (-a * x, y),
            (-x, y),
        ],
        [(-x, -y), (x, -0.8 * y), (0.9 * x, y), (-0.7 * x, 0.9 * y)],
    ]
    corners = shapes[int(rng.integers(len(shapes)))]
    radii = {1: float(rng.uniform(60, 120))} if rng.random() < 0.3 else {}
    curves = rounded(corners, radii)
    turn = Placement(turn_rad=float(rng.uniform(-0.8, 0.8)))
    return outline_of([curve.placed(turn) for curve in curves])


def _cards(
    outline: Outline, how: str, thickness: float, rng: np.random.Generator, seed: int
) -> tuple[LaidCard, ...]:
    """Six cards round the template; one of them may lie over its edge."""
    laid = list(laid_round(outline, gap_mm=8.0 if how == "near" else 40.0, seed=seed))
    if how == "over the edge":
        # Corners stay in sight: what a card hides there, nobody can measure.
        line = max((edge.curve for edge in outline.outer.edges), key=lambda curve: curve.length)
        middle, along = np.array(line.at(0.5)), np.array(line.direction(0.5))
        # Its sheet reaches about 90 mm from its middle: half of that lies over the edge.
        x, y = middle + float(rng.uniform(40, 75)) * np.array([along[1], -along[0]])
        over = replace(
            laid[0], placement=replace(laid[0].placement, origin=(x, y)), height_mm=thickness or 0.1
        )
        clear = [
            card
            for card in laid[1:]
            if math.dist(card.placement.origin, over.placement.origin) > CARD_REACH_MM
        ]
        laid = [over, *clear]
    return tuple(laid)


def _shots(rng: np.random.Generator, seed: int) -> tuple[Shot, ...]:
    side, tilt = rng.uniform(0, math.tau), rng.uniform(0.08, 0.5)
    shots = []
    for k in range(1 if rng.random() < 0.7 else 2):
        turn = side + k * math.pi * rng.uniform(0.6, 1.0)
        out, up = 1750 * math.sin(tilt), 1750 * math.cos(tilt)
        place = (out * math.cos(turn), out * math.sin(turn), up)
        shots.append(
            Shot(
                look_at(phone_camera(2500, 1875), place, photo=k),
                exposure=float(rng.uniform(0.8, 1.1)),
                falloff=float(rng.uniform(0, 0.25)),
                blur_px=float(rng.uniform(0.5, 0.9)),
                oversampling=1,
                noise=float(rng.uniform(0.004, 0.015)),
                sharpening=float(rng.uniform(0, 0.5)),
                jpeg_quality=int(rng.integers(85, 96)),
                seed=seed * 10 + k,
            )
        )
    return tuple(shots)


# --- what is on it and about it ------------------------------------------------------------------


def _rectangle(middle: Point, size: tuple[float, float], turn: float) -> tuple[Point, ...]:
    at = Placement(middle, turn)
    x, y = size[0] / 2, size[1] / 2
    return tuple(at.to_plane(corner) for corner in ((-x, -y), (x, -y), (x, y), (-x, y)))


def _paints(
    outline: Outline, what: str, colour: Colour, rng: np.random.Generator
) -> tuple[Paint, ...]:
    """Print, tape or a crease somewhere on the face."""
    dark = _scaled(colour, float(rng.uniform(0.12, 0.45)))
    inks = [dark, (0.30, 0.06, 0.05), (0.05, 0.10, 0.28)]
    ink = inks[int(rng.integers(3))]
    points = np.array([edge.curve.start for edge in outline.outer.edges])
    spot = rng.dirichlet(np.ones(len(points))) @ points
    middle, turn = (float(spot[0]), float(spot[1])), float(rng.uniform(-1.5, 1.5))
    at = Placement(middle, turn)
    match what:
        case "logos":
            ring = [
                (float(55 * math.cos(a)), float(55 * math.sin(a)))
                for a in np.linspace(0, math.tau, 40, endpoint=False)
            ]
            disc = tuple(at.to_plane((x + 90, y)) for x, y in ring)
            return (Paint(_rectangle(middle, (120, 90), turn), ink), Paint(disc, ink))
        case "text":
            words = []
            for line in range(6):
                x = -140.0
                while x < 140:
                    width = float(rng.uniform(8, 45))
                    place = at.to_plane((x + width / 2, 60.0 - 18 * line))
                    words.append(Paint(_rectangle(place, (width, 8), turn), ink))
                    x += width + 7
            return tuple(words)
        case "stripe to the edge":
            return (Paint(_rectangle(middle, (3000, float(rng.uniform(12, 45))), turn), ink),)
        case "tape":
            tapes = [(0.55, 0.42, 0.24), (0.75, 0.75, 0.73), (0.33, 0.22, 0.11), (0.36, 0.37, 0.38)]
            tape = tapes[int(rng.integers(len(tapes)))]
            return (Paint(_rectangle(middle, (3000, 50), turn), tape),)
        case "crease":
            light, shade = _scaled(colour, 1.12), _scaled(colour, 0.7)
            above = at.to_plane((0.0, 2.0))
            return (
                Paint(_rectangle(above, (3000, 2.5), turn), light),
                Paint(_rectangle(middle, (3000, 2.0), turn), shade),
            )
        case _:
            return ()


def _lighting(traits: dict[str, str], rng: np.random.Generator) -> Lighting:
    """Shadows and glare."""
    lean = float(rng.uniform(0.4, 1.6)) * np.array(_unit(float(rng.uniform(0, math.tau))))
    sun = float(rng.uniform(0.55, 0.8))
    sky = (0.92, 1.0, 1.12)
    normal = float(rng.uniform(0, math.tau))
    bands: tuple[Band, ...] = ()
    gradient = (0.0, 0.0)
    match traits["light"]:
        case "even":
            sun, lean = 0.0, np.zeros(2)
        case "gradient":
            sun, lean = 0.0, np.zeros(2)
            gx, gy = 0.7 * np.array(_unit(normal))
            gradient = (float(gx), float(gy))
        case "hard shadow" | "soft shadow" as kind:
            soft = 3.0 if kind == "hard shadow" else float(rng.uniform(40, 150))
            bands = (Band(2500 + float(rng.uniform(-250, 250)), 5000, normal, soft),)
        case "railing":
            step, first = float(rng.uniform(90, 160)), float(rng.uniform(-60, 60))
            width = step * float(rng.uniform(0.25, 0.5))
            bands = (Band(first, width, normal, 10.0, every_mm=step),)
    glares = []
    if traits["glare"] != "none":
        reach = 560.0 if traits["glare"] == "floor" else 120.0
        x, y = reach * np.array(_unit(float(rng.uniform(0, math.tau))))
        radii = (float(rng.uniform(25, 70)), float(rng.uniform(25, 70)))
        glares = [Glare((float(x), float(y)), radii, float(rng.uniform(0.25, 0.9)))]
    return Lighting(
        sun=sun,
        sky=sky if sun else (1.0, 1.0, 1.0),
        lean=(float(lean[0]), float(lean[1])),
        bands=bands,
        gradient=gradient,
        glares=tuple(glares),
    )


def _unit(angle: float) -> tuple[float, float]:
    return math.cos(angle), math.sin(angle)


def _things(scene: Scene, what: str, rng: np.random.Generator) -> tuple[Thing, ...]:
    """Something that lies beside the template and touches neither it nor a card."""
    assert scene.outline is not None
    kinds: dict[str, tuple[tuple[float, float], float, Colour]] = {
        "pencil": ((175.0, 7.5), 7.0, (0.50, 0.36, 0.05)),
        "tape measure": ((420.0, 16.0), 1.0, (0.62, 0.50, 0.06)),
        "shoe box": ((300.0, 190.0), 60.0, (0.42, 0.30, 0.18)),
    }
    if what == "nothing":
        return ()
    size, height, colour = kinds[what]
    taken = [_hull(scene.outline)] + [
        laid.placement.points_to_plane(laid.paper_mm()) for laid in scene.cards
    ]
    for _ in range(300):
        middle = rng.uniform(-750, 750, 2)
        corners = _rectangle((float(middle[0]), float(middle[1])), size, float(rng.uniform(0, 3)))
        if all(_apart(np.array(corners), other, 25.0 + 0.5 * height) for other in taken):
            top = outline_of(rounded(list(corners)))
            return (Thing(top, height, colour, _scaled(colour, 0.7)),)
    return ()


def _hull(outline: Outline) -> np.ndarray:
    points = np.concatenate([edge.curve.flattened(1.0) for edge in outline.outer.edges])
    return cv2.convexHull(points.astype(np.float32))[:, 0].astype(float)


def _apart(a: np.ndarray, b: np.ndarray, gap: float) -> bool:
    """Whether a line parts two convex polygons by at least a gap."""
    for polygon in (a, b):
        for side in np.roll(polygon, -1, axis=0) - polygon:
            normal = np.array([side[1], -side[0]]) / np.linalg.norm(side)
            over = (a @ normal, b @ normal)
            if over[0].min() - over[1].max() > gap or over[1].min() - over[0].max() > gap:
                return True
    return False
