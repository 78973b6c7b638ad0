"""The survey: how each picture sees the plane, where each card lies, and how sure that is."""

from dataclasses import dataclass, replace

from shapecut.findings import Finding
from shapecut.shape.placement import Placement
from shapecut.survey.precision import EXACT, Precision
from shapecut.survey.view import View

__all__ = ["PlacedCard", "Survey"]


@dataclass(frozen=True)
class PlacedCard:
    """A card where it was found to lie.

    Attributes:
        name: As printed on the card, e.g. `card 3`.
        placement: Of the card's frame (origin at its centre) in the plane.
        residual_px: Root mean square of its marks' residuals over all pictures, pixels.
        photos: Indices of the pictures it was used in.
    """

    name: str
    placement: Placement
    residual_px: float
    photos: tuple[int, ...]

    def scaled(self, factor: float) -> "PlacedCard":
        """The same card in a plane whose distances are longer by a factor."""
        x, y = self.placement.origin
        placement = replace(self.placement, origin=(factor * x, factor * y))
        return replace(self, placement=placement)


@dataclass(frozen=True)
class Survey:
    """The measured plane.

    Attributes:
        views: One for each usable picture, in the job's order.
        cards: Every card used.
        height_mm: Height above the cards' plane of the face to be measured: the template's
            thickness when the cards lie on the floor beside it, 0 when they lie on it.
        relative_u: Standard uncertainty of scale, as a fraction of any distance (print scale).
        point_u_mm: Typical standard uncertainty of a plane point among the cards, scale aside, mm.
        residual_px: Root mean square residual of all marks, pixels.
        findings: What a fitter must know.
        precision: The joint uncertainty of the plane's points, of which `relative_u` and
            `point_u_mm` are the summary.
    """

    views: tuple[View, ...]
    cards: tuple[PlacedCard, ...]
    height_mm: float
    relative_u: float
    point_u_mm: float
    residual_px: float
    findings: tuple[Finding, ...] = ()
    precision: Precision = EXACT

    def placed(self, placement: Placement) -> "Survey":
        """The same survey in a plane that the present one lies in as `placement`."""
        cards = (replace(card, placement=placement.after(card.placement)) for card in self.cards)
        views = (view.placed(placement) for view in self.views)
        return replace(
            self,
            views=tuple(views),
            cards=tuple(cards),
            precision=self.precision.placed(placement),
        )

    def scaled(self, factor: float, *, relative_u: float) -> "Survey":
        """The same survey with all distances in the plane longer by a factor near 1.

        Args:
            factor: By which they grow, from the plane's origin; the face's height is as stated.
            relative_u: Standard uncertainty of scale afterwards, as a fraction.
        """
        return replace(
            self,
            views=tuple(view.scaled(factor) for view in self.views),
            cards=tuple(card.scaled(factor) for card in self.cards),
            relative_u=relative_u,
            precision=replace(self.precision, relative_u=relative_u),
        )
