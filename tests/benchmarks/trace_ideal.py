"""The whole chain on ideal pictures: how near the outline comes when everything is as modelled.

    python -m tests.benchmarks.trace_ideal [scenes]

A template of 13 lines and arcs, 1.2 m long, among six single 100 mm marks on a plain floor is
rendered at 12 million pixels through a lens with k1 = -0.06; nothing is known of camera and cards
but the print's exact scale and the template's thickness.  Turn, cards, blur and noise differ from
scene to scene.  Each case is measured from one photograph tilted by 20 degrees, or from three.
"""

import math
import sys
from collections import Counter
from dataclasses import dataclass

import numpy as np

from shapecut.capture.cards import single_mark_cards
from shapecut.errors import ShapecutError
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Placement
from shapecut.stages.measuring import measure
from tests.outline_deviation import deviations_mm, rough_placement
from tests.renderer import Colour, Floor, Scene, Shot, photographed
from tests.scenes import laid_round, looks_round, outline_of, phone_camera, rounded

SCENES = 6
FIRST_SEED = 500
LONG_MM = 1200.0
SIZE = (4000, 3000)
DISTANCE_MM = 1900.0
TILT_DEG = 20.0
CARDS = single_mark_cards("AprilTag 36h11", 100.0)
FLOOR = Floor(colour=(0.16, 0.15, 0.14), grain=0.06, grain_mm=(1.5, 1.5))


@dataclass(frozen=True)
class Case:
    """What lies there, and from how many sides it is photographed."""

    name: str
    thickness_mm: float
    cut_face: Colour
    photos: int
    goal: int


CASES = (
    Case("paper, 1 photograph", 0.0, (0.5, 0.5, 0.5), 1, 20_000),
    Case("paper, 3 photographs", 0.0, (0.5, 0.5, 0.5), 3, 40_000),
    Case("4 mm, dark cut face, 1 photograph", 4.0, (0.25, 0.17, 0.10), 1, 8_000),
    Case("4 mm, bright cut face, 1 photograph", 4.0, (0.62, 0.48, 0.33), 1, 8_000),
    Case("4 mm, dark cut face, 3 photographs", 4.0, (0.25, 0.17, 0.10), 3, 40_000),
    Case("4 mm, bright cut face, 3 photographs", 4.0, (0.62, 0.48, 0.33), 3, 40_000),
)


def template(turn_rad: float) -> Outline:
    """Nine straight sides and four arcs, about the plane's origin."""
    corners = [(-600, -400), (480, -400), (600, -180), (600, 330), (250, 330), (250, 160)]
    corners += [(-80, 160), (-80, 400), (-600, 400)]
    curves = rounded([(float(x), float(y)) for x, y in corners], {0: 150, 2: 220, 6: 60, 8: 300})
    turn = Placement(turn_rad=turn_rad)
    return outline_of([curve.placed(turn) for curve in curves])


def scene_and_shots(case: Case, seed: int) -> tuple[Scene, tuple[Shot, ...]]:
    """The random scene of a case and a seed."""
    rng = np.random.default_rng(seed)
    outline = template(float(rng.uniform(-0.3, 0.3)))
    scene = Scene(
        outline,
        thickness_mm=case.thickness_mm,
        template=(0.52, 0.38, 0.24),
        cut_face=case.cut_face,
        floor=FLOOR,
        cards=laid_round(outline, cards=CARDS.cards[:6], seed=seed),
        seed=seed,
    )
    camera = phone_camera(*SIZE, distortion=(-0.06, 0.0, 0.0, 0.0, 0.0))
    views = looks_round(
        camera,
        count=case.photos,
        distance_mm=DISTANCE_MM,
        tilt_deg=TILT_DEG,
        first_deg=float(rng.uniform(0, 360)),
    )
    blur = float(rng.uniform(0.6, 0.8))
    return scene, tuple(
        Shot(view, blur_px=blur, oversampling=1, jpeg_quality=95, seed=10 * seed + k)
        for k, view in enumerate(views)
    )


def main() -> None:
    """Print the 95th percentile error of each case, as a fraction of the length."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else SCENES
    for case in CASES:
        errors, outcomes = [], Counter[str]()
        for seed in range(FIRST_SEED, FIRST_SEED + count):
            scene, shots = scene_and_shots(case, seed)
            assert scene.outline is not None
            try:
                found = measure(
                    [photographed(scene, shot) for shot in shots],
                    CARDS,
                    thickness_mm=case.thickness_mm,
                ).outline
            except ShapecutError as error:
                outcomes[f"refused: {error}"] += 1
                continue
            edges = len(scene.outline.edges)
            outcomes["right" if len(found.edges) == edges else f"{len(found.edges)} edges"] += 1
            start = rough_placement(found, scene.outline)
            errors.append(np.abs(deviations_mm(found, scene.outline, start)))
        p95 = float(np.percentile(np.concatenate(errors), 95)) if errors else math.nan
        worst = max((float(np.percentile(each, 95)) for each in errors), default=math.nan)
        print(
            f"{case.name:38} p95 {p95:.4f} mm (1/{LONG_MM / p95:,.0f}, goal 1/{case.goal:,}), "
            f"worst scene {worst:.4f} mm; "
            + ", ".join(f"{number} {outcome}" for outcome, number in outcomes.items())
        )


if __name__ == "__main__":
    main()
