"""Runs of starts with equal faults, and how far a start can move within them.

Glossary:
    stretch: from one start at which something changes to the next.
    run: neighbouring stretches, and the starts between them, of equal faults.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["nearest_short_enough", "runs_of"]

Floats = NDArray[np.float64]


def runs_of(changes: Floats, ranks: NDArray[np.int64], pitch_mm: float) -> tuple[Floats, Floats]:
    """Where the runs begin and end that starts and stretches belong to.

    Args:
        changes: (S,) starts at which something changes; each is followed by a stretch.
        ranks: (2, S) of their faults, and of those on the stretches.
        pitch_mm: From a start to itself.

    Returns:
        (2, S) for the starts and for the stretches.
    """
    in_turn = ranks.T.ravel()
    firsts = np.flatnonzero(in_turn != np.roll(in_turn, 1))
    if not len(firsts):
        whole = np.broadcast_to([[0.0], [pitch_mm]], ranks.shape)
        return whole, whole
    # Before the first run there is the last one, a pitch lower; behind the last the first again.
    bounds_mm = changes[firsts // 2]
    bounds_mm = np.concatenate([bounds_mm[-1:] - pitch_mm, bounds_mm, bounds_mm[:1] + pitch_mm])
    run = np.searchsorted(firsts, np.arange(len(in_turn)), side="right")
    ends = np.array([bounds_mm[run], bounds_mm[run + 1]])
    return ends[:, ::2], ends[:, 1::2]


def nearest_short_enough(
    wanted: Floats, lower: Floats, upper: Floats, lengths: Floats, enough: Floats
) -> Floats:
    """(S,) the levels nearest to those wanted, on stretches, at which the blanks are short enough.

    Args:
        wanted: (S,) levels.
        lower: (S,) where the stretches begin.
        upper: (S,) where they end.
        lengths: (2, S) of the blanks at both ends, changing evenly between.
        enough: (S,) greatest length; where no level has it, the lower end is as good as any.
    """
    first, last = lengths
    with np.errstate(divide="ignore", invalid="ignore"):
        turn = lower + (enough - first) / (last - first) * (upper - lower)
    low = np.where((first > enough) & (last <= enough), turn, lower)
    high = np.where(last <= enough, upper, np.where(first <= enough, turn, lower))
    return np.clip(wanted, low, high)
