"""The scale of a survey held by a distance taped over the template itself."""

import math
from dataclasses import dataclass

from shapecut.survey.survey import Survey

__all__ = ["TapedScale", "scale_by_tape"]


@dataclass(frozen=True)
class TapedScale:
    """What a tape makes of a survey's scale; `Survey.scaled` takes it up.

    Attributes:
        factor: By which all distances grow.
        relative_u: Standard uncertainty of scale afterwards, as a fraction.
        off: |taped - measured| over their combined standard uncertainty; above about 5 the tape is
            mistyped or the print is not as stated, and it should not be taken up.
    """

    factor: float
    relative_u: float
    off: float


def scale_by_tape(
    survey: Survey, *, measured_mm: float, shape_u_mm: float, taped_mm: float, tape_u_mm: float
) -> TapedScale:
    """Weigh a taped distance against the survey's own scale (weighted mean; JCGM 100:2008, H.5).

    Args:
        survey: The survey.
        measured_mm: The distance between two points of the template as measured.
        shape_u_mm: Standard uncertainty of that, scale aside (points as traced, and
            `distance_u_mm` of `Precision.given_scale`).
        taped_mm: The same distance as taped.
        tape_u_mm: Standard uncertainty of that.
    """
    seen_u = math.hypot(shape_u_mm, tape_u_mm) / measured_mm
    difference = taped_mm / measured_mm - 1
    together = math.hypot(seen_u, survey.relative_u)
    weight = (survey.relative_u / together) ** 2
    return TapedScale(
        factor=1 + weight * difference,
        relative_u=survey.relative_u * seen_u / together,
        off=abs(difference) / together,
    )
