"""Published cutting problems with known optimum (`fixtures/published_cutting/README.md`)."""

from collections.abc import Iterator, Sequence
from configparser import ConfigParser
from dataclasses import dataclass
from pathlib import Path

from shapecut.stock.cutplan import Blank, CutPlan, Stock
from shapecut.stock.plan import plan_cuts

FOLDER = Path(__file__).parents[1] / "fixtures" / "published_cutting"
FAMILIES = ("uniform_120", "uniform_250", "triplets_60")


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
    """The problems of a family that is carried."""
    lines = (FOLDER / f"{family}.txt").read_text(encoding="ascii").splitlines()
    return tuple(_carried(family, line.split()) for line in lines if not line.startswith("#"))


def gathered(folder: Path) -> Iterator[tuple[Published, ...]]:
    """Family by family, the problems of `optima.ini` whose files lie anywhere in a folder.

    A file holds how many lengths there are, the board, then each length with its number, or how
    many blanks there are, the board, then each blank.
    """
    optima = ConfigParser()
    optima.optionxform = str  # type: ignore[assignment,method-assign]
    optima.read(FOLDER / "optima.ini", encoding="ascii")
    for family in optima.sections():
        found = [
            _from_file(family, path, int(fewest))
            for name, fewest in optima[family].items()
            for path in sorted(folder.rglob(f"{name}.txt"))[:1]
        ]
        if found:
            yield tuple(found)


def _carried(family: str, words: list[str]) -> Published:
    name, board, fewest, *lengths = words
    pairs = [word.partition("x") for word in lengths]
    counts = [(int(length), int(count or 1)) for length, _, count in pairs]
    return Published(family, name, int(board), int(fewest), _blanks(counts))


def _from_file(family: str, path: Path, fewest: int) -> Published:
    first, board, *rest = map(int, path.read_text(encoding="ascii").split())
    in_pairs = len(rest) == 2 * first
    counts = zip(rest[::2], rest[1::2], strict=True) if in_pairs else ((w, 1) for w in rest)
    return Published(family, path.stem, board, fewest, _blanks(list(counts)))


def _blanks(counts: Sequence[tuple[int, int]]) -> tuple[Blank, ...]:
    return tuple(
        Blank(f"{place}-{i}", length)
        for place, (length, count) in enumerate(counts)
        for i in range(count)
    )
