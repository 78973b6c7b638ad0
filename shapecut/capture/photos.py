"""Several pictures read together, in memory that is bounded however large they are."""

from collections.abc import Sequence
from pathlib import Path

from shapecut.capture.photo import Photo, photo_size, read_photo
from shapecut.errors import CaptureError
from shapecut.progress import side_by_side

__all__ = ["MOST_PIXELS", "read_photos"]

MOST_PIXELS = 600_000_000
"""Of all pictures together; in memory each takes 3 bytes, and nearly half as many again at work."""

SIDE_BY_SIDE_PIXELS = 100_000_000
"""Of pictures decoded at once: while one is decoded, each of its pixels takes 7 bytes."""


def read_photos(paths: Sequence[Path]) -> list[Photo]:
    """Read pictures as `read_photo` does, side by side unless they are very large.

    Raises:
        CaptureError: As `read_photo`, or if all together have more pixels than are taken.
    """
    sizes = [photo_size(path) for path in paths]
    pixels = sum(width * height for width, height in sizes)
    if pixels > MOST_PIXELS:
        raise CaptureError(
            f"The {len(paths)} pictures have {pixels // 1_000_000} million pixels together, more "
            f"than the {MOST_PIXELS // 1_000_000} million that are taken: leave some out, or save "
            "them smaller (12 million each are plenty)."
        )
    if pixels > SIDE_BY_SIDE_PIXELS:
        return [read_photo(path) for path in paths]
    return side_by_side(read_photo, paths)
