"""The report's parts on supports and joints, and on the starts and directions compared."""

import math
from collections import Counter
from collections.abc import Sequence
from html import escape

from shapecut.layout.blocking import Block
from shapecut.layout.direction_trial import DirectionTrial
from shapecut.layout.layout import Layout
from shapecut.layout.supports import PieceSupport, Supports
from shapecut.papers.markup import Lengths, section, table
from shapecut.papers.report_settings import ReportSettings
from shapecut.papers.supports_drawing import drawing_of_supports, joist_name
from shapecut.papers.svg import svg_element
from shapecut.stock.money import money_text

__all__ = ["choices_section", "supports_section"]


def supports_section(layout: Layout, supports: Supports | None, lengths: Lengths) -> str:
    """Write what carries each piece, the blocking proposed and the joints; empty if not known."""
    if supports is None:
        return ""
    joists = supports.joists
    limit = supports.longest_spacing_mm
    held = "no limit is known" if limit is None else f"held against {lengths(limit)}"
    drawing = drawing_of_supports(layout, supports, "Pieces over their joists, and blocking")
    return section(
        "supports",
        "Supports",
        f'<figure class="plan">{svg_element(drawing)}</figure>',
        f"<p>{len(joists.lines_mm)} joists {escape(lengths(joists.width_mm))} wide; their spacing "
        f"is {escape(held)}. Blocking that is proposed is dark in the drawing.</p>",
        table(
            "What carries each piece; spans are along the board, free ends past the last joist",
            (
                "piece",
                "on joists",
                "longest span",
                "free, reference end",
                "free, other end",
                "loose",
            ),
            [_support_row(piece, lengths) for piece in supports.pieces],
        ),
        _blocking(supports.blocks, lengths),
        _joints(layout),
    )


def _support_row(piece: PieceSupport, lengths: Lengths) -> tuple[str, ...]:
    start, end = piece.free_ends_mm or (None, None)
    loose = len(piece.loose)
    return (
        piece.label,
        _named(piece.joists) or "none",
        "" if piece.span_mm is None else lengths(piece.span_mm),
        "" if start is None else lengths(start),
        "" if end is None else lengths(end),
        f"{loose} corner{'s' if loose > 1 else ''}" if loose else "",
    )


def _named(joists: Sequence[int]) -> str:
    """Joists by name; three or more that follow each other as from the first to the last."""
    ordered = sorted(joists)
    if len(ordered) > 2 and ordered[-1] - ordered[0] == len(ordered) - 1:
        return f"{joist_name(ordered[0])} to {joist_name(ordered[-1])}"
    return ", ".join(map(joist_name, ordered))


def _blocking(blocks: Sequence[Block], lengths: Lengths) -> str:
    if not blocks:
        return "<p>No blocking is needed.</p>"
    counts = Counter(lengths(block.length_mm) for block in blocks)
    cut = ", ".join(f"{count} × {length}" for length, count in counts.items())
    rows = [
        (
            _named(block.joists) if block.is_held_at_both_ends else f"{_named(block.joists)} only",
            lengths(block.length_mm),
            " / ".join(lengths.short(round(along, 1) + 0.0) for along in block.middle),
            ", ".join(block.labels),
        )
        for block in blocks
    ]
    caption = "Blocking proposed; the place is its middle in the plan, to the right and upwards"
    header = ("joists", "length", "place", "carries")
    return f"<p>Blocking to cut: {escape(cut)}.</p>\n{table(caption, header, rows)}"


def _joints(layout: Layout) -> str:
    if not layout.joints:
        return ""
    by_row: dict[int, list[int]] = {}
    for joint in layout.joints:
        by_row.setdefault(joint.row, []).append(joint.joist)
    rows = [(str(row), ", ".join(map(joist_name, joists))) for row, joists in by_row.items()]
    return table("Joints, each over the middle of its joist", ("row", "over joists"), rows)


def choices_section(
    layout: Layout, trials: Sequence[DirectionTrial], settings: ReportSettings
) -> str:
    """Write the starts and the directions that were compared; empty if none were."""
    parts = [
        *([_directions(trials, settings)] if trials else []),
        *([_starts(layout, settings.lengths)] if layout.starts else []),
    ]
    return section("choices", "What was compared", *parts) if parts else ""


def _directions(trials: Sequence[DirectionTrial], settings: ReportSettings) -> str:
    rows = [
        (
            f"{trial.edge} ({math.degrees(trial.direction_rad):.0f}°)",
            *(
                (trial.refused, *[""] * 6)
                if trial.refused
                else (
                    str(trial.rows),
                    str(trial.pieces),
                    str(trial.small_parts),
                    str(trial.joints),
                    f"{trial.boards}, {settings.lengths.short(trial.bought_mm)}",
                    f"{trial.waste:.0%}",
                    "" if trial.cost is None else money_text(trial.cost, settings.currency),
                )
            ),
        )
        for trial in trials
    ]
    header = ("along", "rows", "pieces", "too small", "joints", "boards to buy", "waste", "cost")
    return table("Directions of the boards, the one taken first", header, rows)


def _starts(layout: Layout, lengths: Lengths) -> str:
    pitch = layout.board.width_mm + layout.board.gap_mm
    taken = layout.starts[0].level_mm
    rows = [
        (
            "taken" if start.level_mm == taken else lengths((start.level_mm - taken) % pitch),
            str(start.narrow_rows),
            str(start.short_pieces),
            str(start.slivers),
            str(start.arms),
            lengths.short(start.blanks_mm),
            str(start.ripped_rows),
        )
        for start in layout.starts
    ]
    header = (
        "rows moved on by", "narrow rows", "short pieces", "slivers", "thin arms",
        "length of all blanks", "rows to rip",
    )  # fmt: skip
    return table("Starts of the rows, the best first", header, rows)
