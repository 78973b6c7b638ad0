"""Read what an SVG drawing holds of an outline, true in millimetres.

Paths and basic shapes under any transform count; texts and pictures are left aside by name.
Circular arcs stay arcs.  The drawing's origin stays the origin, and y is turned up.  XML is read by
the standard library with document types refused, so that no entity is expanded and nothing fetched.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from xml.etree.ElementTree import Element

from shapecut.drawings.affine import Affine
from shapecut.drawings.drawn import (
    MOST_CURVES,
    Drawn,
    DrawnPath,
    drawn_path,
    refuse_unknown_layers,
)
from shapecut.drawings.outline_units import MM_PER_UNIT, UnitName, mm_per_unit
from shapecut.drawings.svg_shapes import SHAPES
from shapecut.drawings.svg_values import length, length_mm, numbers, parsed, transform
from shapecut.errors import ShapeError
from shapecut.findings import Finding, Level
from shapecut.shape.curves import Curve

__all__ = ["read_svg"]

_GROUPS = frozenset({"svg", "g", "a", "switch"})
_UNDRAWN = frozenset(
    {"defs", "symbol", "clipPath", "mask", "pattern", "marker", "metadata", "title", "desc",
     "style", "script", "linearGradient", "radialGradient", "filter", "namedview"}
)  # fmt: skip
"""What an SVG holds without drawing it."""

_HREF = ("href", "{http://www.w3.org/1999/xlink}href")

DEEPEST_USES = 8
"""Elements used by elements that are used."""

STRETCHED = 1e-4
"""Width and height that scale a drawing differently by more than this share stretch it."""


@dataclass(frozen=True)
class _Place:
    """Where in a document an element stands."""

    affine: Affine
    layers: tuple[str, ...] = ()
    uses: int = 0


@dataclass
class _Walk:
    """What was met on a walk through a document."""

    root: Element
    by_id: Mapping[str, Element]
    aside: Counter[str] = field(default_factory=Counter)
    drawn: Counter[str] = field(default_factory=Counter)

    def count(self, kind: str) -> int:
        """Number an element among its kind.

        Raises:
            ShapeError: If there are more than any outline has.
        """
        self.drawn[kind] += 1
        if self.drawn.total() > MOST_CURVES:
            raise ShapeError(
                f"it has more than {MOST_CURVES:,} parts: leave only the outline in it."
            )
        return self.drawn[kind]


def read_svg(
    data: bytes, name: str, *, units: UnitName | None = None, layers: Sequence[str] = ()
) -> Drawn:
    """Read an SVG file.

    Args:
        data: The file.
        name: Its name, for the sentences.
        units: What its numbers are; None for what width, height and viewBox say.
        layers: Groups that count, by id, class or label; none for the whole drawing.

    Raises:
        ShapeError: A file that is no SVG, has a document type, states no true size, or holds no
            line.
    """
    try:
        root = parsed(data)
        if _kind(root) != "svg":
            raise ShapeError("it is no SVG drawing: save it again.")
        scale, findings = mm_per_unit(
            name, in_file_mm=_stated_mm(root), stated=units, missing="no width in mm and no viewBox"
        )
        walk = _Walk(root, {key: element for element in root.iter() if (key := element.get("id"))})
        found = list(_walked(root, _Place(Affine.scaling(scale, -scale)), walk))
    except ShapeError as error:
        text = str(error)
        raise ShapeError(text if text.startswith(name) else f"{name}: {text}") from None
    there = dict.fromkeys(layer for of_path, _ in found for layer in of_path)
    if layers:
        refuse_unknown_layers(layers, there, name)
        found = [(names, path) for names, path in found if set(names) & set(layers)]
    if not found:
        raise ShapeError(_empty(name, walk.aside))
    if walk.aside:
        text = f"Left aside as no part of an outline: {_counted(walk.aside)}."
        findings += (Finding(Level.NOTE, name, text),)
    known = () if layers else tuple(sorted(there))
    return Drawn(tuple(path for _, path in found), known, findings)


def _kind(element: Element) -> str:
    """An element's name without its namespace; empty for a comment."""
    tag = element.tag
    return tag.rpartition("}")[2] if isinstance(tag, str) else ""


def _counted(kinds: Counter[str]) -> str:
    return ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))


