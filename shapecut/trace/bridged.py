"""Edges that only print, glare or something beside the template makes, bridged.

Print of the floor's colour at the edge looks like a bite out of the template, glare across it like
a bump, and where colours are close an edge bends where a shadow crosses it.  The edges on both
sides go on there, and the pictures show a step of light along them; where a template is truly cut
out they show none, only the floor.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.curves import Arc, Curve
from shapecut.shape.placement import Point
from shapecut.trace.bridges import Bridge, Part, bridges
from shapecut.trace.chain import FittedRing, is_simple, runs_on
from shapecut.trace.fit import fit_held
from shapecut.trace.samples import Pictures, RingSamples
from shapecut.trace.slab import Slab
from shapecut.trace.step_evidence import shown_along

__all__ = ["Passed", "bridged"]

_MOST_PARTS = 60
"""Rings of more edges than this are left as they are: they are no few lines and arcs."""
_SHOWN = 0.65
"""Share of a bridge along which the pictures must show a step."""
_PERHAPS = 0.5
"""Share from which on a person must look."""
_WORTH_A_LOOK_MM = (12.0, 150.0)
"""Bridges shorter than this do not matter; longer ones find joints of the floor on their way."""
_SEEN = 0.4
"""Share of it that neither card nor glare may hide for that to tell."""


@dataclass(frozen=True)
class Passed:
    """A place where the outline runs on past something, or might.

    Attributes:
        place: In the middle of it, mm.
        length_mm: How far the outline runs on.
        shown: Share of that along which the pictures show a step.
        taken: Whether it does.
    """

    place: Point
    length_mm: float
    shown: float
    taken: bool


def bridged(
    fitted: FittedRing,
    samples: RingSamples,
    sigma_mm: NDArray[np.float64],
    pictures: Pictures,
    slab: Slab,
) -> tuple[FittedRing, RingSamples, tuple[Passed, ...]]:
    """A ring as fitted, without edges that the pictures do not ask for; its samples; where.

    Args:
        fitted: The ring; smooth curves are left alone.
        samples: That it was fitted to.
        sigma_mm: (N,) standard deviation of each.
        pictures: All pictures of the job.
        slab: The template's top face and foot.
    """
    curves = fitted.curves
    if len(curves) > _MOST_PARTS or any(
        runs_on(curves[k - 1], curve) for k, curve in enumerate(curves)
    ):
        return fitted, samples, ()
    parts = [Part(*both) for both in zip(curves, fitted.samples, strict=True)]
    look = _Look(pictures, slab)
    passed = []
    while True:
        likely = sorted(bridges(parts), key=lambda bridge: bridge.removed_mm)
        bridge = next((each for each in likely if look.shown(each) >= _SHOWN), None)
        if bridge is None:
            break
        if bridge.removed:
            passed.append(_passed(bridge, look.shown(bridge)))
        after = bridge.first + bridge.count
        rest = [parts[(after + k) % len(parts)] for k in range(len(parts) - bridge.count)]
        parts = [*bridge.parts, *rest]
    least, most = _WORTH_A_LOOK_MM
    passed += [
        _passed(bridge, look.shown(bridge))
        for bridge in likely
        if bridge.removed
        and least < bridge.legs_mm < most
        and _PERHAPS <= look.shown(bridge) < _SHOWN
    ]
    if len(parts) == len(curves):
        return fitted, samples, tuple(passed)
    dropped = np.ones(len(samples.places), bool)
    dropped[np.concatenate([part.index for part in parts])] = False
    kept = samples.without(dropped)
    number = np.cumsum(~dropped) - 1
    arcs = [isinstance(part.curve, Arc) for part in parts]
    spans = [number[part.index] for part in parts]
    refitted = fit_held(kept.places, sigma_mm[~dropped], spans, arcs)
    if not is_simple(refitted.curves):
        return fitted, samples, ()
    return refitted, kept, tuple(passed)


def _passed(bridge: Bridge, shown: float) -> Passed:
    longest = max(bridge.legs, key=lambda leg: leg.length)
    return Passed(longest.at(0.5), bridge.legs_mm, shown, shown >= _SHOWN)


class _Look:
    """Looks at the pictures, once for each bridge."""

    def __init__(self, pictures: Pictures, slab: Slab) -> None:
        self._pictures, self._slab = pictures, slab
        self._seen: dict[tuple[tuple[Curve, ...], tuple[Curve, ...]], float] = {}

    def shown(self, bridge: Bridge) -> float:
        """Share of a bridge along which there is a step; 0 where too little is in sight."""
        if bridge.runs_over(self._pictures.floor_mm):
            return 0.0
        key = (bridge.legs, bridge.removed)
        if key not in self._seen:
            shown, seen = shown_along(bridge.legs, self._pictures, self._slab, bridge.removed)
            self._seen[key] = shown if seen >= _SEEN else 0.0
        return self._seen[key]
