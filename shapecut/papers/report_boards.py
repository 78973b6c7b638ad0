"""The report's boards: each drawn to scale, with its cuts in the order they are sawn."""

from collections.abc import Sequence
from html import escape

from shapecut.layout.layout import Layout
from shapecut.papers.layout_drawing import drawing_of_board
from shapecut.papers.markup import Lengths, scrolling, section, table
from shapecut.papers.report_settings import ReportSettings
from shapecut.papers.svg import svg_element
from shapecut.stock.alternatives import Alternative
from shapecut.stock.cutplan import CutBoard, CutPlan, Offcut
from shapecut.stock.money import money_text
from shapecut.stock.sawing import SawCut, saw_cuts

__all__ = ["boards_section"]

NOTHING_MM = 0.05
"""Less is written as nought."""


def boards_section(
    layout: Layout,
    plan: CutPlan,
    settings: ReportSettings,
    alternatives: Sequence[Alternative] = (),
) -> str:
    """Write the section on boards and their cuts, with other ways of buying before them."""
    longest = max((board.stock.length_mm for board in plan.boards), default=1.0)
    figures = "\n".join(_board_figure(board, layout, longest, settings) for board in plan.boards)
    return section(
        "boards",
        "Boards and their cuts",
        _ways_of_buying(alternatives, settings),
        "<p>Drawn to scale, one under the other, reference end on the left. Every mark is measured "
        "from the reference end, along the edge that the table names. Saw right across the board "
        "in the order of the table, the blade on the stated side of the mark (its cut is reckoned "
        f"{settings.lengths(plan.kerf_mm)} wide); then rip what lies abreast and trim each piece "
        "to its line.</p>",
        figures,
    )


def _ways_of_buying(alternatives: Sequence[Alternative], settings: ReportSettings) -> str:
    """Each length bought alone beside the cheapest mix."""
    if not alternatives:
        return ""
    rows = []
    for way in alternatives:
        what = f"all {settings.lengths.stock(way.stock.length_mm)}" if way.stock else "the mix"
        cost = "" if way.cost is None else money_text(way.cost, settings.currency)
        waste = "" if way.wasted is None else f"{100 * way.wasted:.0f} %"
        rows.append((what, str(way.boards) if way.plan else way.why_not, cost, waste))
    spared = any(way.plan and way.plan.spares for way in alternatives)
    caption = f"Ways of buying, side by side{', without spares' if spared else ''}"
    return table(caption, ("buy", "boards", "cost", "not used"), rows)


def _board_figure(
    board: CutBoard, layout: Layout, longest_mm: float, settings: ReportSettings
) -> str:
    lengths = settings.lengths
    share = 100 * board.stock.length_mm / longest_mm
    drawing = svg_element(drawing_of_board(board, layout), attributes=f'style="width:{share:.2f}%"')
    heading = f"Board {board.number}: {lengths.stock(board.stock.length_mm)}"
    if board.stock.on_hand is not None:
        heading += f", on hand: {board.stock.on_hand.name}"
    pieces = table(
        f"Pieces of board {board.number}",
        ("piece", "from", "to", "length", "lies"),
        [
            (
                cut.label,
                lengths(cut.start_mm),
                lengths(cut.end_mm),
                lengths(cut.end_mm - cut.start_mm),
                str(cut.turn),
            )
            for cut in board.cuts
        ],
    )
    cuts = table(
        f"Cuts of board {board.number}",
        ("cut", "lower edge", "upper edge", "blade", "pieces"),
        [_cut_row(n, cut, lengths) for n, cut in enumerate(saw_cuts(board), start=1)],
    )
    left_over = f"<p>{escape(_left_over(board, lengths))}</p>"
    return (
        f'<div class="board"><h3>{escape(heading)}</h3>{scrolling(heading, drawing)}'
        f'<div class="abreast">{pieces}{cuts}</div>{left_over}</div>'
    )


def _cut_row(number: int, cut: SawCut, lengths: Lengths) -> tuple[str, ...]:
    labels = ", ".join(cut.labels) + ("" if cut.finished else ", trimmed afterwards")
    if cut.marks_mm is None:
        return (str(number), "along the outline", "", str(cut.blade), labels)
    return (str(number), *map(lengths, cut.marks_mm), str(cut.blade), labels)


def _left_over(board: CutBoard, lengths: Lengths) -> str:
    """What is left of a board, and what of it is worth keeping."""
    if board.leftover:
        return f"Left over, to keep: {'; '.join(_kept(one, lengths) for one in board.leftover)}."
    if board.offcut_mm < NOTHING_MM:
        return "Nothing is left over."
    return f"Left over, not worth keeping: {lengths(board.offcut_mm)}."


def _kept(offcut: Offcut, lengths: Lengths) -> str:
    """An offcut's length; of one with slanted ends, that of either edge."""
    lower, upper = (end - begin for begin, end in (offcut.lower_mm, offcut.upper_mm))
    if abs(lower - upper) < NOTHING_MM:
        return f"{offcut.name}, {lengths(lower)} long"
    return f"{offcut.name}, {lengths(lower)} on its lower edge, {lengths(upper)} on its upper"
