"""What a fitter must know about a traced outline: edges that the pictures do not show well."""

from collections.abc import Sequence

from shapecut.findings import Finding, Level
from shapecut.shape.outline import Edge, Outline
from shapecut.trace.fit import FittedRing
from shapecut.trace.raster import Points

__all__ = ["doubts", "unseen_hole"]

_CONFIRMED = 0.8
"""Share of an edge's length along which its boundary must be seen to pass without a word."""
_GUESSED = 0.4
"""Share below which the edge is more guessed than measured."""
_UNSURE_MM = 1.0
"""Standard uncertainty of an edge's place from which a fitter should look at it, mm."""


def doubts(outline: Outline, fitted: Sequence[tuple[FittedRing, float]]) -> tuple[Finding, ...]:
    """Findings about edges whose boundary is hardly seen, or whose place is unsure.

    Args:
        outline: Named.
        fitted: Its rings as fitted, each with the distance in mm of its stations; there is a sample
            at each station where the boundary was seen.  Edges are matched by their curves.
    """
    sampled_mm = {
        curve: len(index) * spacing_mm
        for ring, spacing_mm in fitted
        for curve, index in zip(ring.curves, ring.samples, strict=True)
    }
    found = []
    for edge in outline.edges:
        share = min(1.0, sampled_mm[edge.curve] / edge.curve.length)
        if share < _CONFIRMED:
            found.append(_hardly_seen(edge, share))
        elif edge.u_mm is not None and edge.u_mm > _UNSURE_MM:
            found.append(_unsure(edge, edge.u_mm))
    return tuple(found)


def unseen_hole(photo: str, place_px: Points) -> Finding:
    """The finding about a patch that looks like a hole but has no clear edge.

    Args:
        photo: Name of a picture.
        place_px: (2,) the patch's middle in it, pixels.
    """
    return Finding(
        Level.CHECK,
        f"{photo}, near pixel ({place_px[0]:.0f}, {place_px[1]:.0f})",
        "A patch within the template looks like the floor but has no clear edge; it is left uncut.",
        "Look at the place; if it is a hole, photograph it again in even light.",
    )


def _hardly_seen(edge: Edge, share: float) -> Finding:
    return Finding(
        Level.SERIOUS if share < _GUESSED else Level.CHECK,
        edge.name,
        f"The boundary between template and floor is seen along only {100 * share:.0f} % of"
        f" {edge.name}.",
        "Compare the edge with the template, or photograph it again on a floor it contrasts with,"
        " with no card over it.",
    )


def _unsure(edge: Edge, u_mm: float) -> Finding:
    return Finding(
        Level.CHECK,
        edge.name,
        f"The place of {edge.name} is known only to ±{2 * u_mm:.1f} mm.",
        "Add a photograph from the other side, so that the edge is seen from behind.",
    )
