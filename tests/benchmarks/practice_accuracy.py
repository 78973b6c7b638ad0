"""The practice photographs, one by one and all together, against the templates as they were cut.

    python -m tests.benchmarks.practice_accuracy

A template's edges wobble as a hand cuts.  The outline's lines and arcs pass through the middle of
the wobble, so that they cannot come nearer to the cut edge than the drawing that the hand followed
("the hand" below).  The boundary's samples follow the wobble itself.  Lengths are also given as
fractions of the template's longest side.
"""

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import read_photo
from shapecut.errors import ShapecutError
from shapecut.job.reading import read_job
from shapecut.shape.outline import Outline
from shapecut.stages.measuring import Measured, measure
from shapecut.stages.surveying import card_set
from tests.outline_deviation import aligned, rough_placement, sampled, signed_distances_mm
from tests.practice import SCENES, PracticeScene

Array = NDArray[np.float64]


def _corners(outline: Outline) -> Array:
    """(N, 2) ends of all edges."""
    return np.array([edge.curve.start for edge in outline.edges])


def _p95(values: Array) -> float:
    return float(np.percentile(np.abs(values), 95))


def report(scene: PracticeScene, measured: Measured) -> str:
    """One line on a measurement: outline, samples and corners against the truth."""
    true, drawn, outline = scene.true_outline, scene.drawn_outline, measured.outline
    start = rough_placement(outline, true)
    placement = aligned(sampled(outline), true, start)
    off = signed_distances_mm(placement.points_to_plane(sampled(outline)), true)
    samples = np.concatenate([part.mm for part in measured.traced.samples])
    raw = signed_distances_mm(aligned(samples, true, start).points_to_plane(samples), true)
    to_drawing = aligned(sampled(outline), drawn, start)
    from_drawing = signed_distances_mm(to_drawing.points_to_plane(sampled(outline)), drawn)
    own = to_drawing.points_to_plane(_corners(outline))
    gaps = np.linalg.norm(own[None] - scene.drawn_corners[:, None], axis=2).min(axis=1)
    longest = scene.longest_side_mm
    edges = [len(ring.edges) for ring in outline.rings]

    def told(value: float) -> str:
        return f"{value:6.3f} mm (1/{longest / value:,.0f})"

    return "  ".join(
        [
            f"outline {told(_p95(off))}",
            f"samples {told(_p95(raw))}",
            f"outline to the drawing {told(_p95(from_drawing))}",
            f"corners to the drawing {told(_p95(gaps))}",
            f"edges {edges}",
        ]
    )


def main() -> None:
    """Print a line for every photograph, and for all of a scene together."""
    for scene in SCENES:
        job = read_job(scene.job)
        photos = [read_photo(path) for path in scene.photo_paths]
        true, drawn = scene.true_outline, scene.drawn_outline
        wobble = signed_distances_mm(sampled(drawn), true)
        right = [len(ring) for ring in scene.truth["template"]["elements_template_frame"]]
        print(f"{scene.name}: the hand {_p95(wobble):.3f} mm, edges {right}")
        for chosen in [[photo] for photo in photos] + ([photos] if len(photos) > 1 else []):
            names = " + ".join(photo.name for photo in chosen)
            try:
                measured = measure(chosen, card_set(job.cards), thickness_mm=job.template.thickness)
            except ShapecutError as error:
                print(f"  {names}: {error}")
            else:
                print(f"  {names}: {report(scene, measured)}")


if __name__ == "__main__":
    main()
