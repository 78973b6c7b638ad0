"""How even the floor is: the spread of the cards' heights as the photographs themselves show it.

From a single photograph hardly any height is determined, and the spread stays as it was supposed.
"""

from dataclasses import replace

import numpy as np

from shapecut.survey.joint import Joint
from shapecut.survey.least_squares import least_squares
from shapecut.survey.spread import Evidence

__all__ = ["evenness_estimated"]


def evenness_estimated(joint: Joint) -> Joint:
    """Adjust again with the spread of heights that the cards show."""
    known = replace(joint.known, height_u_mm=_spread_mm(joint))
    solution = least_squares(joint.solution.network, joint.corners, known)
    return replace(joint, known=known, solution=solution)


def _spread_mm(joint: Joint) -> float:
    """Standard deviation of heights by those in an adjustment, and by what was supposed."""
    network, solution = joint.solution.network, joint.solution
    columns = network.height_columns
    supposed_mm = joint.known.height_u_mm
    posterior = np.linalg.inv(solution.covariance[columns, columns])
    said = posterior - np.eye(len(network.heights)) / supposed_mm**2
    evidence = Evidence.of(said, posterior @ network.heights)
    return evidence.given_noise(max(1.0, solution.variance_factor)).spread(supposed_mm)
