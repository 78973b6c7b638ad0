"""How large a sum of squares may be by chance."""

import math

__all__ = ["chi2_by_chance"]

NORMAL_DEVIATE = 3.72
"""Chance exceeds the limit once in ten thousand times."""


def chi2_by_chance(freedom: int) -> float:
    """The chi-square that chance exceeds once in ten thousand times.

    E. B. Wilson and M. M. Hilferty, "The distribution of chi-square", PNAS 17, 1931.

    Args:
        freedom: Degrees of freedom, at least 1.
    """
    spread = 2 / (9 * freedom)
    return freedom * (1 - spread + NORMAL_DEVIATE * math.sqrt(spread)) ** 3
