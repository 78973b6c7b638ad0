"""How often a template is found and traced right in scenes as they come.

Random scenes over floors, materials, light, print, things lying about and cards near or over the
edge (`tests/rough_scenes.py`) are rendered and measured from the marks on, with no hint.  One is

- right: number and kind of edges are the true ones, and 95 % of places along the measured boundary
  lie within 1/800 of the template's longest side of the true one;
- flagged: not right, but refused with a sentence, or with a finding of the tracing to check;
- silent: wrong, and nothing says so.

    python -m tests.benchmarks.trace_scenes FIRST LAST [WORKERS]
"""

import sys
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from shapecut.capture.cards import our_cards
from shapecut.errors import ShapecutError
from shapecut.findings import Finding, Level
from shapecut.shape.outline import Outline
from shapecut.stages.measuring import measure
from tests.edge_deviation import edge_deviations
from tests.outline_deviation import longest_side_mm
from tests.renderer import photographed
from tests.rough_scenes import RoughScene, rough_scene

BOUND = 1 / 800
"""Greatest 95th percentile of the deviations, as a fraction of the longest side."""


@dataclass(frozen=True)
class Outcome:
    """What became of one scene.

    Attributes:
        seed: Of the scene.
        traits: Of the scene.
        verdict: `right`, `flagged` or `silent`.
        hinted: Whether anything asks to be checked.
        said: Why it is not right, and what is said about it.
        deviation: 95th percentile over the longest side; NaN without an outline.
        inside: Share of places within their edge's 95 % interval; NaN without an outline.
    """

    seed: int
    traits: dict[str, str]
    verdict: str
    hinted: bool
    said: str
    deviation: float = float("nan")
    inside: float = float("nan")


def kinds(outline: Outline) -> list[list[str]]:
    """Kind of each edge, ring by ring, in no order."""
    return [sorted(type(edge.curve).__name__ for edge in ring.edges) for ring in outline.rings]


def judged(
    seed: int, rough: RoughScene, outline: Outline, findings: tuple[Finding, ...]
) -> Outcome:
    """Compare a measured outline with the true one."""
    true = rough.scene.outline
    assert true is not None
    hints = [finding for finding in findings if finding.level is not Level.NOTE]
    off, u_mm = np.abs(edge_deviations(outline, true).reshape(-1, 2).T)
    deviation = float(np.percentile(off, 95)) / longest_side_mm(true)
    inside = float(np.mean(off <= 1.96 * u_mm))
    same = kinds(outline) == kinds(true)
    right = same and deviation <= BOUND
    verdict = "right" if right else "flagged" if hints else "silent"
    why = "" if same else f"{len(outline.edges)} edges for {len(true.edges)}; "
    said = why + "; ".join(f"{hint.where}: {hint.what}" for hint in hints)
    return Outcome(seed, rough.traits, verdict, bool(hints), said, deviation, inside)


def outcome(seed: int) -> Outcome:
    """Render a scene, measure it and judge what comes out."""
    rough = rough_scene(seed)
    photos = [photographed(rough.scene, shot) for shot in rough.shots]
    try:
        found = measure(photos, our_cards(), thickness_mm=rough.stated_mm)
    except ShapecutError as error:
        return Outcome(seed, rough.traits, "flagged", True, f"refused: {error}")
    return judged(seed, rough, found.outline, found.traced.findings)


def table(outcomes: list[Outcome]) -> str:
    """Markdown: a line for each trait, all scenes first."""
    groups: dict[tuple[str, str], list[Outcome]] = defaultdict(list)
    for one in outcomes:
        groups["all", "all"].append(one)
        for trait in one.traits.items():
            groups[trait].append(one)
    lines = [
        "| trait | is | scenes | right | flagged | silent | right, yet asked to check "
        "| p95 / longest side, median | within 95 % interval |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for (trait, value), ones in sorted(groups.items()):
        count = {v: sum(one.verdict == v for one in ones) for v in ("right", "flagged", "silent")}
        right = [one for one in ones if one.verdict == "right"]
        asked = sum(one.hinted for one in right)
        deviation = np.median([one.deviation for one in right]) if right else float("nan")
        inside = np.mean([one.inside for one in right]) if right else float("nan")
        lines.append(
            f"| {trait} | {value} | {len(ones)} | {count['right']} | {count['flagged']} "
            f"| {count['silent']} | {asked} | 1/{1 / deviation:,.0f} | {100 * inside:.0f} % |"
        )
    return "\n".join(lines)


def main() -> None:
    """Print every scene that is not right, and the table."""
    first, last = int(sys.argv[1]), int(sys.argv[2])
    workers = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    with ProcessPoolExecutor(workers) as pool:
        outcomes = list(pool.map(outcome, range(first, last)))
    for one in outcomes:
        if one.verdict != "right":
            print(f"scene {one.seed}: {one.verdict}, {one.deviation:.5f}: {one.said}")
    print(f"\nScenes {first} to {last - 1}.\n\n{table(outcomes)}")


if __name__ == "__main__":
    main()
