"""Pages at full scale as values: what is drawn, which windows of it each page shows, what joins.

Glossary:
    subject: a drawing that pages show parts of: the whole plan, or one piece on its board.
    window: a rectangle of a subject and where it stands on a page.
    seam: a line of a page along which another page is laid on it, with two register marks.
"""

from dataclasses import dataclass, field, replace
from typing import Protocol

from shapecut.papers.drawing import Drawing, Stroke, Text
from shapecut.papers.paper import Sheet
from shapecut.papers.printer import Printer
from shapecut.papers.spans import Box
from shapecut.papers.tile_labels import TileLabel
from shapecut.papers.tiling import TileMargins, Tiling
from shapecut.shape.curves import Line
from shapecut.shape.placement import Placement, Point

__all__ = ["Seam", "Subject", "TilePage", "TileSet", "Window", "joined_pages"]

MAP_ALONG_ROLL_MM = 300.0
"""Length of roll that the map takes at most."""


class InPlane(Protocol):
    """What lies somewhere in the plane of the plan."""

    def to_plane(self, point: Point) -> Point:
        """Map one point from its frame to that plane."""
        ...


@dataclass(frozen=True)
class Subject:
    """A drawing that pages show parts of.

    Attributes:
        drawing: In its own frame, mm.
        labels: Of the pieces in it.
        placement: Of its frame in the plane of the plan, also as a mirror image, for the map of all
            pages; None for what is no part of the plan.
    """

    drawing: Drawing
    labels: tuple[TileLabel, ...]
    placement: InPlane | None = field(default_factory=Placement)


@dataclass(frozen=True)
class Window:
    """A part of a subject on a page.

    Attributes:
        subject: Its place in the set.
        box: The part, in the subject's frame.
        corner: Where the part's lower left corner stands on the page, mm.
        framed: Whether a line is drawn round it.
        own: What only this window shows besides, in the subject's frame.
    """

    subject: int
    box: Box
    corner: Point
    framed: bool = False
    own: tuple[Stroke | Text, ...] = ()


@dataclass(frozen=True)
class Seam:
    """Where another page joins.

    Attributes:
        page: The other's number.
        line: To trim along, page mm.
        marks: Names and places of the register marks, page mm.
    """

    page: int
    line: Line
    marks: tuple[tuple[str, Point], ...]


@dataclass(frozen=True)
class TilePage:
    """One page.

    Attributes:
        windows: What it shows.
        pieces: Labels of the pieces it shows.
        seams: Where others join.
    """

    windows: tuple[Window, ...]
    pieces: tuple[str, ...]
    seams: tuple[Seam, ...] = ()


@dataclass(frozen=True)
class TileSet:
    """Pages of one kind, after a map of them, which is page 1.

    Attributes:
        title: The job's name.
        name: What the pages are, in words: `plan`.
        how_to: What to do with them, one paragraph each.
        sheet: The paper as it lies.
        printer: What the pages are corrected for.
        margins: Round what they show.
        subjects: What is drawn.
        pages: After the map.
        overview: The plan, for the map.
    """

    title: str
    name: str
    how_to: tuple[str, ...]
    sheet: Sheet
    printer: Printer
    margins: TileMargins
    subjects: tuple[Subject, ...]
    pages: tuple[TilePage, ...]
    overview: Drawing

    @property
    def front(self) -> "TileSet":
        """The same pages on the sheet of their map, for which a roll is cut off short."""
        sheet = self.sheet
        if sheet.off_roll == "width":
            sheet = replace(sheet, width_mm=min(sheet.width_mm, MAP_ALONG_ROLL_MM))
        elif sheet.off_roll == "height":
            sheet = replace(sheet, height_mm=min(sheet.height_mm, MAP_ALONG_ROLL_MM))
        return replace(self, sheet=sheet)

    @property
    def usable(self) -> Sheet:
        """The page as far as true millimetres cover it."""
        return self.printer.usable(self.sheet)

    def footprints(self, page: TilePage) -> tuple[tuple[Point, ...], ...]:
        """The corners of each of a page's windows that has a place in the plane of the plan."""
        placed = ((window, self.subjects[window.subject].placement) for window in page.windows)
        return tuple(
            tuple(placement.to_plane(corner) for corner in window.box.corners)
            for window, placement in placed
            if placement is not None
        )


def joined_pages(tiling: Tiling, labels: tuple[TileLabel, ...]) -> tuple[TilePage, ...]:
    """The pages of a tiling whose only subject is the turned drawing."""
    margins = tiling.margins
    pages = []
    for place, tile in enumerate(tiling.tiles):
        window = tiling.window(tile)
        shift = Placement((margins.left - window.x0, margins.bottom - window.y0))
        seams = tuple(
            Seam(
                (joint.second if joint.first == place else joint.first) + 2,
                joint.line.placed(shift),
                tuple((name, shift.to_plane(at)) for name, at in joint.marks),
            )
            for joint in tiling.joints
            if place in (joint.first, joint.second)
        )
        pieces = tuple(label.text for label in labels if label.reach.meets(window))
        pages.append(TilePage((Window(0, window, (margins.left, margins.bottom)),), pieces, seams))
    return tuple(pages)
