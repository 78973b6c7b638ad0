"""What tracing found: the outline, and the samples that speak for it."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from shapecut.findings import Finding
from shapecut.shape.outline import Outline
from shapecut.shape.setting_out import SettingOut

__all__ = ["BoundarySamples", "ByHand", "Traced"]


@dataclass(frozen=True)
class BoundarySamples:
    """Sub-pixel places of the template's boundary in one picture, along one ring.

    Attributes:
        photo: Index of the picture among the job's.
        ring: Index of the ring in the outline (0 is the outer one).
        px: (N, 2) in the picture's pixels, in ring order.
        mm: (N, 2) the same brought to the template's face, plane mm.
        u_mm: (N,) standard uncertainty across the boundary, mm.
    """

    photo: int
    ring: int
    px: NDArray[np.float64]
    mm: NDArray[np.float64]
    u_mm: NDArray[np.float64]


@dataclass(frozen=True)
class ByHand:
    """Something about the outline that a person decided, and that was not measured so.

    Attributes:
        edges: The names of the edges that it changed.
        what: What was decided and what it changed, in one sentence.
    """

    edges: tuple[str, ...]
    what: str


@dataclass(frozen=True)
class Traced:
    """An outline with the evidence for it.

    Attributes:
        outline: Measured, edges named, in the plane.
        samples: All boundary samples used, by picture and ring.
        rms_mm: Root mean square distance of the samples from the outline's edges, mm.
        height_mm: Height of the template's face above the cards' plane, as measured.
        findings: What a fitter must know.
        by_hand: What a person decided about it.
        setting_out: What a person marked within it.
    """

    outline: Outline
    samples: tuple[BoundarySamples, ...]
    rms_mm: float
    height_mm: float = 0.0
    findings: tuple[Finding, ...] = ()
    by_hand: tuple[ByHand, ...] = ()
    setting_out: SettingOut = field(default_factory=SettingOut)
