"""A printer that does not keep the scale, made good by its own check bars."""

from dataclasses import dataclass

from shapecut.papers.paper import Sheet

__all__ = ["CHECK_BAR_MM", "Printer"]

CHECK_BAR_MM = 100.0
"""Length of the bar a person measures to see that the printer kept the scale."""


@dataclass(frozen=True)
class Printer:
    """What a printer made of the check bars on a page that was not corrected.

    Printers feed paper along its long side, or along the roll, so that a page that lies on its side
    goes through them like an upright one: `along` is along the long side of every sheet, and along
    a roll.

    Attributes:
        bar_along_mm: The bar along the sheet's long side or the roll, as measured.
        bar_across_mm: The bar across it, as measured.
    """

    bar_along_mm: float = CHECK_BAR_MM
    bar_across_mm: float = CHECK_BAR_MM

    def scales(self, sheet: Sheet) -> tuple[float, float]:
        """Printed length by length in the file, along the page's width and its height."""
        along, across = self.bar_along_mm / CHECK_BAR_MM, self.bar_across_mm / CHECK_BAR_MM
        return (along, across) if sheet.fed_level else (across, along)

    def usable(self, sheet: Sheet) -> Sheet:
        """What is left of a sheet where true millimetres are drawn on it.

        A printer that shrinks covers less of the sheet; one that enlarges still covers it all, but
        the file holds less.
        """
        x, y = self.scales(sheet)
        return Sheet(sheet.width_mm * min(1.0, x), sheet.height_mm * min(1.0, y))
