"""The report's cut cards: each piece in little, with its marks and cuts in words."""

import math
from collections.abc import Iterable, Iterator, Sequence
from html import escape
from itertools import pairwise

from shapecut.layout.layout import Layout
from shapecut.papers.card_sketch import CardSketch, Chain, card_sketch
from shapecut.papers.card_words import CardWords, WrittenCard, cards_in_order
from shapecut.papers.cut_card import CutCard
from shapecut.papers.drawing import Drawing, Layer, Stroke, Text
from shapecut.papers.markup import section
from shapecut.papers.plan_map import PlanMap, plan_map, reference_end
from shapecut.papers.svg import path_data, svg_element
from shapecut.shape.curves import Line
from shapecut.stock.cutplan import CutPlan

__all__ = ["cards_section"]

NAME_SHARE, NAME_SHARE_OF_LENGTH = 0.11, 0.028
"""Height of a mark's number as a share of the board's width, and at least of its drawn length."""

AROUND_SHARE = 0.02
"""Room round the little plan as a share of its longer side."""

INTRODUCTION = (
    "<p>One card a piece, lying face up; every distance is measured along the board from the "
    "reference end and up from its lower edge. Plain stretches are shortened, the hatched side is "
    "waste. The little plan shows where the piece belongs, its reference end thick. The same cards "
    "to print are in cut-cards.pdf.</p>"
)


def cards_section(layout: Layout, plan: CutPlan, words: CardWords) -> str:
    """Write the cards in the order in which the boards are sawn."""
    little = plan_map(layout)
    cards = [_card(one, little, words) for one in cards_in_order(layout, plan, words)]
    body = f'<div class="cards">{"".join(cards)}</div>'
    return section("cards", "Cut cards", INTRODUCTION, _pieces_of(little), body)


def _pieces_of(little: PlanMap) -> str:
    """All pieces once, for every card to refer to."""
    pieces = f'<path id="all-pieces" d="{path_data(little.pieces.values())}"/>'
    return f'<svg class="unseen" aria-hidden="true"><defs>{pieces}</defs></svg>'


def _place(one: WrittenCard, little: PlanMap) -> str:
    """The plan in little, the card's piece filled and its reference end thick."""
    x0, y0, x1, y1 = little.bounds
    around = AROUND_SHARE * max(x1 - x0, y1 - y0)
    box = (x0 - around, -y1 - around, x1 - x0 + 2 * around, y1 - y0 + 2 * around)
    label = one.card.label
    return (
        f'<svg class="place" viewBox="{" ".join(f"{side:.1f}" for side in box)}" role="img">'
        f"<title>Place of {escape(label)} in the plan</title>"
        f'<path class="here" d="{path_data([little.pieces[label]])}"/>'
        f'<use href="#all-pieces"/>'
        f'<path class="end" d="{path_data([reference_end(one.lying)])}"/></svg>'
    )


def _card(one: WrittenCard, little: PlanMap, words: CardWords) -> str:
    card = one.card
    drawing = drawing_of_sketch(card, card_sketch(one.lying, card))
    marks = "".join(
        f"<li><b>{escape(mark.name)}</b> {escape(words.mark(mark))}</li>" for mark in card.marks
    )
    cuts = "".join(f"<li>{escape(words.cut(cut))}</li>" for cut in card.cuts)
    notes = "".join(f"<p>{escape(note)}</p>" for note in words.notes(card))
    return (
        f'<article class="card"><h3>{escape(card.label)}</h3>'
        f"{_place(one, little)}<p>{escape(' '.join(one.heading))}</p>"
        f"<figure>{svg_element(drawing)}</figure>"
        f"<h4>Marks</h4><ul>{marks}</ul><h4>Cuts</h4><ul>{cuts}</ul>{notes}</article>\n"
    )


def drawing_of_sketch(card: CutCard, sketch: CardSketch) -> Drawing:
    """A card's sketch as a drawing, in the sketch's frame."""
    items: list[Stroke | Text] = [
        *_strokes(sketch.hatching, Layer.WASTE),
        *_strokes([_rectangle(sketch)], Layer.ROW),
        *_strokes([other.contour for other in sketch.others], Layer.BOARD_EDGE),
        *_strokes(sketch.contour, Layer.CONTOUR),
        *_strokes(sketch.contour, Layer.CUT),
        *_breaks(sketch),
        *_names(card, sketch),
        _reference(sketch),
        *(
            Text(other.label, other.at, 0.6 * _name_height(sketch), Layer.EDGE_NAME)
            for other in sketch.others
        ),
    ]
    return Drawing(f"Sketch of piece {card.label} on its board", tuple(items))


def _strokes(
    chains: Iterable[Chain | Sequence[tuple[float, float]]], layer: Layer
) -> Iterator[Stroke]:
    """Chains to a tenth of a mm, which nobody sees in a sketch; those shorter are left out."""
    for chain in chains:
        points = [(round(float(x), 1), round(float(y), 1)) for x, y in chain]
        lines = tuple(Line(first, last) for first, last in pairwise(points) if first != last)
        if lines:
            yield Stroke(lines, layer, closed=points[0] == points[-1])


def _rectangle(sketch: CardSketch) -> list[tuple[float, float]]:
    right, top = sketch.length, sketch.width
    return [(0.0, 0.0), (right, 0.0), (right, top), (0.0, top), (0.0, 0.0)]


def _breaks(sketch: CardSketch) -> Iterator[Stroke]:
    """Two slanted strokes where the board is shortened."""
    lean, beyond = 0.04 * sketch.width, 0.08 * sketch.width
    for along in sketch.breaks:
        ends = (
            [(x - lean, -beyond), (x + lean, sketch.width + beyond)]
            for x in (along - lean, along + lean)
        )
        yield from _strokes(ends, Layer.REFERENCE)


def _reference(sketch: CardSketch) -> Text:
    """What the left end is, read upwards."""
    height = _name_height(sketch)
    at = (-1.4 * height, sketch.width / 2)
    return Text("reference end", at, 0.7 * height, Layer.EDGE_NAME, math.pi / 2)


def _name_height(sketch: CardSketch) -> float:
    return max(NAME_SHARE * sketch.width, NAME_SHARE_OF_LENGTH * sketch.length)


def _names(card: CutCard, sketch: CardSketch) -> Iterator[Text]:
    """The numbers of the marks, outside the board beside those on its edges."""
    height = _name_height(sketch)
    for mark, (x, y) in zip(card.marks, sketch.marks, strict=True):
        if "." not in mark.name:
            up = 1.0 if 2 * y > sketch.width else -1.0
            yield Text(mark.name, (x, y + up * height), height, Layer.EDGE_NAME)
