"""Sizes of paper that a sheet on the floor may have."""

from typing import Literal, get_args

__all__ = ["PAPER_SIZES_MM", "SHEET_U_MM", "PaperName"]

PaperName = Literal[
    "A5", "A4", "A3", "A2", "A1", "A0", "Letter", "Tabloid", "ANSI C", "ANSI D", "ANSI E"
]  # fmt: skip

_SIDES_MM = (
    (148.0, 210.0), (210.0, 297.0), (297.0, 420.0), (420.0, 594.0), (594.0, 841.0), (841.0, 1189.0),
    (215.9, 279.4), (279.4, 431.8), (431.8, 558.8), (558.8, 863.6), (863.6, 1117.6),
)  # fmt: skip

PAPER_SIZES_MM = dict(zip(get_args(PaperName), _SIDES_MM, strict=True))
"""Shorter and longer side: ISO 216; ANSI/ASME Y14.1, whose A and B are Letter and Tabloid."""

SHEET_U_MM = 0.5
"""Standard uncertainty of a side as trimmed (from memory of copy paper; ISO 216 itself allows 2 mm
either way between 150 and 600 mm)."""
