"""The report: one HTML file that needs nothing else, to read on a phone or to print.

At the top what decides: is the measurement good enough, what to buy, what to watch for.
"""

import math
from collections.abc import Mapping, Sequence, Set
from html import escape
from importlib.resources import files
from itertools import groupby

from shapecut.findings import Finding
from shapecut.layout.direction_trial import DirectionTrial
from shapecut.layout.edging import Edging
from shapecut.layout.layout import Layout
from shapecut.layout.supports import Supports
from shapecut.papers.card_words import CardWords
from shapecut.papers.closeups import SIDE_MM, Closeup
from shapecut.papers.drawing import drawing_of_layout
from shapecut.papers.length_uncertainty import COVERAGE, length_u95_mm
from shapecut.papers.markup import (
    Lengths,
    finding_list,
    picture,
    section,
    table,
)
from shapecut.papers.on_board import on_board
from shapecut.papers.overlay import Overlay
from shapecut.papers.piece_facts import PieceFacts, piece_facts
from shapecut.papers.report_boards import boards_section
from shapecut.papers.report_cards import cards_section
from shapecut.papers.report_carpentry import choices_section, supports_section
from shapecut.papers.report_edging import edging_section
from shapecut.papers.report_fittings import fittings_section, materials_section
from shapecut.papers.report_glance import glance
from shapecut.papers.report_order import order_section
from shapecut.papers.report_settings import ReportSettings
from shapecut.papers.setting_out import setting_out_section
from shapecut.papers.svg import svg_element
from shapecut.papers.verdict import measurement_verdict
from shapecut.shape.curves import Arc
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Edge, Outline, Treatment
from shapecut.stock.alternatives import Alternative
from shapecut.stock.cutplan import CutPlan
from shapecut.stock.materials import Fittings
from shapecut.survey.survey import Survey
from shapecut.trace.traced import Traced

__all__ = ["ReportSettings", "report_html"]

PIECES_CAPTION = (
    "Every piece, row by row, as it lies on its board; its reference end is the one towards the "
    "board's, and marks are measured from there along each edge of the board"
)

TREATMENT_WORDS = {
    Treatment.WALL: "wall or post, gap left",
    Treatment.COVERED: "under fascia or trim",
    Treatment.EXPOSED: "stays in sight, cut outside and sand to it",
    Treatment.OVERHANG: "nosing past the frame",
    Treatment.BUTT: "meets another board",
}

CAUTIONS = (
    "Saw with the guard fitted and the work held down; keep hands out of the blade's line and "
    "unplug before changing a blade.",
    "Wear eye and ear protection, and a dust mask: wood and composite dust harm the lungs. Do not "
    "burn offcuts of treated wood.",
    "Dry-fit each board before it is fastened, and measure one known length with a tape before the "
    "first cut.",
    "Spans, supports and fixings are for the local building code, the maker's instructions and "
    "licensed practice to decide; what this report says of them stands in for none of these.",
)


CORNERS_CAPTION = (
    "Corners to mark, in order round each piece as it lies on its board: along from the reference "
    "end, across from the board's lower edge; openings follow behind a bar"
)


def report_html(
    *,
    title: str,
    outline: Outline,
    layout: Layout,
    plan: CutPlan,
    supports: Supports | None = None,
    trials: Sequence[DirectionTrial] = (),
    alternatives: Sequence[Alternative] = (),
    edging: Edging | None = None,
    fittings: Fittings | None = None,
    of_outline: Sequence[Finding] = (),
    overlays: Sequence[Overlay] = (),
    closeups: Sequence[Closeup] = (),
    survey: Survey | None = None,
    traced: Traced | None = None,
    settings: ReportSettings | None = None,
) -> str:
    """Write the report.

    Args:
        title: The job's name.
        outline: What was boarded.
        layout: Rows and pieces.
        plan: Boards to buy.
        supports: What carries the pieces; None where no joists are stated.
        trials: The directions that were compared.
        alternatives: Ways of buying, side by side.
        edging: What is done at the edges.
        fittings: What is fitted besides the boards, and all materials.
        of_outline: What is to be known of an outline that was given.
        overlays: The photographs with the outline drawn over them.
        closeups: The photographs magnified where findings ask to look.
        survey: How the photographs see the plane; None when the outline was given.
        traced: The evidence for the outline; None when it was given.
        settings: Units, currency and the like.

    Returns:
        An HTML page without scripts and without anything to be fetched; equal input, equal text.
    """
    settings = settings or ReportSettings()
    fittings, edging = fittings or Fittings(), edging or Edging()
    words = CardWords.about(
        outline.edges,
        dict(settings.allowances),
        units=settings.lengths.units,
        denominator=settings.lengths.denominator,
    )
    verdict = measurement_verdict(outline, survey, tolerance_mm=settings.tolerance_mm)
    findings = (
        *of_outline,
        *(survey.findings if survey else ()),
        *(traced.findings if traced else ()),
        *layout.findings,
        *plan.findings,
        *fittings.findings,
    )
    parts = [
        glance(verdict, plan, findings, settings),
        _plan_section(layout, title, settings.lengths),
        _photo_section(overlays),
        boards_section(layout, plan, settings, alternatives),
        cards_section(layout, plan, words),
        _pieces_section(layout, plan, settings.lengths),
        edging_section(edging, settings.lengths),
        supports_section(layout, supports, settings.lengths),
        fittings_section(fittings, settings.lengths),
        materials_section(fittings, settings),
        order_section(layout, supports, edging, fittings, settings.lengths),
        choices_section(layout, trials, settings),
        _edges_section(outline, survey, traced, settings),
        _by_hand_section(traced),
        setting_out_section(traced.setting_out, settings.lengths) if traced else "",
        section(
            "findings", "Findings", finding_list(findings) or "<p>None.</p>", *_figures(closeups)
        ),
        section("cautions", "Cautions", _cautions()),
    ]
    return _page(title, [part for part in parts if part])


