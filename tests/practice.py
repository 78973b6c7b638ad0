"""The ray-traced practice scenes: their photographs, cards and true outlines.

Photographs lie in the example jobs (they are the examples'); `fixtures/practice` holds the truth.
"""

import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

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
    def true_rings(self):
        """Rings as cut, (N, 2) world mm each."""
        return [np.array(ring) for ring in self.truth["template"]["actual_world"]]

    @property
    def longest_side_mm(self):
        """Of the template's drawing."""
        return max(
            element["length"]
            for ring in self.truth["template"]["elements_template_frame"]
            for element in ring
        )


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