def _empty(name: str, aside: Counter[str]) -> str:
    only = f" (only {_counted(aside)})" if aside else ""
    return (
        f"{name} has no lines or arcs of any length{only}: draw the outline as a path or a "
        "basic shape."
    )


def _stated_mm(root: Element) -> float | None:
    """How long a user unit is by the page's true size; None where it has none.

    The lesser of both ways, as preserveAspectRatio has it unless told otherwise (7.8); a px where
    the page has a true size and no viewBox.
    """
    box = numbers(root.get("viewBox"))
    sizes = [length_mm(root.get(key)) for key in ("width", "height")]
    if len(box) != 4 or not (box[2] > 0 and box[3] > 0):
        return MM_PER_UNIT["px"] if any(sizes) else None
    scales = [size / side for size, side in zip(sizes, box[2:], strict=True) if size]
    if not scales:
        return None
    stretched = max(scales) > (1 + STRETCHED) * min(scales)
    if stretched and root.get("preserveAspectRatio", "").startswith("none"):
        raise ShapeError(
            "its width and height stretch the drawing: give them the proportions of its viewBox."
        )
    return min(scales)


def _walked(
    element: Element, place: _Place, walk: _Walk
) -> Iterator[tuple[tuple[str, ...], DrawnPath]]:
    """Yield every path drawn under an element, with the layers it lies on."""
    kind = _kind(element)
    if kind in _UNDRAWN or not kind or _hidden(element):
        return
    place = replace(place, affine=place.affine.after(transform(element.get("transform"))))
    if kind in SHAPES:
        for path in _shape_paths(element, place.affine, walk):
            yield place.layers, path
    elif kind == "use":
        yield from _used(element, place, walk)
    elif kind in _GROUPS:
        if kind == "svg" and element is not walk.root:
            place = _within(element, place)
        place = replace(place, layers=place.layers + _names(element))
        for child in element:
            yield from _walked(child, place, walk)
    else:
        walk.aside[kind] += 1


def _hidden(element: Element) -> bool:
    style = element.get("style", "").replace(" ", "")
    return element.get("display") == "none" or "display:none" in style


def _names(element: Element) -> tuple[str, ...]:
    """What a group may be called by: its id, its classes, its label."""
    labels = [value for key, value in element.items() if key.rpartition("}")[2] == "label"]
    return tuple(filter(None, [element.get("id"), *element.get("class", "").split(), *labels]))


def _within(element: Element, place: _Place) -> _Place:
    """The place of what an svg within the svg holds.

    Raises:
        ShapeError: If it has a scale of its own.
    """
    if any(element.get(key) for key in ("viewBox", "width", "height")):
        raise ShapeError("it holds an svg within the svg with a size of its own: ungroup it.")
    shift = Affine.shifting(length(element.get("x")), length(element.get("y")))
    return replace(place, affine=place.affine.after(shift))


def _used(
    element: Element, place: _Place, walk: _Walk
) -> Iterator[tuple[tuple[str, ...], DrawnPath]]:
    """Yield the paths of an element that is drawn a second time."""
    walk.count("use")
    target = next((element.get(key) for key in _HREF if element.get(key)), None) or ""
    used = walk.by_id.get(target.removeprefix("#")) if target.startswith("#") else None
    if used is None or _kind(used) == "symbol":
        walk.aside["use"] += 1
        return
    if place.uses >= DEEPEST_USES:
        raise ShapeError("elements that use each other without end: save it again.")
    shift = Affine.shifting(length(element.get("x")), length(element.get("y")))
    inner = replace(place, affine=place.affine.after(shift), uses=place.uses + 1)
    yield from _walked(used, inner, walk)


def _shape_paths(element: Element, affine: Affine, walk: _Walk) -> Iterator[DrawnPath]:
    kind = _kind(element)
    number = walk.count(kind)
    where = f'{kind} "{element.get("id")}"' if element.get("id") else f"{kind} {number}"
    for curves, closed in _parts(element, affine, where):
        yield from drawn_path(curves, where, closed=closed)


def _parts(
    element: Element, affine: Affine, where: str
) -> Iterator[tuple[tuple[Curve, ...], bool]]:
    """Yield the curves of each part of a shape, and whether it is closed."""
    try:
        for part in SHAPES[_kind(element)](element):
            pieces = (piece.mapped(affine).curves() for piece in part.pieces)
            yield tuple(chain.from_iterable(pieces)), part.closed
    except ShapeError as error:
        raise ShapeError(f"{where}: {error}") from None
