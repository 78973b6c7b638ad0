"""What full-scale pages can show, and under which name each kind is written."""

from enum import StrEnum

__all__ = ["TileKind"]


class TileKind(StrEnum):
    """What full-scale pages can show."""

    PLAN = "plan"
    """The whole plan: every piece with its cuts."""
    CUTS = "cuts"
    """Each piece only where the saw goes."""
    DRILLING = "drilling"
    """Each piece only where it is drilled."""
    PLACING = "placing"
    """The whole floor: where the field and every board lie."""

    @property
    def file_name(self) -> str:
        """Of the PDF."""
        return _FILES[self]


_FILES = {
    TileKind.PLAN: "tiles.pdf",
    TileKind.CUTS: "cut-templates.pdf",
    TileKind.DRILLING: "drilling-templates.pdf",
    TileKind.PLACING: "placing-guide.pdf",
}
