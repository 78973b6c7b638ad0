"""Whether photographs are as one camera made them: not cropped, not mixed, not given twice."""

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np

from shapecut.capture.photo import Photo
from shapecut.errors import CaptureError
from shapecut.findings import Finding, Level

__all__ = ["original_findings", "refuse_twins"]

SAME_FOCAL = 0.03
"""Stated 35 mm equivalents that differ by less than this fraction are one zoom: they are rounded to
whole millimetres."""

_THIN = 97
"""Every so many rows and columns of two pictures are compared before all of them."""


def refuse_twins(photos: Sequence[Photo]) -> None:
    """Refuse one picture under two names: it would count as two independent ones.

    Raises:
        CaptureError: If two pictures have the same pixels.
    """
    for first, second in combinations(photos, 2):
        if first.size == second.size and all(
            np.array_equal(first.pixels[::step, ::step], second.pixels[::step, ::step])
            for step in (_THIN, 1)
        ):
            raise CaptureError(
                f"{first.name} and {second.name} are one and the same picture: leave one out, or"
                " give another photograph in its place."
            )


def original_findings(photos: Sequence[Photo]) -> Iterator[Finding]:
    """What the files themselves say against measuring by them."""
    for photo in photos:
        yield from _changed(photo)
    first = photos[0]
    for photo in photos[1:]:
        differences = list(_differences(photo, first))
        if differences:
            yield Finding(
                Level.NOTE,
                photo.name,
                f"It was taken with {' and '.join(differences)} than {first.name}; each has to "
                "find its own lens.",
                "Photographs of one camera at one zoom support each other better.",
            )


def _changed(photo: Photo) -> Iterator[Finding]:
    """A picture of another size than the camera made it."""
    if photo.taken_size is None or sorted(photo.taken_size) == sorted(photo.size):
        return
    now, was = (" x ".join(map(str, size)) for size in (photo.size, photo.taken_size))
    cure = "Use the photograph as it came from the camera."
    if photo.cropped:
        what = (
            f"It was cropped or edited: it has {now} pixels and its camera made {was}, so that the "
            "lens's axis may be anywhere in it."
        )
        yield Finding(Level.CHECK, photo.name, what, cure)
    else:
        what = f"It was reduced from {was} to {now} pixels; what was lost is not measured."
        yield Finding(Level.NOTE, photo.name, what, cure)


def _differences(photo: Photo, first: Photo) -> Iterator[str]:
    """In what two photographs were taken differently, by what they state."""
    if photo.camera != first.camera:
        yield "another camera"
    if photo.focal_35mm and first.focal_35mm:
        ratio = photo.focal_35mm / first.focal_35mm
        if not 1 / (1 + SAME_FOCAL) <= ratio <= 1 + SAME_FOCAL:
            yield f"another zoom ({photo.focal_35mm:g} mm against {first.focal_35mm:g} mm)"
    elif sorted(photo.size) != sorted(first.size) and photo.camera == first.camera:
        yield "another picture size"
