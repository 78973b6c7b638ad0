"""Published cutting problems with known optimum (`fixtures/published_cutting/README.md`)."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from shapecut.stock.cutplan import Blank, CutPlan, Stock
from shapecut.stock.plan import plan_cuts

FOLDER = Path(__file__).parents[1] / "fixtures" / "published_cutting"


@dataclass(frozen=True)
class Published:
    """Blanks to be cut from the fewest boards of one length, without kerf."""

    family: str
    name: str
    board: int
    fewest: int
    blanks: tuple[Blank, ...]

    def plan(self, time_limit_s: float) -> CutPlan:
        return plan_cuts(self.blanks, [Stock(self.board)], kerf_mm=0.0, time_limit_s=time_limit_s)


def published(family: str) -> tuple[Published, ...]:
    lines = (FOLDER / f"{family}.txt").read_text(encoding="ascii").splitlines()
    return tuple(_read(family, line.split()) for line in lines if not line.startswith("#"))


def families() -> Sequence[str]:
    return sorted(path.stem for path in FOLDER.glob("*.txt"))


def _read(family: str, words: list[str]) -> Published:
    name, board, fewest, *lengths = words
    blanks = []
    for word in lengths:
        length, _, count = word.partition("x")
        blanks += [Blank(f"{length}-{i}", int(length)) for i in range(int(count or 1))]
    return Published(family, name, int(board), int(fewest), tuple(blanks))
