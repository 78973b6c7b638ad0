"""The template's thickness, from pictures that see the same edges from different sides.

A point of the top edge seen in a picture is brought to the plane at the height of the top face;
taken too low, it comes out too far from the camera's foot.  Pictures from opposite sides then see
the same edge shifted in opposite directions.  Per edge and picture the mean disagreement with the
other pictures is one observation of the missing height; the stated thickness is a prior (JCGM
100:2008, F.2.4: combining what is known beforehand with what is observed).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.findings import Finding, Level
from shapecut.trace.samples import RingSamples
from shapecut.trace.slab import Slab

__all__ = ["measured_slab", "thickness_findings"]

Array = NDArray[np.float64]

_LEAST_STATIONS = 5
"""Stations of an edge that several pictures must show for the edge to speak."""
_ROUNDS = 10
"""Rounds of re-weighting."""
_HUBER = 1.5
"""Observations off by more standard deviations than this pull with constant force."""
_CONTRADICTION = 3.0
"""Combined standard uncertainties between stated and observed thickness from which the stated one
is taken for a mistake and no longer counts."""
_SURE_MM, _LEAST_EDGES = 0.5, 3
"""An observed thickness overrules the stated one only if its standard uncertainty is no more than a
reading's, and if so many edges were seen from different sides."""
_CHECK, _CHECK_MM = 2.0, 0.75
"""How far a measured thickness lies from the stated one, in its standard uncertainties and in mm
(people read cardboard to half a millimetre), when a fitter should look again."""
_COMMON = 0.5
"""Correlation between what two edges' observations err systematically: cut faces all look alike, so
that what a model of them misses, it misses at every edge."""
_WORTH_MM = 0.1
"""A thickness whose standard uncertainty the pictures lowered by less than this is not news."""


def measured_slab(stated: Slab, top_mm: float, samples: RingSamples, plane_u_mm: float) -> Slab:
    """The slab with its top where the pictures together put it.

    Where they contradict what was stated and do not tell it better, what was stated stays, less
    certain than before.

    Args:
        stated: As the person said; its `top_u_mm` is the prior's.
        top_mm: Height at which the samples were brought to the plane.
        samples: Of the outer ring.
        plane_u_mm: Standard uncertainty of a plane point in one picture against the others.
    """
    if stated.top_u_mm == 0:
        return stated
    seen = _disagreements(samples, plane_u_mm)
    if not np.any(np.abs(seen.slopes) > 1e-6):
        return stated
    missing, missing_u = _missing_height(seen)
    observed = top_mm + missing
    combined_u = math.hypot(missing_u, stated.top_u_mm)
    off = abs(observed - stated.top_mm)
    if off > _CONTRADICTION * combined_u:
        if missing_u <= _SURE_MM and len(np.unique(seen.edges)) >= _LEAST_EDGES:
            return stated.raised(max(observed, stated.foot_mm), missing_u)
        return stated.raised(stated.top_mm, off / 2)
    part = stated.top_u_mm**2 / combined_u**2
    top = stated.top_mm + part * (observed - stated.top_mm)
    return stated.raised(max(top, stated.foot_mm), missing_u * stated.top_u_mm / combined_u)


@dataclass(frozen=True)
class _Disagreements:
    """What pictures see differently, one row for each edge and picture.

    Attributes:
        edges: Index of the edge.
        shifts_mm: Offset outward from all pictures' mean.
        slopes: How far that moves per mm of assumed height.
        u_mm: Standard uncertainty of the shift, its systematic part included.
        systematic_u_mm: That of what the samples of the edge err together.
    """

    edges: Array
    shifts_mm: Array
    slopes: Array
    u_mm: Array
    systematic_u_mm: Array


