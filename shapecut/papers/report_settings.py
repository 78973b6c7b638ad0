"""What a job decides about its report."""

from dataclasses import dataclass, field

from shapecut.papers.markup import Lengths
from shapecut.shape.outline import Treatment

__all__ = ["ReportSettings"]


@dataclass(frozen=True)
class ReportSettings:
    """What the job decides about the report.

    Attributes:
        lengths: Units and fraction.
        currency: Written behind prices.
        tolerance_mm: What the measurement is held against, ± at 95 %.
        allowances: Of each treatment, mm; empty when not stated.
        point_mm: Diameter of the holes at points marked on the template.
    """

    lengths: Lengths = field(default_factory=Lengths)
    currency: str = ""
    tolerance_mm: float = 1.5
    allowances: tuple[tuple[Treatment, float], ...] = ()
    point_mm: float = 5.0
