"""How far measured edges are from the true ones, and how often their 95 % intervals hold.

Random templates of 0 to 7 mm with bright and dark cut faces, on random floors, are rendered from
one and from two sides and measured from the marks on, with a thickness stated as well as a person
reads it.  Every edge is compared with the true one at places along it, once the outlines are laid
on each other.

    python -m tests.benchmarks.trace_accuracy [scenes] [first seed]

The scenes of seeds 0 to 59 were looked at while the tracing's constants were chosen; those reported
are others.
"""

import math
import sys
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from shapecut.capture.cards import our_cards
from shapecut.errors import ShapecutError
from shapecut.findings import Level
from shapecut.shape.outline import Outline
from shapecut.stages.measuring import Measured, measure
from tests.edge_deviation import PLACES, edge_deviations
from tests.renderer import Scene, Shot, photographed
from tests.scenes import FLOORS, laid_round, look_at, phone_camera, random_outline

SCENES = 60
FIRST_SEED = 1000
"""Of scenes that no constant was chosen on."""
READING_MM = 0.5
"""Standard deviation of a thickness read by a person."""
COVERAGE = 1.96
"""Standard uncertainties in half a 95 % interval of a normal law."""


@dataclass(frozen=True)
class Trial:
    """A scene, its photographs' shots, and what the person says of its thickness."""

    scene: Scene
    shots: tuple[Shot, ...]
    stated_mm: float

    def measured(self) -> Measured:
        """The template as measured from the photographs."""
        photos = [photographed(self.scene, shot) for shot in self.shots]
        return measure(photos, our_cards(), thickness_mm=self.stated_mm)


def trial(seed: int) -> Trial:
    """A random scene; every second one is photographed from two opposite sides."""
    rng = np.random.default_rng(seed)
    outline = random_outline(seed)
    thickness = 0.0 if rng.random() < 0.2 else float(rng.uniform(1, 7))
    shade = rng.uniform(0.35, 0.65)
    tint = np.array([1.0, rng.uniform(0.7, 1.0), rng.uniform(0.45, 1.0)])
    face = tint * shade * rng.uniform(0.45, 1.35)
    floor = FLOORS[str(rng.choice(list(FLOORS)))]
    scene = Scene(
        outline,
        thickness_mm=thickness,
        template=tuple(tint * shade),
        cut_face=tuple(face),
        floor=replace(floor, turn_rad=float(rng.uniform(-1, 1))),
        cards=laid_round(outline, seed=seed),
        seed=seed,
    )
    stated = max(0.0, thickness + READING_MM * rng.standard_normal()) if thickness else 0.0
    side, tilt = rng.uniform(0, math.tau), rng.uniform(0.1, 0.55)
    shots = []
    for k in range(1 + seed % 2):
        out, up = 1700 * math.sin(tilt), 1700 * math.cos(tilt)
        place = (out * math.cos(side + k * math.pi), out * math.sin(side + k * math.pi), up)
        shots.append(
            Shot(
                look_at(phone_camera(), place, photo=k),
                blur_px=float(rng.uniform(0.5, 0.9)),
                oversampling=1,
                sharpening=float(rng.uniform(0, 0.5)),
                jpeg_quality=92,
                seed=seed * 10 + k,
            )
        )
    return Trial(scene, tuple(shots), stated)


def kinds(outline: Outline) -> list[list[str]]:
    """Kind of each edge, ring by ring, in no order."""
    return [sorted(type(edge.curve).__name__ for edge in ring.edges) for ring in outline.rings]


def thickness_group(thickness_mm: float) -> str:
    """Name of the group of thicknesses that are reported together."""
    if thickness_mm == 0:
        return "paper"
    return "1 to 4 mm" if thickness_mm <= 4 else "4 to 7 mm"


def main() -> None:
    """Print every scene traced wrong, and a table by number of photographs and thickness."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else SCENES
    first = int(sys.argv[2]) if len(sys.argv) > 2 else FIRST_SEED
    groups: dict[str, list[np.ndarray]] = {}
    outcomes: Counter[str] = Counter()
    for seed in range(first, first + count):
        tried = trial(seed)
        try:
            found = tried.measured()
        except ShapecutError as error:
            outcomes["refused"] += 1
            print(f"scene {seed}: refused: {error}")
            continue
        if kinds(found.outline) != kinds(tried.scene.outline):
            said = any(finding.level is not Level.NOTE for finding in found.findings)
            outcomes["wrong, said" if said else "wrong, silent"] += 1
            print(f"scene {seed}: {kinds(found.outline)} for {kinds(tried.scene.outline)}")
            continue
        outcomes["right"] += 1
        thick = thickness_group(tried.scene.thickness_mm)
        rows = edge_deviations(found.outline, tried.scene.outline)
        groups.setdefault(f"{len(tried.shots)} {thick}", []).append(rows)
        groups.setdefault("all", []).append(rows)
    print(", ".join(f"{number} {outcome}" for outcome, number in outcomes.items()))
    print("photographs, template   edges     p50     p95   worst  mean u  within 95 % interval")
    for name, found_rows in sorted(groups.items()):
        off, u_mm = np.abs(np.concatenate(found_rows).reshape(-1, 2).T)
        figures = (np.median(off), np.percentile(off, 95), off.max(), u_mm.mean())
        inside = 100 * float(np.mean(off <= COVERAGE * u_mm))
        print(
            f"{name:22} {len(off) // len(PLACES):6d}",
            *(f"{figure:7.3f}" for figure in figures),
            f"{inside:7.1f} %",
        )


if __name__ == "__main__":
    main()
