"""The best start and direction against cutting the rows of every start in steps of 1 mm.

On 50 random outlines, boards along each of their straight edges' directions.  Prints how often the
choice is as good as the best of all steps in all directions or better, and the ratio of the times.
Run: python -m tests.benchmarks.best_start
"""

import time

from hypothesis import Phase, given, seed, settings

from shapecut.layout.best_start import SAME_LENGTH_MM, best_starts
from shapecut.layout.rules import LayoutRules
from shapecut.shape.placement import Placement
from shapecut.stages.directions import directions_along_edges
from tests.strategies import boards, outlines
from tests.test_layout_best_start import best_of_all_millimetres, cost_by_cutting
from tests.test_layout_rows import field_of

OUTLINES = 50
RIP_SHARE = 0.3
SHORTEST_MM = 200.0


def main() -> None:
    """Compare, and print two lines."""
    tried = {"outlines": 0, "directions": 0, "as good": 0}
    spent = {"best start": 0.0, "every millimetre": 0.0}

    @seed(1)
    @settings(max_examples=OUTLINES, deadline=None, database=None, phases=[Phase.generate])
    @given(outlines(smallest_mm=800), boards())
    def compare(outline, board):
        rules = LayoutRules(
            smallest_rip_mm=RIP_SHARE * board.width_mm, smallest_length_mm=SHORTEST_MM
        )
        found, by_steps = [], []
        for _, turn in directions_along_edges(outline):
            field = field_of(outline).placed(Placement(turn_rad=turn).inverse())
            begun = time.process_time()
            best = best_starts(field, board, rules)[0]
            between = time.process_time()
            by_steps.append(best_of_all_millimetres(field, board, rules))
            spent["best start"] += between - begun
            spent["every millimetre"] += time.process_time() - between
            found.append(((best.faults, best.blanks_mm), (field, best.level_mm)))
            tried["directions"] += 1
        if not found:
            return
        _, (field, level) = min(found, key=lambda one: one[0])
        chosen, exhaustive = cost_by_cutting(field, board, rules, level), min(by_steps)
        longer = chosen[4] - exhaustive[4]
        is_equal = chosen[:4] == exhaustive[:4] and longer <= SAME_LENGTH_MM
        tried["as good"] += chosen[:4] < exhaustive[:4] or is_equal
        tried["outlines"] += 1

    compare()
    print(
        f"as good as the best of all millimetres in all directions, or better: {tried['as good']} "
        f"of {tried['outlines']} outlines, {tried['directions']} directions"
    )
    ratio = spent["every millimetre"] / spent["best start"]
    print(f"CPU time: {spent['best start']:.2f} s, {ratio:.0f} times less than every millimetre")


if __name__ == "__main__":
    main()
