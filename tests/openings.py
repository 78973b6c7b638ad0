"""Openings in frames for the renderer: the frame is a thick template that the cards lie on."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from shapecut.capture.photo import Photo
from shapecut.shape.outline import Outline
from shapecut.survey.view import PhotoView
from tests.renderer import Colour, Floor, Mottle, Scene, Shot, photographed
from tests.scenes import laid_round, outline_of, rounded

__all__ = ["frame_round", "opening_photos"]

FRAME_MM = 600.0
"""How far the frame's face reaches beyond the opening's bounding box."""


def frame_round(
    opening: Outline, *, depth_mm: float, face: Colour, wall: Colour, ground: Floor
) -> Scene:
    """A frame with an opening; its face is `depth_mm` over the ground, in the renderer's plane."""
    points = np.concatenate([edge.curve.flattened(1.0) for edge in opening.edges])
    (x0, y0), (x1, y1) = points.min(axis=0) - FRAME_MM, points.max(axis=0) + FRAME_MM
    rim = [edge.curve.reversed() for edge in reversed(opening.outer.edges)]
    return Scene(
        outline_of(rounded([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]), rim),
        thickness_mm=depth_mm,
        template=face,
        cut_face=wall,
        floor=ground,
        cards=tuple(replace(card, height_mm=depth_mm) for card in laid_round(opening)),
        face=(Mottle(0.08, (60.0, 2.0)),),
    )


def opening_photos(scene: Scene, views: Sequence[PhotoView]) -> list[Photo]:
    """Photographs as `views` see them, in which the frame's face is the plane z = 0."""
    photos = []
    for view in views:
        lift = view.rotation @ np.array([0.0, 0.0, scene.thickness_mm])
        lifted = replace(view, translation=view.translation - lift)
        shot = Shot(lifted, oversampling=1)
        photos.append(photographed(scene, shot, f"deck_{view.photo + 1}.jpg"))
    return photos
