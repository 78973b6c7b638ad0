"""The ray-traced practice scenes: their photographs, cards and true outlines.

Photographs lie in the example jobs (they are the examples'); `fixtures/practice` holds the truth.
"""

import json
import math
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from shapecut.shape.curves import Line
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.shape.placement import Placement
from shapecut.shape.validity import oriented

ROOT = Path(__file__).parent.parent


@dataclass(frozen=True)
class PracticeScene:
    """One scene.

    Attributes:
        name: Of its truth file.
        job: Folder of the example job that uses it.
        photos: Its photographs' names, in the order of the truth's.
    """

    name: str
    job: Path
    photos: tuple[str, ...]

    @cached_property
    def truth(self):
        """The truth as read: frames and signs are described in it."""
        path = ROOT / "fixtures" / "practice" / self.name / "truth.json"
        return json.loads(path.read_text(encoding="utf-8"))

    @property
    def photo_paths(self):
        return [self.job / name for name in self.photos]

    @property
    def true_outline(self):
        """The template's top as it was cut, in the true world's mm."""
        return self._outline("actual_world")

    @property
    def drawn_outline(self):
        """The template's top as it was drawn before it was cut, arcs by chords."""
        return self._outline("nominal_world")

    @property
    def drawn_corners(self):
        """(N, 2) ends of the drawing's lines and arcs, in the true world's mm."""
        pose = self.truth["template"]["pose"]
        placement = Placement((pose["x"], pose["y"]), math.radians(pose["rot"]))
        rings = self.truth["template"]["elements_template_frame"]
        return placement.points_to_plane(np.array([e["from"] for ring in rings for e in ring]))

    def _outline(self, key):
        rings = [_ring(f"R{k}", ring) for k, ring in enumerate(self.truth["template"][key])]
        return oriented(Outline(rings[0], tuple(rings[1:])))

    @property
    def longest_side_mm(self):
        """Of the template's drawing."""
        return max(
            element["length"]
            for ring in self.truth["template"]["elements_template_frame"]
            for element in ring
        )


def _ring(name, corners):
    corners = [tuple(corner) for corner in corners]
    ends = zip(corners, corners[1:] + corners[:1], strict=True)
    return Ring(tuple(Edge(f"{name}.{k}", Line(*pair)) for k, pair in enumerate(ends)))


SCENES = (
    PracticeScene(
        "notched_two",
        ROOT / "examples" / "boathouse_step",
        ("from_the_water.jpg", "from_the_door.jpg"),
    ),
    PracticeScene("alcove_portrait", ROOT / "examples" / "alcove_shelf", ("alcove.jpg",)),
    PracticeScene(
        "angle33_indoor",
        ROOT / "examples" / "deck_end",
        ("from_the_window.jpg", "from_the_stairs.jpg"),
    ),
)