def _page(title: str, parts: Sequence[str]) -> str:
    style = files("shapecut.papers").joinpath("report.css").read_text("utf-8")
    links = (
        ("plan", "Plan"),
        ("photos", "Photographs"),
        ("boards", "Boards"),
        ("cards", "Cut cards"),
        ("pieces", "Pieces"),
        ("edging", "Edging"),
        ("supports", "Supports"),
        ("fittings", "Fittings"),
        ("materials", "Materials"),
        ("order", "Order"),
        ("choices", "Compared"),
        ("edges", "Edges"),
        ("by-hand", "Settled by you"),
        ("findings", "Findings"),
        ("cautions", "Cautions"),
    )
    body = "\n".join(parts)
    navigation = "".join(
        f'<li><a href="#{name}">{word}</a></li>' for name, word in links if f'id="{name}"' in body
    )
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{style}</style>\n</head>\n<body>\n"
        f"<header><h1>{escape(title)}</h1>\n"
        f'<nav aria-label="Parts of this report"><ul>{navigation}</ul></nav></header>\n'
        f"<main>\n{body}\n</main>\n</body>\n</html>\n"
    )


def _plan_section(layout: Layout, title: str, lengths: Lengths) -> str:
    board = layout.board
    left, low, right, high = bounds(side.curve for side in layout.field.outer)
    drawing = drawing_of_layout(layout, f"Plan of {title}: rows and pieces with their labels")
    swatch = '<svg viewBox="0 0 22 8" aria-hidden="true"><path d="M1 4H21" style="{}"/></svg>'
    key = "".join(
        f"<li>{swatch.format(style)}{word}</li>"
        for style, word in (
            ("stroke:#111;stroke-width:2.2", "saw cut"),
            ("stroke:#8d7442;stroke-width:1", "board's own edge"),
            (
                "stroke:#3f6f8c;stroke-width:1;stroke-dasharray:5 3",
                "field to cover, its edges named",
            ),
            ("stroke:#dfe3df;stroke-width:7", "waste of the row's boards"),
        )
    )
    return section(
        "plan",
        "Plan",
        f'<figure class="plan">{svg_element(drawing)}</figure>',
        f'<ul class="key">{key}</ul>',
        f"<p>{len(layout.rows)} rows, {len(layout.pieces)} pieces of boards "
        f"{lengths(board.width_mm)} wide and {lengths(board.thickness_mm)} thick, "
        f"{lengths(board.gap_mm)} apart; {lengths(right - left)} by {lengths(high - low)} "
        "over all.</p>",
    )


def _photo_section(overlays: Sequence[Overlay]) -> str:
    if not overlays:
        return ""
    figures = []
    for overlay in overlays:
        caption = f"{overlay.photo} with the traced outline and the names of its edges"
        figures.append(picture(overlay.jpeg, f"Photograph {caption}", caption))
    return section("photos", "Photographs", *figures)


