"""What the report shows of doubts: places magnified, decisions as the person's, curves as one."""

from dataclasses import replace

import numpy as np

from shapecut.capture.photo import Photo
from shapecut.findings import Finding, Level
from shapecut.papers.closeups import MOST, closeups
from shapecut.shape.curves import Arc
from shapecut.shape.outline import Outline, Ring
from shapecut.trace.traced import ByHand, Traced
from tests import plan_by_hand
from tests.test_papers_report import HOSTILE, Page, report, survey


def traced(**changes):
    return Traced(plan_by_hand.outline(), (), 0.1, **changes)


def test_decisions_are_listed_as_the_person_s_and_marked_at_their_edges():
    name = plan_by_hand.outline().edges[0].name
    page = Page(
        report(traced=traced(by_hand=(ByHand((name,), f"{HOSTILE} placed."),)), survey=survey())
    )
    assert "Settled by you" in page.text
    assert f"{HOSTILE} placed." in page.text
    assert page.text.count("(settled by you)") == 1
    assert page.all("script") == []
    assert "Settled by you" not in Page(report(traced=traced(), survey=survey())).text


def test_a_freeform_curve_is_one_line_of_the_table():
    outline = plan_by_hand.outline()
    edges = list(outline.outer.edges)
    first = edges[0]
    bow = Arc(first.curve.start, first.curve.end, _centre(first.curve), True)
    parts = [bow.between(k / 4, (k + 1) / 4) for k in range(4)]
    edges[:1] = [
        replace(first, name=f"{first.name}.{k}", curve=part) for k, part in enumerate(parts, 1)
    ]
    page = Page(report(outline=Outline(Ring(tuple(edges)), outline.holes)))
    assert "curve of 4 arcs" in page.text
    assert f"{first.name}.1" not in page.text


def _centre(line):
    """To the left of a line, so that the arc round it bows outwards a little."""
    (x, y), (dx, dy) = line.at(0.5), line.direction()
    return (x - 3 * line.length * dy, y + 3 * line.length * dx)


def test_places_to_look_at_are_shown_the_gravest_first_and_not_too_many():
    photo = Photo("top.jpg", np.full((1200, 1600, 3), 128, np.uint8))
    doubtful = [
        Finding(Level.CHECK, f"E{k}", "Hardly seen.", "Look.", (100.0 * k, 100.0))
        for k in range(MOST + 3)
    ]
    grave = Finding(Level.SERIOUS, "E99", "Not seen.", "Look.", (500.0, 200.0))
    made = closeups([photo], survey(), plan_by_hand.outline(), [*doubtful, grave])
    assert len(made) == MOST
    assert made[0].finding == grave
    page = Page(report(closeups=made))
    pictures = [image for image in page.all("img") if "magnified" in image["alt"]]
    assert len(pictures) == MOST
    assert pictures[0]["alt"] == "Photograph of E99 in top.jpg, magnified"
