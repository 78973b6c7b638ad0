"""What to buy, as the page shows it: boards, cost, ways of buying, each board with its cuts."""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from shapecut.bench.desk import Values
from shapecut.bench.scene import finding_values, lengths_of
from shapecut.layout.direction_trial import DirectionTrial
from shapecut.layout.layout import Layout
from shapecut.papers.drawing import Layer, Text
from shapecut.papers.layout_drawing import drawing_of_board
from shapecut.papers.markup import Lengths
from shapecut.papers.report_glance import proof_sentence
from shapecut.papers.report_settings import ReportSettings
from shapecut.papers.svg import path_data
from shapecut.results import Made
from shapecut.stock.alternatives import Alternative
from shapecut.stock.cutplan import CutBoard
from shapecut.stock.materials import Material, total_cost
from shapecut.stock.money import money_text
from shapecut.stock.sawing import SawCut, saw_cuts

__all__ = ["buying_values"]

DRAWN = (Layer.ROW, Layer.CONTOUR, Layer.BOARD_EDGE, Layer.CUT)
"""Layers of a board's drawing, the lowest first."""


def buying_values(made: Made) -> Values:
    """All that the page shows of a plan's boards."""
    plan, lengths = made.plan.cut_plan, lengths_of(made.job)
    currency = made.job.stock.currency
    longest = max((board.stock.length_mm for board in plan.boards), default=1.0)
    total = total_cost(made.fittings.materials)
    return {
        "boards": [
            {
                "length": lengths.stock(stock.length_mm),
                "count": count,
                "each": _money(stock.price, currency),
                "cost": _money(None if stock.price is None else stock.price * count, currency),
            }
            for stock, count in plan.purchase.items()
        ],
        "spares": len(plan.spares),
        "on_hand": len([board for board in plan.boards if board.stock.on_hand]),
        "cost": _money(plan.purchase_cost, currency),
        "proof": proof_sentence(plan, ReportSettings(lengths, currency)),
        "unused": None if plan.wasted is None else f"{100 * plan.wasted:.0f} %",
        "materials": [_material_values(one, lengths, currency) for one in made.fittings.materials],
        "total": _money(total, currency),
        "ways": [_way_values(way, lengths, currency) for way in made.plan.alternatives],
        "directions": [_trial_values(trial, currency) for trial in made.plan.trials],
        "cuts": [_board_values(board, made.plan.layout, lengths) for board in plan.boards],
        "longest": longest,
        "width": made.plan.layout.board.width_mm,
        "findings": finding_values(plan.findings + made.fittings.findings),
    }


def _material_values(material: Material, lengths: Lengths, currency: str) -> Values:
    length = material.length_mm
    return {
        "name": material.name,
        "length": "" if length is None else lengths.stock(length),
        "needed": material.needed,
        "bought": material.bought,
        "each": _money(material.price, currency),
        "cost": _money(material.cost, currency),
    }


def _way_values(way: Alternative, lengths: Lengths, currency: str) -> Values:
    return {
        "buy": f"all {lengths.stock(way.stock.length_mm)}" if way.stock else "the mix",
        "boards": way.boards if way.plan else way.why_not,
        "cost": _money(way.cost, currency),
        "unused": "" if way.wasted is None else f"{100 * way.wasted:.0f} %",
    }


def _trial_values(trial: DirectionTrial, currency: str) -> Values:
    return {
        "along": trial.edge,
        "rows": trial.refused or trial.rows,
        "boards": trial.boards,
        "small": trial.small_parts,
        "cost": _money(trial.cost, currency),
    }


def _board_values(board: CutBoard, layout: Layout, lengths: Lengths) -> Values:
    drawing = drawing_of_board(board, layout)
    held = f", on hand: {board.stock.on_hand.name}" if board.stock.on_hand else ""
    return {
        "name": f"Board {board.number}: {lengths.stock(board.stock.length_mm)}{held}",
        "length": board.stock.length_mm,
        "paths": [
            {"layer": layer.value, "path": path_data(drawing.on(layer).strokes)}
            for layer in DRAWN
            if drawing.on(layer).strokes
        ],
        "labels": list(_labels(drawing.texts)),
        "saw": [_saw_words(cut, lengths) for cut in saw_cuts(board)],
        "left": lengths(board.offcut_mm),
    }


def _labels(texts: Sequence[Text]) -> Iterator[Values]:
    for text in texts:
        yield {"text": text.text, "at": [text.at[0], -text.at[1]], "height": text.height_mm}


def _saw_words(cut: SawCut, lengths: Lengths) -> str:
    labels = ", ".join(cut.labels)
    if cut.marks_mm is None:
        return f"{labels}: along the outline"
    lower, upper = (lengths(mark) for mark in cut.marks_mm)
    marks = lower if lower == upper else f"{lower} on the lower edge, {upper} on the upper"
    return f"{labels}: {marks}, blade {cut.blade}"


def _money(amount: Decimal | None, currency: str) -> str:
    return "" if amount is None else money_text(amount, currency)
