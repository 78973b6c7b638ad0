"""The unit of a drawing's numbers: read from the file, stated in the job, or asked for."""

import math
from typing import Literal, get_args

from shapecut.errors import ShapeError
from shapecut.findings import Finding, Level
from shapecut.units import MM_PER_INCH

__all__ = ["MM_PER_UNIT", "UnitName", "mm_per_unit"]

UnitName = Literal["mm", "cm", "m", "in", "ft", "px"]

MM_PER_UNIT: dict[UnitName, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
    "px": MM_PER_INCH / 96,
}
"""A px is the 96th part of an inch (W3C, CSS Values and Units Module Level 4, absolute lengths)."""

SAME_UNIT = 1e-6
"""Units that differ by less than this share of themselves are one."""


def mm_per_unit(
    name: str, *, in_file_mm: float | None, stated: UnitName | None, missing: str
) -> tuple[float, tuple[Finding, ...]]:
    """How long a drawing's unit is.

    Args:
        name: The file's.
        in_file_mm: What the file says, if anything.
        stated: What the job says, if anything; it is believed before the file.
        missing: What the file lacks, for the sentence: `$INSUNITS`.

    Returns:
        Millimetres, and a finding where job and file differ.

    Raises:
        ShapeError: If neither says.
    """
    if stated is None:
        if in_file_mm is not None:
            return in_file_mm, ()
        choices = ", ".join(f'"{choice}"' for choice in get_args(UnitName))
        raise ShapeError(
            f"{name} does not say what its numbers are ({missing}): state it in the job file as "
            f"template.outline_units, one of {choices}."
        )
    stated_mm = MM_PER_UNIT[stated]
    if in_file_mm is None or math.isclose(in_file_mm, stated_mm, rel_tol=SAME_UNIT):
        return stated_mm, ()
    return stated_mm, (
        Finding(
            Level.CHECK,
            name,
            f"Its unit is {in_file_mm:g} mm by its own account and {stated_mm:g} mm "
            f"({stated}) by the job file; the job file was believed.",
            "Compare one long edge with a tape.",
        ),
    )
