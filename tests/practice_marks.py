"""Where marks and boundary of the practice scenes truly are in their photographs."""

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.practice import PracticeScene

__all__ = ["boundary_mm", "boundary_px", "mark_corners_px"]

Array = NDArray[np.float64]


def mark_corners_px(scene: PracticeScene, photo: int) -> dict[int, Array]:
    """True (4, 2) corners of each mark in one upright photograph, by number."""
    corners = scene.truth["photos"][photo]["tag_corners_px"]
    return {tag["id"]: np.array(tag["upright"]) for tag in corners}


def boundary_mm(scene: PracticeScene) -> Array:
    """The template's outer boundary as cut, (N, 2), world mm."""
    return np.array(scene.truth["template"]["actual_world"][0])


def boundary_px(scene: PracticeScene, photo: int) -> Array:
    """Where that boundary's top edge is in one upright photograph, (N, 2)."""
    ring = boundary_mm(scene)
    raised = np.column_stack([ring, np.full(len(ring), scene.truth["template"]["top_z"])])
    seen = scene.truth["photos"][photo]["upright"]
    turn = cv2.Rodrigues(np.array(seen["R"]))[0]
    px, _ = cv2.projectPoints(
        raised, turn, np.array(seen["t"]), np.array(seen["K"]), np.array(seen["dist"])
    )
    return np.asarray(px[:, 0], float)
