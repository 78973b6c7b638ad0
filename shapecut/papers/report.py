"""The report: one HTML file that needs nothing else, to read on a phone or to print.

At the top what decides: is the measurement good enough, what to buy, what to watch for.
"""

from collections.abc import Sequence
from html import escape
from importlib.resources import files

from shapecut.findings import Finding
from shapecut.layout.direction_trial import DirectionTrial
from shapecut.layout.edging import Edging
from shapecut.layout.layout import Layout
from shapecut.layout.supports import Supports
from shapecut.papers.card_words import CardWords
from shapecut.papers.closeups import SIDE_MM, Closeup
from shapecut.papers.markup import (
    Lengths,
    finding_list,
    picture,
    section,
    table,
)
from shapecut.papers.overlay import Overlay
from shapecut.papers.report_boards import boards_section
from shapecut.papers.report_cards import cards_section
from shapecut.papers.report_carpentry import choices_section, supports_section
from shapecut.papers.report_drilling import drilling_section
from shapecut.papers.report_edges import edges_section
from shapecut.papers.report_edging import edging_section
from shapecut.papers.report_fittings import fittings_section, materials_section
from shapecut.papers.report_glance import glance
from shapecut.papers.report_order import order_section
from shapecut.papers.report_pieces import pieces_section
from shapecut.papers.report_plan import plan_section
from shapecut.papers.report_settings import ReportSettings
from shapecut.papers.setting_out import setting_out_section
from shapecut.papers.verdict import measurement_verdict
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Point
from shapecut.shape.setting_out import SettingOut
from shapecut.stock.alternatives import Alternative
from shapecut.stock.cutplan import CutPlan
from shapecut.stock.materials import Fittings
from shapecut.survey.survey import Survey
from shapecut.trace.traced import Traced

__all__ = ["ReportSettings", "report_html"]

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

_NOTHING_MARKED = SettingOut()


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
    marked: SettingOut = _NOTHING_MARKED,
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
        marked: What was marked on the template.
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
        trims=edging.trims,
    )
    verdict = measurement_verdict(
        outline, survey, tolerance_mm=settings.tolerance_mm, lengths=settings.lengths
    )
    findings = (
        *of_outline,
        *(survey.findings if survey else ()),
        *(traced.findings if traced else ()),
        *layout.findings,
        *plan.findings,
        *fittings.findings,
    )
    parts = [
        glance(verdict, plan, fittings.materials, findings, settings),
        plan_section(layout, fittings, marked, title, settings.lengths),
        _photo_section(overlays),
        boards_section(layout, plan, settings, alternatives),
        cards_section(layout, plan, words),
        pieces_section(layout, plan, settings.lengths),
        drilling_section(layout, plan, marked.points, settings),
        edging_section(edging, settings.lengths),
        supports_section(layout, supports, settings.lengths),
        fittings_section(fittings, settings.lengths),
        materials_section(fittings, settings),
        order_section(layout, supports, edging, fittings, settings.lengths),
        choices_section(layout, trials, settings),
        edges_section(outline, survey, traced, settings),
        _by_hand_section(traced),
        setting_out_section(marked, _lower_left(outline), settings.lengths),
        section(
            "findings",
            "Findings",
            finding_list(findings) or "<p>None.</p>",
            _figures(closeups, settings.lengths),
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
        ("drilling", "Drilling"),
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


def _lower_left(outline: Outline) -> Point:
    left, low, _, _ = bounds(edge.curve for edge in outline.outer.edges)
    return (left, low)


def _photo_section(overlays: Sequence[Overlay]) -> str:
    if not overlays:
        return ""
    figures = []
    for overlay in overlays:
        about = f"{overlay.photo} with the traced outline and the names of its edges"
        band = (
            "; with 95 % each edge lies in the light band round it, drawn "
            f"{overlay.enlarged} times as wide as it is"
            if overlay.enlarged
            else ""
        )
        figures.append(picture(overlay.jpeg, f"Photograph {about}", about + band))
    return section("photos", "Photographs", f'<div class="abreast">{"".join(figures)}</div>')


def _by_hand_section(traced: Traced | None) -> str:
    """What the person decided about the outline."""
    if not traced or not traced.by_hand:
        return ""
    rows = [(", ".join(one.edges), one.what) for one in traced.by_hand]
    caption = "Decided in the job file, not measured"
    return section("by-hand", "Settled by you", table(caption, ("edges", "what"), rows))


def _figures(closeups: Sequence[Closeup], lengths: Lengths) -> str:
    """The places to look at, magnified."""
    figures = []
    for closeup in closeups:
        about = f"{closeup.finding.where} in {closeup.photo}"
        caption = (
            f"{about}: {lengths.short(SIDE_MM)} of the template, as photographed and with the "
            f"outline in the band in which it lies with 95 %. {closeup.finding.what}"
        )
        figures.append(picture(closeup.jpeg, f"Photograph of {about}, magnified", caption))
    return f'<div class="abreast">{"".join(figures)}</div>' if figures else ""


def _cautions() -> str:
    items = "".join(f"<li>{escape(caution)}</li>" for caution in CAUTIONS)
    return f'<div class="caution"><ul>{items}</ul></div>'
