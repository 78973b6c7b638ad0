"""The values of SVG attributes: lengths with units, transforms, points, and a document made safe.

W3C, Scalable Vector Graphics 1.1 (second edition): lengths 4.2 and 7.10, transforms 7.6.
"""

import math
import re
from collections.abc import Mapping
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from shapecut.drawings.affine import Affine
from shapecut.drawings.outline_units import MM_PER_UNIT
from shapecut.errors import ShapeError
from shapecut.shape.placement import Point

__all__ = ["length", "length_mm", "numbers", "parsed", "points", "transform"]

MM_PER_LENGTH_UNIT = {
    "mm": 1.0,
    "cm": 10.0,
    "in": MM_PER_UNIT["in"],
    "pt": MM_PER_UNIT["in"] / 72,
    "pc": MM_PER_UNIT["in"] / 6,
}
"""Units that are true lengths; px depends on who wrote the file."""

DEEPEST = 200
"""Elements within elements."""

MOST_QUOTED = 60
"""Characters of a file that a sentence quotes."""

_LENGTH = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([a-z%]*)\s*")
# Possessive (++, *+): what they took they never give back, so no text takes more than its length.
_NUMBER = re.compile(r"[-+]?(?:\d++\.?\d*+|\.\d++)(?:[eE][-+]?\d++)?+")
_LIST = re.compile(rf"\s*+(?:{_NUMBER.pattern}[\s,]*+)*+")
_TRANSFORM = re.compile(r"[\s,]*+([a-zA-Z]++)\s*+\(([^)]*+)\)[\s,]*+")


class _Safe(ElementTree.TreeBuilder):
    """Builds the tree of a document that declares nothing and is not absurdly deep."""

    depth = 0

    def doctype(self, name: str, pubid: str | None, system: str | None) -> None:
        """Refuse: a document type may declare entities, which swell or reach for other files."""
        raise ShapeError("a document type (<!DOCTYPE …>) is not read: delete that line.")

    def start(self, tag: str, attrs: Mapping[str, str]) -> Element:
        """Open an element."""
        self.depth += 1
        if self.depth > DEEPEST:
            raise ShapeError(f"its elements stand more than {DEEPEST} deep: save it again.")
        return super().start(tag, dict(attrs))

    def end(self, tag: str) -> Element:
        """Close an element."""
        self.depth -= 1
        return super().end(tag)


def parsed(data: bytes) -> Element:
    """The root of an XML document.

    Raises:
        ShapeError: If it is no XML, or may be meant to do harm.
    """
    parser = ElementTree.XMLParser(target=_Safe())
    try:
        parser.feed(data)
        root: Element = parser.close()
    except (ElementTree.ParseError, ValueError, LookupError) as error:
        if isinstance(error, ShapeError):
            raise
        raise ShapeError(f"it is no XML that can be read ({error}): save it again.") from None
    return root


def length(text: str | None, default: float = 0.0) -> float:
    """A length in user units; a px is one.

    Raises:
        ShapeError: A length that is none, or relative.
    """
    if text is None:
        return default
    match = _LENGTH.fullmatch(text)
    if match and match[2] in ("", "px"):
        return float(match[1])
    if match and match[2] in MM_PER_LENGTH_UNIT:
        return float(match[1]) * MM_PER_LENGTH_UNIT[match[2]] / MM_PER_UNIT["px"]
    raise ShapeError(f'its length "{_shown(text)}" cannot be read: state it as a number.')


def length_mm(text: str | None) -> float | None:
    """A true length in mm; None for one that is not true, or none at all."""
    match = _LENGTH.fullmatch(text or "")
    if not match or match[2] not in MM_PER_LENGTH_UNIT:
        return None
    return float(match[1]) * MM_PER_LENGTH_UNIT[match[2]]


def numbers(text: str | None) -> tuple[float, ...]:
    """A list of numbers; empty for one that is none, or has numbers beyond all bounds."""
    if not _LIST.fullmatch(text or ""):
        return ()
    values = tuple(float(number) for number in _NUMBER.findall(text or ""))
    return values if all(map(math.isfinite, values)) else ()


def points(text: str | None) -> tuple[Point, ...]:
    """The points of a polygon or polyline.

    Raises:
        ShapeError: If they are no pairs of numbers.
    """
    values = numbers(text)
    if (text or "").strip() and (not values or len(values) % 2):
        raise ShapeError("its points are no pairs of numbers: save it again.")
    return tuple(zip(values[::2], values[1::2], strict=True))


def transform(text: str | None) -> Affine:
    """A transform attribute as one map.

    Raises:
        ShapeError: A transform that cannot be read.
    """
    stated = (text or "").rstrip()
    whole, at = Affine(), 0
    while match := _TRANSFORM.match(stated, at):
        step = _step(match[1], numbers(match[2]))
        if step is None:
            break
        whole, at = whole.after(step), match.end()
    if at != len(stated):
        raise ShapeError(f'a transform "{_shown(stated)}" cannot be read: save it again.')
    return whole


def _step(name: str, values: tuple[float, ...]) -> Affine | None:
    """One transform; None where there is none of that name with so many numbers."""
    turn = math.radians(values[0]) if values else 0.0
    match name, len(values):
        case "matrix", 6:
            return Affine(*values)
        case "translate", 1 | 2:
            return Affine.shifting(values[0], sum(values[1:]))
        case "scale", 1 | 2:
            return Affine.scaling(values[0], values[-1])
        case "rotate", 1:
            return Affine.turning(turn)
        case "rotate", 3:
            x, y = values[1:]
            turned = Affine.turning(turn).after(Affine.shifting(-x, -y))
            return Affine.shifting(x, y).after(turned)
        case "skewX", 1:
            return Affine(c=math.tan(turn))
        case "skewY", 1:
            return Affine(b=math.tan(turn))
    return None


def _shown(text: str) -> str:
    """A text as a sentence quotes it."""
    return text if len(text) <= MOST_QUOTED else f"{text[: MOST_QUOTED - 3]}..."
