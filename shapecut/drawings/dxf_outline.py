"""Read what a DXF drawing holds of an outline, with ezdxf.

Lines, arcs, circles, ellipses, polylines with bulges and splines in the model space count, in
blocks too; texts, dimensions and the like are left aside by name.  Filled areas count only where no
line is drawn, since they usually fill the outline a second time.
"""

import io
import logging
import struct
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from ezdxf import recover
from ezdxf.document import Drawing as Document
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.insert import Insert
from ezdxf.lldxf.const import DXFError
from ezdxf.lldxf.tagger import binary_tags_loader

from shapecut.drawings.drawn import (
    JOINED_MM,
    MOST_CURVES,
    Drawn,
    DrawnPath,
    drawn_path,
    refuse_unknown_layers,
)
from shapecut.drawings.dxf_entities import FILLED, SOLID_TYPES, Shape, shapes_of
from shapecut.drawings.outline_units import MM_PER_UNIT, UnitName, mm_per_unit
from shapecut.errors import ShapeError
from shapecut.findings import Finding, Level

__all__ = ["read_dxf"]

# The library logs whatever it mends; without a handler Python would print that to the user.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

_INSUNITS: dict[int, UnitName] = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m"}
"""Header variable $INSUNITS (DXF reference, HEADER section)."""

_BINARY = b"Binary DXF"
"""Stands in the first 22 bytes of a binary file (DXF reference, binary DXF files)."""

DEEPEST = 16
"""Blocks within blocks."""

_BROKEN = (DXFError, OSError, EOFError, ArithmeticError, LookupError, TypeError, ValueError,
           AttributeError, AssertionError, struct.error)  # fmt: skip
"""What the library raises on files that are no DXF, and on entities that lack something."""


@dataclass(frozen=True)
class _Placed:
    """An entity and the layer that it counts for; in a block, layer 0 is the block's own."""

    entity: DXFEntity
    layer: str

    @property
    def where(self) -> str:
        """As a person would point at it."""
        return f"{self.entity.dxftype()} on layer {self.layer}"


def read_dxf(
    data: bytes, name: str, *, units: UnitName | None = None, layers: Sequence[str] = ()
) -> Drawn:
    """Read a DXF file, text or binary, of any release.

    Args:
        data: The file.
        name: Its name, for the sentences.
        units: What its numbers are; None for what $INSUNITS says.
        layers: Those that count; none for all that are shown.

    Raises:
        ShapeError: A file that is no DXF, states no unit, holds no line, or is not flat.
    """
    document = _opened(data, name)
    try:
        entities = _entities(document, name)
    except ShapeError:
        raise
    except _BROKEN:
        raise ShapeError(f"{name} has a layer or a block that is broken: save it again.") from None
    if layers:
        refuse_unknown_layers(layers, (placed.layer for placed in entities), name)
        entities = [placed for placed in entities if placed.layer in layers]
    in_file = _INSUNITS.get(document.header.get("$INSUNITS", 0))
    in_file_mm = MM_PER_UNIT[in_file] if in_file else None
    scale, findings = mm_per_unit(
        name,
        in_file_mm=in_file_mm,
        stated=units,
        missing="$INSUNITS states no length",
    )
    try:
        paths, aside = _paths(entities, scale)
    except ShapeError as error:
        raise ShapeError(f"{name}: {error}") from None
    if aside:
        kinds = ", ".join(f"{count} {kind}" for kind, count in sorted(aside.items()))
        findings += (Finding(Level.NOTE, name, f"Left aside as no part of an outline: {kinds}."),)
    there = dict.fromkeys(placed.layer for placed in entities)
    return Drawn(paths, () if layers else tuple(sorted(there)), findings)


def _opened(data: bytes, name: str) -> Document:
    try:
        if b"ENTITIES" not in data:
            raise DXFError("without drawing")
        if _BINARY in data[:22]:
            return Document.load(binary_tags_loader(data))
        return recover.read(io.BytesIO(data))[0]
    except _BROKEN:
        raise ShapeError(f"{name} is no DXF drawing that can be read: save it again.") from None


