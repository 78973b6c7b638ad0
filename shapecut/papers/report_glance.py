"""The top of the report: is the measurement good enough, what to buy, what to watch for."""

from collections.abc import Sequence
from html import escape

from shapecut.findings import Finding, Level
from shapecut.papers.markup import badge, finding_list
from shapecut.papers.material_list import besides_boards
from shapecut.papers.report_settings import ReportSettings
from shapecut.papers.verdict import Verdict
from shapecut.stock.cutplan import CutPlan
from shapecut.stock.materials import Material
from shapecut.stock.money import money_text

__all__ = ["glance", "proof_sentence"]


def glance(
    verdict: Verdict,
    plan: CutPlan,
    materials: Sequence[Material],
    findings: Sequence[Finding],
    settings: ReportSettings,
) -> str:
    """Write the three answers that decide."""
    grave = [finding for finding in findings if finding.level is not Level.NOTE]
    watch = finding_list(grave) or "<p>Nothing stands out.</p>"
    good = (
        f"<h2>Is the measurement good enough?</h2>\n"
        f'<p class="big">{_verdict_badge(verdict)}{escape(verdict.headline)}</p>\n'
        f"<p>{escape(verdict.detail)}</p>"
    )
    buying = _buying(plan, materials, settings)
    cells = (
        f"<div>{good}</div>\n<div><h2>What to buy</h2>\n{buying}</div>\n"
        f'<div class="all"><h2>What to watch for</h2>\n{watch}</div>'
    )
    return f'<section aria-label="At a glance" class="glance">\n{cells}\n</section>'


def _verdict_badge(verdict: Verdict) -> str:
    """The verdict's level, where there is something to do about it."""
    return "" if verdict.level is Level.NOTE else f"{badge(verdict.level)} "


def _buying(plan: CutPlan, materials: Sequence[Material], settings: ReportSettings) -> str:
    purchase, price = plan.purchase, plan.purchase_cost
    bought, spares = sum(purchase.values()), len(plan.spares)
    lines = [
        f"<li>{count} × {escape(settings.lengths.stock(stock.length_mm))}</li>"
        for stock, count in purchase.items()
    ]
    on_hand = len({board.number for board in plan.boards if board.stock.on_hand})
    counts = (
        f"{bought} board{'' if bought == 1 else 's'}",
        *([f"{spares} of them spare"] if spares else []),
        *([money_text(price, settings.currency)] if price is not None else []),
        *([f"and {on_hand} on hand"] if on_hand else []),
    )
    waste = f"{plan.wasted or 0.0:.0%}".replace("%", " %")
    of = "the length that is cut" if spares else "the length"
    return (
        f'<p class="big">{escape(", ".join(counts))}</p>\n'
        f"<ul>{''.join(lines)}</ul>\n"
        f"{_besides(materials, settings)}"
        f"<p>{waste} of {of} is not used. {escape(proof_sentence(plan, settings))}</p>"
    )


def _besides(materials: Sequence[Material], settings: ReportSettings) -> str:
    """What is needed besides boards, and what everything with a price costs together."""
    besides = besides_boards(materials, settings.currency)
    return f"<p>Also {escape(besides)}.</p>\n" if besides else ""


def proof_sentence(plan: CutPlan, settings: ReportSettings) -> str:
    """Whether there is a cheaper way than a cutting plan's."""
    priced = plan.cost is not None
    if plan.proved:
        best = "No cheaper way" if priced else "No way with less board"
        return f"{best} exists with these lengths, turns and cuts."
    least = (
        money_text(plan.bound, settings.currency) if priced else settings.lengths(float(plan.bound))
    )
    return f"It cannot be less than {least}; whether that can be reached is not known."
