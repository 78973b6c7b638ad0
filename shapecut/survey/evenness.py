"""How even the floor is: the spread of the cards' heights as the photographs themselves show it.

The variance component is estimated as D. J. C. MacKay does ("Bayesian interpolation", Neural
Computation 4(3), 1992): the squares of the heights over the number of heights that the photographs
determine, which is their count less the fraction of each that is known only beforehand.  From a
single photograph hardly any is determined, and the spread stays as it was supposed.
"""

import math
from dataclasses import replace

import numpy as np

from shapecut.survey.joint import Joint
from shapecut.survey.least_squares import least_squares

__all__ = ["evenness_estimated"]

SUPPOSED_WEIGHT = 1.0
"""Heights that the supposed spread counts for beside those that are determined."""

ROUNDS = 2
"""Adjustments with the spread estimated anew; the second changes it by a few per cent."""


def evenness_estimated(joint: Joint) -> Joint:
    """Adjust again with the spread of heights that the cards show."""
    supposed_mm = joint.known.height_u_mm
    for _ in range(ROUNDS):
        known = replace(joint.known, height_u_mm=_spread_mm(joint, supposed_mm))
        solution = least_squares(joint.solution.network, joint.corners, known)
        joint = replace(joint, known=known, solution=solution)
    return joint


def _spread_mm(joint: Joint, supposed_mm: float) -> float:
    """Standard deviation of heights by those in an adjustment, and by what was supposed."""
    network, covariance = joint.solution.network, joint.solution.covariance
    unknown = float(np.trace(covariance[network.height_columns, network.height_columns]))
    determined = len(network.heights) - unknown / joint.known.height_u_mm**2
    squares = float(network.heights @ network.heights) + SUPPOSED_WEIGHT * supposed_mm**2
    return math.sqrt(squares / (max(determined, 0.0) + SUPPOSED_WEIGHT))
