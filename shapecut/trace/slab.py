"""The template as a slab with a top face and cut faces, and how sure its thickness is."""

from dataclasses import dataclass, replace

__all__ = ["Slab"]

_READING_U_MM = 0.5
"""Standard uncertainty of a stated thickness: people read cardboard to half a millimetre."""
_PAPER_U_MM = 0.15
"""The same where nought is stated, which means paper or thin card."""


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
