"""The top of the report: is the measurement good enough, what to buy, what to watch for."""

from collections import Counter
from collections.abc import Sequence
from decimal import Decimal
from html import escape

from shapecut.findings import Finding, Level
from shapecut.papers.markup import badge, finding_list
from shapecut.papers.report_settings import ReportSettings
from shapecut.papers.verdict import Verdict
from shapecut.stock.alternatives import used_mm
from shapecut.stock.cutplan import CutPlan

__all__ = ["glance"]


def glance(
    verdict: Verdict, plan: CutPlan, findings: Sequence[Finding], settings: ReportSettings
) -> str:
    """Write the three answers that decide."""
    grave = [finding for finding in findings if finding.level is not Level.NOTE]
    watch = finding_list(grave) or "<p>Nothing stands out.</p>"
    good = (
        f"<h2>Is the measurement good enough?</h2>\n"
        f'<p class="big">{_verdict_badge(verdict)}{escape(verdict.headline)}</p>\n'
        f"<p>{escape(verdict.detail)}</p>"
    )
    cells = (
        f"<div>{good}</div>\n<div><h2>What to buy</h2>\n{_buying(plan, settings)}</div>\n"
        f'<div class="all"><h2>What to watch for</h2>\n{watch}</div>'
    )
    return f'<section aria-label="At a glance" class="glance">\n{cells}\n</section>'


def _verdict_badge(verdict: Verdict) -> str:
    """The verdict's level, where there is something to do about it."""
    return "" if verdict.level is Level.NOTE else f"{badge(verdict.level)} "


def _buying(plan: CutPlan, settings: ReportSettings) -> str:
    counts = Counter(plan.bought)
    bought = sum(counts.values())
    lines = [
        f"<li>{count} × {escape(settings.lengths.stock(stock.length_mm))}</li>"
        for stock, count in sorted(counts.items(), key=lambda item: -item[0].length_mm)
    ]
    cost = f", {_money(plan.cost, settings.currency)}" if plan.cost is not None else ""
    boards = "board" if bought == 1 else "boards"
    used = sum(used_mm(board) for board in plan.boards if board.stock.on_hand is None)
    waste = 100 * (1 - used / plan.bought_mm) if bought else 0.0
    on_hand = len(plan.boards) - bought
    offcuts = f", and {on_hand} on hand" if on_hand else ""
    return (
        f'<p class="big">{bought} {boards}{escape(cost)}{offcuts}</p>\n'
        f"<ul>{''.join(lines)}</ul>\n"
        f"<p>{waste:.0f} % of the length is not used. {escape(_proof(plan, settings))}</p>"
    )


def _proof(plan: CutPlan, settings: ReportSettings) -> str:
    priced = plan.cost is not None
    if plan.proved:
        best = "No cheaper way" if priced else "No way with less board"
        return f"{best} exists of nesting the ends as they may be turned."
    least = _money(plan.bound, settings.currency) if priced else settings.lengths(float(plan.bound))
    return f"It cannot be less than {least}; whether that can be reached is not known."


def _money(amount: Decimal, currency: str) -> str:
    return f"{amount} {currency}".strip()