def _disagreements(samples: RingSamples, plane_u_mm: float) -> _Disagreements:
    pictures = samples.pictures
    seen = np.array([picture.found for picture in pictures])
    several = seen.sum(axis=0) >= 2
    weights = np.array([picture.weight for picture in pictures])
    offsets = np.array([np.where(p.found, p.offset_mm, 0.0) for p in pictures])
    slopes = np.array([np.where(p.found, p.per_thickness, 0.0) for p in pictures])
    shared = np.array([np.where(p.found, p.shared_u_mm, 0.0) for p in pictures])
    own = np.array([np.where(p.found, p.u_mm, 0.0) for p in pictures])
    shares = weights / np.maximum(weights.sum(axis=0), 1e-12)
    off = offsets - np.sum(shares * offsets, axis=0)
    slope = slopes - np.sum(shares * slopes, axis=0)
    rows = []
    for edge in np.unique(samples.stations.edge):
        on_edge = several & (samples.stations.edge == edge)
        for k in range(len(pictures)):
            at = on_edge & seen[k]
            if at.sum() < _LEAST_STATIONS:
                continue
            systematic = math.sqrt(float(np.mean(shared[k, at] ** 2)))
            by_chance = float(np.mean(own[k, at] ** 2)) / int(at.sum())
            u = math.sqrt(systematic**2 + by_chance + plane_u_mm**2)
            shift, by_height = float(np.median(off[k, at])), float(np.mean(slope[k, at]))
            rows.append((edge, shift, by_height, u, systematic))
    return _Disagreements(*np.array(rows, float).reshape(-1, 5).T)


def _missing_height(seen: _Disagreements) -> tuple[float, float]:
    """How much the assumed top is too low, and its standard uncertainty, mm.

    Least squares with Huber's weights: a height missing in the assumed top moves each sample by its
    slope per mm, inward.

    Uncertainties grow where the values disagree more than they allow (the Birge ratio: R. T. Birge,
    "The calculation of errors by the method of least squares", Phys. Rev. 40, 1932).
    """
    values, slopes, u = seen.shifts_mm, -seen.slopes, seen.u_mm
    held = u**-2.0
    for _ in range(_ROUNDS):
        factor = float(np.sum(held * slopes * values) / np.sum(held * slopes**2))
        normalised = np.abs(values - factor * slopes) / u
        held = u**-2.0 * np.minimum(1.0, _HUBER / np.maximum(normalised, 1e-12))
    freedom = max(len(values) - 1, 1)
    birge = math.sqrt(max(1.0, float(np.sum(held * (values - factor * slopes) ** 2)) / freedom))
    information = float(np.sum(held * slopes**2))
    common = float(np.sum(held * np.abs(slopes) * seen.systematic_u_mm)) / information
    return factor, math.hypot(birge / math.sqrt(information), math.sqrt(_COMMON) * common)


def thickness_findings(stated: Slab, measured: Slab) -> tuple[Finding, ...]:
    """What the thickness came to, if the pictures told anything about it."""
    if measured == stated:
        return ()
    if measured.top_u_mm > stated.top_u_mm and measured.top_mm == stated.top_mm:
        return (
            Finding(
                Level.CHECK,
                "thickness",
                f"The photographs contradict the thickness of {stated.top_mm:g} mm that was stated,"
                f" but do not tell it themselves; it is used with ±{2 * measured.top_u_mm:.1f} mm.",
                "Measure the template's thickness, and photograph it from opposite sides.",
            ),
        )
    came_to = f"{measured.top_mm:.1f} mm (±{2 * measured.top_u_mm:.1f} mm)"
    off = abs(measured.top_mm - stated.top_mm)
    if off > _CHECK * measured.top_u_mm and off > _CHECK_MM:
        return (
            Finding(
                Level.CHECK,
                "thickness",
                f"The photographs together put the template's thickness at {came_to}, not at"
                f" {stated.top_mm:g} mm as stated; the measured one is used.",
                "Measure the template's thickness and correct the job file.",
            ),
        )
    if measured.top_u_mm > stated.top_u_mm - _WORTH_MM:
        return ()
    return (
        Finding(
            Level.NOTE,
            "thickness",
            f"The template's thickness came to {came_to} in the photographs; {stated.top_mm:g} mm"
            " was stated.",
        ),
    )
