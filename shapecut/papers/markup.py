"""The few HTML building blocks of the report; every text passed in is escaped here."""

from base64 import b64encode
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from shapecut.findings import Finding, Level
from shapecut.units import format_length, format_stock_length, format_within

__all__ = ["Lengths", "badge", "finding_list", "picture", "scrolling", "section", "table"]


@dataclass(frozen=True)
class Lengths:
    """How lengths are written: both units, the job's first.

    Attributes:
        units: `mm` or `in`, which comes first.
        denominator: Inches are rounded to 1/denominator.
    """

    units: str = "mm"
    denominator: int = 16

    def __call__(self, length_mm: float) -> str:
        """Write one length in both units."""
        other = "mm" if self.units == "in" else "in"
        return f"{self.short(length_mm)} ({self._in(other, length_mm)})"

    def short(self, length_mm: float) -> str:
        """Write one length in the job's unit only."""
        return self._in(self.units, length_mm)

    def within(self, u_mm: float, decimals: int = 1) -> str:
        """Write ± an uncertainty in the job's unit; inches have a decimal more than mm."""
        return _unbroken(format_within(u_mm, self.units, decimals))

    def stock(self, length_mm: float) -> str:
        """Write a board's length in both units, as the yard calls it."""
        first, other = ("in", "mm") if self.units == "in" else ("mm", "in")
        texts = [format_stock_length(length_mm, unit, self.denominator) for unit in (first, other)]
        return "{} ({})".format(*map(_unbroken, texts))

    def _in(self, units: str, length_mm: float) -> str:
        return _unbroken(format_length(length_mm, units, self.denominator))


def _unbroken(text: str) -> str:
    """A number stays with its unit where a line breaks."""
    return text.replace(" ", "\N{NO-BREAK SPACE}")


def section(name: str, heading: str, *parts: str) -> str:
    """A part of the page with its heading; `name` is its anchor."""
    body = "\n".join(part for part in parts if part)
    return (
        f'<section id="{escape(name)}" aria-labelledby="{escape(name)}-h">\n'
        f'<h2 id="{escape(name)}-h">{escape(heading)}</h2>\n{body}\n</section>'
    )


def table(caption: str, header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table whose first column names its rows; cells are plain text."""
    head = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in header)
    lines = []
    for first, *others in rows:
        cells = "".join(f"<td>{escape(cell)}</td>" for cell in others)
        lines.append(f'<tr><th scope="row">{escape(first)}</th>{cells}</tr>')
    body = "\n".join(lines)
    return scrolling(
        caption,
        f"<table><caption>{escape(caption)}</caption><thead><tr>{head}</tr></thead>\n"
        f"<tbody>\n{body}\n</tbody></table>",
    )


def scrolling(label: str, content: str) -> str:
    """Wide content that scrolls by itself on a narrow screen, by keyboard too."""
    return (
        f'<div class="wide" role="region" tabindex="0" aria-label="{escape(label)}">{content}</div>'
    )


def picture(jpeg: bytes, alt: str, caption: str) -> str:
    """A JPEG carried inside the page."""
    data = b64encode(jpeg).decode("ascii")
    return (
        f'<figure><img alt="{escape(alt)}" src="data:image/jpeg;base64,{data}">'
        f"<figcaption>{escape(caption)}</figcaption></figure>"
    )


def badge(level: Level) -> str:
    """A level as a word; its colour only repeats what the word says."""
    return f'<strong class="badge {level.value}">{level.value}</strong>'


def finding_list(findings: Iterable[Finding]) -> str:
    """Findings as a list, the gravest first; empty when there are none."""
    order = list(Level)
    ranked = sorted(findings, key=lambda finding: -order.index(finding.level))
    items = "\n".join(
        f"<li>{badge(finding.level)} <b>{escape(finding.where)}</b>: {escape(finding.what)} "
        f"{escape(finding.todo)}</li>"
        for finding in ranked
    )
    return f'<ul class="findings">\n{items}\n</ul>' if items else ""
