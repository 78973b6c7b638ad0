"""The template as a slab with a top face and cut faces, and how sure its thickness is."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapecut.capture.photo import Photo
from shapecut.errors import TraceError
from shapecut.survey.view import PhotoView, View

__all__ = ["Slab", "refuse_too_thick"]

_READING_U_MM = 0.5
"""Standard uncertainty of a stated thickness: people read cardboard to half a millimetre."""
_PAPER_U_MM = 0.15
"""The same where nought is stated, which means paper or thin card."""
_TALLEST = 1 / 3
"""Thickness as a share of a camera's height over the floor beyond which it is a slip of the pen, or
the cards' size is."""


@dataclass(frozen=True)
class Slab:
    """Heights above the plane that the cards lie on.

    Attributes:
        top_mm: Of the face to be measured.
        foot_mm: Of the floor below the template's edge.
        top_u_mm: Standard uncertainty of `top_mm`; 0 where the cards lie on that face.
    """

    top_mm: float
    foot_mm: float
    top_u_mm: float

    @classmethod
    def beside_cards(cls, thickness_mm: float) -> "Slab":
        """A template on the floor that the cards lie on too; 0 for paper."""
        return cls(thickness_mm, 0.0, _READING_U_MM if thickness_mm > 0 else _PAPER_U_MM)

    @classmethod
    def under_cards(cls, thickness_mm: float) -> "Slab":
        """A template that the cards lie on."""
        return cls(0.0, -thickness_mm, 0.0)

    def raised(self, top_mm: float, u_mm: float) -> "Slab":
        """The same slab with its top measured anew."""
        return replace(self, top_mm=top_mm, top_u_mm=u_mm)


def refuse_too_thick(slab: Slab, photos: Sequence[Photo], views: Sequence[View]) -> None:
    """Refuse a slab that would reach up towards a camera.

    Args:
        slab: As stated.
        photos: All pictures of the job.
        views: How those that are used see the plane.

    Raises:
        TraceError: If it is thicker than a third of a camera's height.
    """
    thickness_mm = slab.top_mm - slab.foot_mm
    for view in views:
        if not isinstance(view, PhotoView):
            continue
        height_mm = float(view.position[2]) - slab.foot_mm
        if thickness_mm > _TALLEST * height_mm:
            raise TraceError(
                f"{photos[view.photo].name}: a template {thickness_mm:.0f} mm thick cannot be"
                f" measured by a camera {height_mm:.0f} mm above the floor; correct the thickness"
                " that is stated, or the size of the cards."
            )
