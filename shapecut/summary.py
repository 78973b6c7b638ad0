"""What a command says when it is done: a few lines a person can act on."""

from collections.abc import Iterator

from shapecut.findings import counted, finding_lines
from shapecut.papers.material_list import besides_boards
from shapecut.papers.verdict import COVERAGE
from shapecut.results import Made
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Outline
from shapecut.stages.measuring import Measured
from shapecut.stock.cutplan import CutPlan
from shapecut.stock.money import money_text
from shapecut.units import MILLIMETRES, LengthStyle, format_stock_length, format_within

__all__ = ["made_lines", "measured_lines", "plan_lines"]


def measured_lines(measured: Measured) -> Iterator[str]:
    """Say how large the outline is and how sure."""
    yield _outline_line(measured.outline, MILLIMETRES)
    yield from finding_lines(measured.findings)


def plan_lines(made: Made) -> Iterator[str]:
    """Say what is to be laid and bought."""
    yield from _board_lines(made)
    yield from finding_lines(made.findings)


def made_lines(made: Made) -> Iterator[str]:
    """Say all of it."""
    yield made.job.title
    papers = made.job.papers
    yield _outline_line(made.plan.outline, LengthStyle(papers.units, papers.fraction))
    yield from _board_lines(made)
    yield from finding_lines(made.findings)


def _outline_line(outline: Outline, lengths: LengthStyle) -> str:
    left, low, right, high = bounds(edge.curve for edge in outline.outer.edges)
    size = f"{len(outline.edges)} edges, {lengths.fine(right - left)} × {lengths.fine(high - low)}"
    known = [edge.u_mm for edge in outline.edges if edge.u_mm is not None]
    if not known:
        return f"outline  {size}, as given"
    sure = format_within(COVERAGE * max(known), lengths.units, decimals=2)
    return f"outline  {size}, edges within {sure}, scale aside"


def _board_lines(made: Made) -> Iterator[str]:
    layout, cut_plan = made.plan.layout, made.plan.cut_plan
    joints = f", {len(layout.joints)} joints" if layout.joints else ""
    yield f"boards   {len(layout.rows)} rows, {len(layout.pieces)} pieces{joints}"
    if made.plan.trials:
        first, *others = (trial.edge for trial in made.plan.trials)
        yield f"along    {first}, compared with {', '.join(others) or 'no other'}"
    if supports := made.plan.supports:
        joists, blocks = len(supports.joists.lines_mm), len(supports.blocks)
        yield f"joists   {joists}, {counted(blocks, 'piece', 'pieces')} of blocking"
    units, fraction = made.job.papers.units, made.job.papers.fraction
    lengths = ", ".join(
        f"{count} × {format_stock_length(stock.length_mm, units, fraction)}"
        for stock, count in reversed(cut_plan.purchase.items())
    )
    yield f"buy      {lengths}{_cost(cut_plan, made.job.stock.currency)}"
    if more := besides_boards(made.fittings.materials, made.job.stock.currency):
        yield f"also     {more}"


def _cost(cut_plan: CutPlan, currency: str) -> str:
    spares = f", {len(cut_plan.spares)} of them spare" if cut_plan.spares else ""
    if cut_plan.purchase_cost is None:
        return spares
    least = f"at best {cut_plan.bound}{' without the spares' if spares else ''}"
    proof = "no cheaper way" if cut_plan.proved else least
    return f"{spares}: {money_text(cut_plan.purchase_cost, currency)} ({proof})"
