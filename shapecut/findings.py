"""What a fitter must see: findings are values, shown alike by the command line, report and JSON."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Finding", "Level", "counted", "finding_lines", "listed", "near_pixel"]


class Level(StrEnum):
    """How much a finding matters to the cut."""

    NOTE = "note"
    """Worth knowing; nothing to do."""
    CHECK = "check"
    """Look at the place before cutting."""
    SERIOUS = "serious"
    """Do not cut before this is settled."""


@dataclass(frozen=True)
class Finding:
    """One thing to know about a job.

    Attributes:
        level: How much it matters.
        where: The photograph, card, edge, row or piece it concerns, as a person would point at it.
        what: What was seen, in one sentence with its numbers.
        todo: What to do about it, in one sentence; empty for a plain note.
        place_mm: The place on the template to look at, in its plane; None where it has none.
    """

    level: Level
    where: str
    what: str
    todo: str = ""
    place_mm: tuple[float, float] | None = None


def near_pixel(photo: str, x: float, y: float) -> str:
    """Where in a picture a finding is, from its upper left corner, pixels."""
    return f"{photo}, near pixel ({x:.0f}, {y:.0f})"


def finding_lines(findings: Iterable[Finding]) -> Iterator[str]:
    """One line of text each, the most serious first."""
    order = list(Level)[::-1]
    for finding in sorted(findings, key=lambda finding: order.index(finding.level)):
        yield f"{finding.level.value:<8} {finding.where}: {finding.what} {finding.todo}".rstrip()


def counted(count: int, one: str, several: str) -> str:
    """A number with its noun, for sentences."""
    return f"{count} {one if count == 1 else several}"


def listed(names: Sequence[str], most: int) -> str:
    """Some names, for sentences: the first ones if there are many.

    >>> listed(["1a", "2a", "3a"], 2)
    '1a, 2a and others'
    """
    shown = ", ".join(names[:most])
    return f"{shown} and others" if len(names) > most else shown
