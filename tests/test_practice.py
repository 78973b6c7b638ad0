"""The main job on every practice scene, against its true geometry.

The scenes are rendered by ray tracing with a phone's lens, tone curve, noise and JPEG; their
templates are cut with a hand's wobble.  Truth comes from the renderer, not from us.
"""

import numpy as np
import pytest

from shapecut.capture.photo import read_photo
from shapecut.job.reading import read_job
from shapecut.stages.measuring import measure
from shapecut.stages.surveying import card_set
from tests.outline_deviation import deviations_mm, rough_placement
from tests.practice import SCENES


@pytest.fixture(scope="module", params=SCENES, ids=lambda scene: scene.name)
def scene_and_outline(request):
    scene = request.param
    job = read_job(scene.job)
    photos = [read_photo(path) for path in scene.photo_paths]
    measured = measure(photos, card_set(job.cards), thickness_mm=job.template.thickness)
    return scene, measured.outline


def test_the_boundary_is_within_an_eight_hundredth_of_the_longest_side(scene_and_outline):
    scene, outline = scene_and_outline
    true = scene.true_outline
    deviations = deviations_mm(outline, true, rough_placement(outline, true))
    worst = float(np.percentile(np.abs(deviations), 95))
    print(f"{scene.name}: p95 {worst:.3f} mm, 1/{scene.longest_side_mm / worst:.0f}")
    assert worst <= scene.longest_side_mm / 800


def test_every_edge_is_found_and_no_more(scene_and_outline):
    scene, outline = scene_and_outline
    drawn = scene.truth["template"]["elements_template_frame"]
    assert [len(ring.edges) for ring in outline.rings] == [len(ring) for ring in drawn]