def _pieces_section(layout: Layout, plan: CutPlan, lengths: Lengths) -> str:
    places = {cut.label: (board, cut) for board in plan.boards for cut in board.cuts}
    rows, corners = [], []
    for piece in layout.pieces:
        board, cut = places[piece.label]
        facts = piece_facts(on_board(piece, cut, layout.board.width_mm), layout.board.width_mm)
        corners.append((piece.label, _corners(facts, lengths)))
        rows.append(
            (
                piece.label,
                str(board.number),
                lengths(facts.length_mm),
                lengths(facts.width_mm),
                str(facts.start),
                str(facts.end),
                _marks(facts.lower, lengths),
                _marks(facts.upper, lengths),
                ", ".join(facts.along),
            )
        )
    header = (
        "piece", "board", "length", "width needed", "reference end", "other end",
        "marks, lower edge", "marks, upper edge", "cut along",
    )  # fmt: skip
    return section(
        "pieces",
        "Pieces",
        table(PIECES_CAPTION, header, rows),
        table(CORNERS_CAPTION, ("piece", "corners, along / across"), corners),
    )


def _corners(facts: PieceFacts, lengths: Lengths) -> str:
    """All corners in order; those of openings behind a bar."""
    return " | ".join(
        ";  ".join(corner.written(lengths.short) for corner in loop) for loop in facts.corners
    )


def _marks(marks: tuple[float, float] | None, lengths: Lengths) -> str:
    """Where a piece begins and ends on one edge of its board, from its reference end."""
    return "not reached" if marks is None else " to ".join(map(lengths.short, marks))


def _by_hand_section(traced: Traced | None) -> str:
    """What the person decided about the outline."""
    if not traced or not traced.by_hand:
        return ""
    rows = [(", ".join(one.edges), one.what) for one in traced.by_hand]
    caption = "Decided in the job file, not measured"
    return section("by-hand", "Settled by you", table(caption, ("edges", "what"), rows))


def _figures(closeups: Sequence[Closeup]) -> list[str]:
    """The places to look at, magnified."""
    figures = []
    for closeup in closeups:
        about = f"{closeup.finding.where} in {closeup.photo}"
        caption = (
            f"{about}: {SIDE_MM:.0f} mm of the template, as photographed and with the outline. "
            f"{closeup.finding.what}"
        )
        figures.append(picture(closeup.jpeg, f"Photograph of {about}, magnified", caption))
    return figures


def _edges_section(
    outline: Outline, survey: Survey | None, traced: Traced | None, settings: ReportSettings
) -> str:
    relative_u = survey.relative_u if survey else 0.0
    by_name = {
        edge.name: length_u95_mm(ring, index, relative_u=relative_u)
        for ring in outline.rings
        for index, edge in enumerate(ring.edges)
    }
    by_hand = {name for one in (traced.by_hand if traced else ()) for name in one.edges}
    rows = [
        _edge_row(name, list(parts), by_name, by_hand, settings)
        for name, parts in groupby(outline.edges, lambda edge: edge.whole)
    ]
    header = (
        "edge", "kind", "length", "length, 95 %", "lies within, 95 %", "what the boards meet",
        "allowance",
    )  # fmt: skip
    caption = "Every edge by its name, clockwise; a length's uncertainty includes the scale's"
    return section("edges", "Edges of the outline", table(caption, header, rows))


def _edge_row(
    name: str,
    parts: Sequence[Edge],
    by_name: Mapping[str, float | None],
    by_hand: Set[str],
    settings: ReportSettings,
) -> tuple[str, ...]:
    """One edge, or a freeform curve with all its parts."""
    lengths = [by_name[edge.name] for edge in parts]
    u_mm = [edge.u_mm for edge in parts]
    first = parts[0]
    allowance = dict(settings.allowances).get(first.treatment)
    settled = " (settled by you)" if by_hand & {edge.name for edge in parts} else ""
    return (
        name,
        _kind(parts, settings.lengths) + settled,
        settings.lengths(sum(edge.curve.length for edge in parts)),
        "not measured" if None in lengths else f"±{math.hypot(*filter(None, lengths)):.1f} mm",
        "not measured"
        if None in u_mm
        else f"±{COVERAGE * max(filter(None, u_mm), default=0):.2f} mm",
        f"{first.treatment.value}: {TREATMENT_WORDS[first.treatment]}",
        "" if allowance is None else _allowance(allowance, settings.lengths),
    )


def _kind(parts: Sequence[Edge], lengths: Lengths) -> str:
    """What an edge is, in a word."""
    if len(parts) > 1:
        return f"curve of {len(parts)} arcs"
    curve = parts[0].curve
    return f"arc, radius {lengths(curve.radius)}" if isinstance(curve, Arc) else "straight"


def _allowance(reach_mm: float, lengths: Lengths) -> str:
    """How far boards reach past an edge (positive) or stay back from it."""
    if reach_mm == 0:
        return "none"
    return f"{lengths(abs(reach_mm))} {'past' if reach_mm > 0 else 'back'}"


def _cautions() -> str:
    items = "".join(f"<li>{escape(caution)}</li>" for caution in CAUTIONS)
    return f'<div class="caution"><ul>{items}</ul></div>'
