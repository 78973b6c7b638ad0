"""What a person decides about a traced outline, applied in order, and what remains doubtful."""

from dataclasses import dataclass, replace

from shapecut.errors import ShapeError, TraceError
from shapecut.shape.validity import check_outline
from shapecut.trace.correction import Correction, MovedCorner
from shapecut.trace.corrections import corrected
from shapecut.trace.doubts import doubts
from shapecut.trace.regularities import offered_regularities, with_regularities
from shapecut.trace.regularity import Regularity
from shapecut.trace.traced import Traced

__all__ = ["Decisions", "decided"]


@dataclass(frozen=True)
class Decisions:
    """What the job states about the outline, by the names of its edges.

    Attributes:
        corrections: Of what was traced.
        regularities: That were meant, such as E2 square to E3.
    """

    corrections: tuple[Correction, ...] = ()
    regularities: tuple[Regularity, ...] = ()


def decided(traced: Traced, decisions: Decisions) -> Traced:
    """Apply a person's decisions and add what there is to know about the outline that they leave.

    Edges that the person corrected are no longer doubted.

    Args:
        traced: The outline in its final plane, with the samples that it was fitted to.
        decisions: The person's.

    Raises:
        TraceError: If a decision names what is not there, contradicts another, or leaves no
            outline.
    """
    traced = corrected(traced, decisions.corrections)
    settled = {name for one in traced.by_hand for name in one.edges}
    doubtful = [one for one in doubts(traced) if not settled.intersection(one.where.split("/"))]
    traced = replace(traced, findings=(*traced.findings, *doubtful))
    placed = [one.corner for one in decisions.corrections if isinstance(one, MovedCorner)]
    traced = with_regularities(traced, decisions.regularities, placed)
    if not traced.by_hand:
        return replace(traced, findings=(*traced.findings, *offered_regularities(traced)))
    try:
        check_outline(traced.outline)
    except ShapeError as error:
        raise TraceError(f"The corrections leave no outline: {error}") from None
    return traced
