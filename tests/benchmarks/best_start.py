"""The best start against cutting the rows of every start in steps of 1 mm, on 50 random outlines.

Prints how often the best start is as good as the best of all steps or better, and the ratio of the
times.  Run: python -m tests.benchmarks.best_start
"""

import time

from hypothesis import Phase, given, seed, settings

from shapecut.layout.best_start import SAME_LENGTH_MM, best_starts
from shapecut.layout.rules import LayoutRules
from shapecut.shape.placement import Placement
from tests.strategies import boards, outlines, turns
from tests.test_layout_best_start import best_of_all_millimetres, cost_by_cutting
from tests.test_layout_rows import field_of

OUTLINES = 50
RIP_SHARE = 0.3
SHORTEST_MM = 200.0


def main() -> None:
    """Compare, and print two lines."""
    as_good = [0]
    spent = {"best start": 0.0, "every millimetre": 0.0}

    @seed(1)
    @settings(max_examples=OUTLINES, deadline=None, database=None, phases=[Phase.generate])
    @given(outlines(smallest_mm=800), boards(), turns)
    def compare(outline, board, turn):
        field = field_of(outline).placed(Placement((0.0, 0.0), turn))
        rules = LayoutRules(
            smallest_rip_mm=RIP_SHARE * board.width_mm, smallest_length_mm=SHORTEST_MM
        )
        begun = time.process_time()
        best = best_starts(field, board, rules)[0]
        found = time.process_time()
        by_steps = best_of_all_millimetres(field, board, rules)
        spent["best start"] += found - begun
        spent["every millimetre"] += time.process_time() - found
        cut = cost_by_cutting(field, board, rules, best.level_mm)
        longer = cut[4] - by_steps[4]
        is_equal = cut[:4] == by_steps[:4] and longer <= SAME_LENGTH_MM
        as_good[0] += cut[:4] < by_steps[:4] or is_equal

    compare()
    print(f"as good as the best of all millimetres, or better: {as_good[0]} of {OUTLINES}")
    ratio = spent["every millimetre"] / spent["best start"]
    print(f"CPU time: {spent['best start']:.2f} s, {ratio:.0f} times less than every millimetre")


if __name__ == "__main__":
    main()
