"""The report's parts on fasteners, fascia, points and strips, and on all materials."""

import math
from decimal import Decimal
from html import escape

from shapecut.layout.fascia import Fascia, FasciaPart
from shapecut.layout.fasteners import Fasteners
from shapecut.layout.point_rows import PointRow
from shapecut.layout.strip_goods import StripRuns
from shapecut.papers.markup import Lengths, section, table
from shapecut.papers.report_settings import ReportSettings
from shapecut.stock.cutplan import CutPlan
from shapecut.stock.materials import BLOCKING, Fittings, Material, total_cost
from shapecut.stock.money import money_text

__all__ = ["fittings_section", "materials_section"]


def fittings_section(fittings: Fittings, lengths: Lengths) -> str:
    """Write what is fitted besides the boards; empty if nothing is."""
    parts = [
        *([_fasteners(fittings.fasteners)] if fittings.fasteners else []),
        *([_fascia(fittings.fascia, fittings.fascia_plan, lengths)] if fittings.fascia else []),
        *(_points(row, lengths) for row in fittings.rows),
        *(_strips(runs, lengths) for runs in fittings.strips),
    ]
    return section("fittings", "Fasteners and trim", *parts) if parts else ""


def _fasteners(fasteners: Fasteners) -> str:
    by_joist: dict[str, dict[str, int]] = {}
    kinds = list(fasteners.counts())
    for one in fasteners.places:
        joist = "along joists" if one.joist is None else f"J{one.joist + 1}"
        counts = by_joist.setdefault(joist, dict.fromkeys(kinds, 0))
        counts[one.kind] += 1
    rows = [
        (joist, *(str(counts[kind]) for kind in kinds))
        for joist, counts in sorted(by_joist.items(), key=lambda item: _number(item[0]))
    ]
    total = ("all", *(str(count) for count in fasteners.counts().values()))
    return table("Fasteners on each joist, without spares", ("joist", *kinds), [*rows, total])


def _number(joist: str) -> float:
    return int(joist[1:]) if joist[1:].isdecimal() else math.inf


def _fascia(fascia: Fascia, plan: CutPlan | None, lengths: Lengths) -> str:
    caption = (
        f"Fascia, ripped to {lengths(fascia.rules.width_mm)}; left and right as seen from outside, "
        f"lengths from point to point"
    )
    sources = {
        cut.label: f"{lengths.stock(board.stock.length_mm)}, number {board.number}, from "
        f"{lengths.short(cut.start_mm)}"
        for board in (plan.boards if plan else ())
        for cut in board.cuts
    }
    rows = [
        (
            part.label,
            part.edge,
            lengths(part.length_mm),
            lengths(part.face_mm),
            _end(part.mitres_rad[0]),
            _end(part.mitres_rad[1]),
            sources.get(part.label, ""),
        )
        for part in fascia.parts
    ]
    header = ("board", "along", "length", "face", "left end", "right end", "cut from")
    drilled = [part for part in fascia.parts if part.marks]
    return "\n".join([table(caption, header, rows), *(_holes(part, lengths) for part in drilled)])


def _end(mitre_rad: float) -> str:
    """How an end is cut: of two mitres the face or the back is the longer one."""
    if abs(mitre_rad) < math.radians(0.05):
        return "square"
    longer = "face" if mitre_rad > 0 else "back"
    return f"{abs(math.degrees(mitre_rad)):.1f}° off square, {longer} longer"


def _holes(part: FasciaPart, lengths: Lengths) -> str:
    columns = list(dict.fromkeys(mark.along_mm for mark in part.marks))
    heights = list(dict.fromkeys(mark.up_mm for mark in part.marks))
    return (
        f"<p>Holes of {escape(part.label)}, from the left end of its face: at "
        f"{escape(', '.join(map(lengths.short, columns)))}; from its lower edge: at "
        f"{escape(', '.join(map(lengths.short, heights)))}.</p>"
    )


def _points(row: PointRow, lengths: Lengths) -> str:
    on = row.rules.edge or lengths(row.length_mm)
    caption = f"{row.rules.name}: along {on}, {lengths(row.clear_mm)} clear; from the left end"
    rows = [(point.name, lengths(point.along_mm)) for point in row.points]
    return table(caption, ("point", "at"), rows)


def _strips(runs: StripRuns, lengths: Lengths) -> str:
    rows = [
        (piece.label, ", ".join(piece.edges), lengths(piece.length_mm)) for piece in runs.pieces
    ]
    corners = len(runs.corners)
    bare = ", ".join(lengths.short(rest) for rest in runs.rests_mm if rest > 0.05)
    notes = [
        f"{corners} corner{'s' if corners != 1 else ''}",
        f"{lengths(runs.length_mm)} in all",
        *([f"left bare at the ends of the runs: {bare}"] if bare else []),
    ]
    caption = f"{runs.rules.name}: {'; '.join(notes)}"
    return table(caption, ("piece", "along", "length"), rows)


def materials_section(fittings: Fittings, settings: ReportSettings) -> str:
    """Write the list of all materials; empty where it would only repeat the boards."""
    if len({material.name for material in fittings.materials}) < 2:
        return ""
    rows = [_material(material, settings) for material in fittings.materials]
    total = total_cost(fittings.materials)
    if total is not None:
        rows.append(("what has a price", "", "", "", "", "", _money(total, settings)))
    header = ("material", "length", "needed", "to buy", "waste", "each", "price")
    caption = "All materials, spares in what is to be bought"
    if any(material.name == BLOCKING for material in fittings.materials):
        caption += "; blocking is of the joists' timber"
    return section("materials", "Materials", table(caption, header, rows))


def _material(material: Material, settings: ReportSettings) -> tuple[str, ...]:
    each, cost = material.price, material.cost
    return (
        material.name,
        "" if material.length_mm is None else settings.lengths.stock(material.length_mm),
        str(material.needed),
        str(material.bought),
        "" if material.wasted is None else f"{material.wasted:.0%}",
        "" if each is None else _money(each, settings),
        "" if cost is None else _money(cost, settings),
    )


def _money(amount: Decimal, settings: ReportSettings) -> str:
    return money_text(amount, settings.currency)