def _entities(document: Document, name: str) -> list[_Placed]:
    """All entities in the model space and its blocks, hidden layers aside."""
    hidden = {
        layer.dxf.name.casefold()
        for layer in document.layers
        if layer.is_off() or layer.is_frozen()
    }
    placed = []
    for found in _unpacked(document.modelspace(), None, DEEPEST):
        if found.layer.casefold() not in hidden:
            placed.append(found)
        if len(placed) > MOST_CURVES:
            raise ShapeError(
                f"{name} has more than {MOST_CURVES:,} parts, more than any outline: leave only "
                "the outline in it."
            )
    return placed


def _unpacked(
    entities: Iterable[DXFEntity], inherited: str | None, depth: int
) -> Iterator[_Placed]:
    for entity in entities:
        # A kind that the library does not know has no layer that it could tell.
        own = entity.dxf.layer if entity.dxf.is_supported("layer") else "0"
        layer = inherited if inherited is not None and own == "0" else own
        # A block is yielded too, so that blocks without content count against the limit.
        yield _Placed(entity, layer)
        if isinstance(entity, Insert) and depth:
            copies = entity.multi_insert() if entity.mcount > 1 else (entity,)
            for copy in copies:
                yield from _unpacked(copy.virtual_entities(), layer, depth - 1)


def _paths(entities: Sequence[_Placed], scale: float) -> tuple[tuple[DrawnPath, ...], Counter[str]]:
    """The paths, and how many entities of which kinds are none."""
    drawn = [placed for placed in entities if placed.entity.dxftype() != FILLED]
    filled = [placed for placed in entities if placed.entity.dxftype() == FILLED]
    aside: Counter[str] = Counter()
    paths = tuple(_drawn(drawn, scale, aside))
    if paths:
        aside.update(placed.entity.dxftype() for placed in filled)
        return paths, aside
    paths = tuple(_drawn(filled, scale, aside))
    if not paths:
        kinds = ", ".join(f"{count} {kind}" for kind, count in sorted(aside.items()))
        raise ShapeError(
            f"it has no lines or arcs of any length{f' (only {kinds})' if kinds else ''}: draw "
            "the outline as lines, arcs or polylines in its model space."
        )
    return paths, aside


def _drawn(entities: Sequence[_Placed], scale: float, aside: Counter[str]) -> Iterator[DrawnPath]:
    level = None
    for placed in entities:
        kind = placed.entity.dxftype()
        if kind in SOLID_TYPES:
            raise ShapeError(f"it holds a {kind}, something solid: draw the outline flat.")
        shapes = _shapes(placed, scale)
        if shapes is None:
            if not isinstance(placed.entity, Insert):
                aside[kind] += 1
            continue
        for shape in shapes:
            level = shape.heights_mm[0] if level is None else level
            _refuse_slope(placed, level, shape.heights_mm)
            yield from drawn_path(shape.curves, placed.where, closed=shape.closed)


def _shapes(placed: _Placed, scale: float) -> tuple[Shape, ...] | None:
    """An entity's shapes; None for a kind that draws no outline."""
    try:
        shapes = shapes_of(placed.entity, scale)
        return None if shapes is None else tuple(shapes)
    except ShapeError:
        raise
    except _BROKEN:
        raise ShapeError(f"a {placed.where} cannot be read: draw it again.") from None


def _refuse_slope(placed: _Placed, level: float, heights_mm: tuple[float, float]) -> None:
    low, high = heights_mm
    if not (abs(low - level) <= JOINED_MM and abs(high - level) <= JOINED_MM):
        raise ShapeError(
            f"it is not flat: a {placed.where} lies between z = {low:.1f} and {high:.1f} mm, "
            f"the first one at {level:.1f} mm; draw the outline at one height, seen from above."
        )
