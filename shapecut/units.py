"""Trade lengths, read and written at the edge of the program; inside there are only millimetres.

Read: `140 mm`, `14 cm`, `2.4 m`, `5 1/2 in`, `5-1/2"`, `5.5 in`, `16 ft`, `1' 3 1/4"`, `1 ft 3 in`.
A number without a unit is refused: guessing between millimetres and inches costs boards.
"""

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction

from shapecut.errors import UnitError

__all__ = [
    "MILLIMETRES",
    "MM_PER_INCH",
    "LengthStyle",
    "format_inches",
    "format_length",
    "format_mm",
    "format_stock_length",
    "format_within",
    "in_both_units",
    "parse_length",
]

MM_PER_INCH = 25.4
"""Exact by definition (international yard and pound agreement, 1959)."""

MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_INCH, "ft": 12 * MM_PER_INCH}

UNIT_SPELLINGS = {
    "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "inch": "in", "inches": "in", '"': "in", "”": "in", "″": "in", "''": "in",
    "foot": "ft", "feet": "ft", "'": "ft", "’": "ft", "′": "ft",
}  # fmt: skip

LONGEST_MM = 1e6
"""A longer length is a slip of the pen."""

NOUGHT_MM = 1e-3
"""Less than this is nothing to a sentence but rounding."""

LONGEST_TEXT = 40
"""A longer text is no length."""

_VULGAR_FRACTION = re.compile("[¼½¾⅐-⅞]")
_DECIMAL_COMMA = re.compile(r"\d,\d")

_NUMBER = r"(?:\d+\s*/\s*\d+|\d+[\s-]+\d+\s*/\s*\d+|\d+(?:\.\d+)?|\.\d+)"
_UNIT = "|".join(sorted(map(re.escape, [*MM_PER_UNIT, *UNIT_SPELLINGS]), key=len, reverse=True))
_TERM = re.compile(rf"\s*({_NUMBER})\s*({_UNIT})(?![a-z])\s*", re.IGNORECASE)

_EXAMPLES = "for example 140 mm, 2.4 m, 5 1/2 in or 16 ft"


def parse_length(text: str) -> float:
    """Read a trade length.

    Args:
        text: A positive or zero length with its unit; feet and inches may be combined.

    Returns:
        The length in millimetres.

    Raises:
        UnitError: If there is no unit, no number, a sign, a decimal comma, anything left over, or
            it is longer than `LONGEST_MM`.
    """
    if not isinstance(text, str):
        raise UnitError(f"{text} has no unit: write it as text with its unit, {_EXAMPLES}.")
    stripped = _VULGAR_FRACTION.sub(_spelled_out, text.strip()).strip()
    if len(stripped) > LONGEST_TEXT:
        raise UnitError(f'"{stripped[:LONGEST_TEXT]}…" is not a length: write one, {_EXAMPLES}.')
    if stripped.startswith(("-", "−")):
        raise UnitError(f'"{text}" is negative: a length is zero or more, {_EXAMPLES}.')
    if _DECIMAL_COMMA.search(stripped):
        raise UnitError(f'"{text}" has a comma: write a decimal point, {_EXAMPLES}.')
    if re.fullmatch(rf"{_NUMBER}", stripped):
        raise UnitError(f'"{text}" has no unit: say which, {_EXAMPLES}.')
    terms = _split_terms(stripped)
    if terms is None:
        raise UnitError(f'"{text}" is not a length: write a number and a unit, {_EXAMPLES}.')
    length = sum(_parse_number(number, text) * MM_PER_UNIT[unit] for number, unit in terms)
    if length > LONGEST_MM:
        raise UnitError(f'"{text}" is more than a kilometre: check the number and its unit.')
    return length


def _spelled_out(fraction: re.Match[str]) -> str:
    """A character such as ½ as 1/2, set off from the digits before it."""
    return " " + unicodedata.normalize("NFKC", fraction[0]).replace("\N{FRACTION SLASH}", "/")


def _split_terms(text: str) -> list[tuple[str, str]] | None:
    """Split into (number, unit) terms; None if it is not one term, or feet followed by inches."""
    terms, at = [], 0
    while match := _TERM.match(text, at):
        spelled = match[2].lower()
        terms.append((match[1], UNIT_SPELLINGS.get(spelled, spelled)))
        at = match.end()
    units = [unit for _, unit in terms]
    if at != len(text) or (len(units) != 1 and units != ["ft", "in"]):
        return None
    return terms


def _parse_number(number: str, text: str) -> float:
    whole, _, fraction = re.sub(r"\s*/\s*", "/", number).replace("-", " ").rpartition(" ")
    try:
        return float(Fraction(fraction)) + (float(whole) if whole.strip() else 0.0)
    except ZeroDivisionError:
        raise UnitError(f'"{text}" divides by zero: check the fraction.') from None


def format_mm(length_mm: float, decimals: int = 1) -> str:
    """Write millimetres, e.g. `139.7 mm`."""
    return f"{length_mm:.{decimals}f} mm"


def format_inches(length_mm: float, denominator: int = 16) -> str:
    """Write inches rounded to the nearest 1/`denominator`, in lowest terms, e.g. `5 1/2 in`."""
    steps = round(abs(length_mm) / MM_PER_INCH * denominator)
    whole, rest = divmod(steps, denominator)
    sign = "-" if length_mm < 0 and steps else ""
    if not rest:
        return f"{sign}{whole} in"
    fraction = Fraction(rest, denominator)
    return f"{sign}{whole} {fraction} in" if whole else f"{sign}{fraction} in"


def format_length(length_mm: float, units: str, denominator: int = 16) -> str:
    """Write a length in the job's units: `mm` to 0.1, or `in` to 1/`denominator`."""
    return format_inches(length_mm, denominator) if units == "in" else format_mm(length_mm)


def in_both_units(length_mm: float) -> str:
    """Write a length for a job whose units are not known, e.g. `139.7 mm (5 1/2 in)`."""
    return f"{length_mm:g} mm ({format_inches(length_mm)})"


def format_within(u_mm: float, units: str, decimals: int = 1) -> str:
    """Write ± an uncertainty; inches have a decimal more than mm, e.g. `±0.04 in`."""
    if units == "in":
        return f"±{u_mm / MM_PER_INCH:.{decimals + 1}f} in"
    return f"±{u_mm:.{decimals}f} mm"


def format_stock_length(length_mm: float, units: str, denominator: int = 16) -> str:
    """Write a board's length as the yard calls it: in whole feet or millimetres if it is one."""
    feet = length_mm / MM_PER_UNIT["ft"]
    if units == "in":
        whole = abs(feet - round(feet)) < 1e-6
        return f"{round(feet)} ft" if whole else format_inches(length_mm, denominator)
    return format_mm(length_mm, 0 if length_mm == round(length_mm) else 1)


@dataclass(frozen=True)
class LengthStyle:
    """How sentences write lengths: in the job's units.

    >>> LengthStyle()(140.0), LengthStyle("in")(140.0), LengthStyle("in").fine(0.5)
    ('140 mm', '5 1/2 in', '0.02 in')

    Attributes:
        units: `mm` or `in`.
        denominator: Inches are rounded to 1/denominator.

    What would be rounded to nought is written with one figure of its decimals.
    """

    units: str = "mm"
    denominator: int = 16

    def __call__(self, length_mm: float) -> str:
        """Write a length to whole millimetres, or in inches."""
        return self._written(length_mm, 0)

    def fine(self, length_mm: float) -> str:
        """Write a length to 0.1 mm, or in inches."""
        return self._written(length_mm, 1)

    def area(self, area_mm2: float) -> str:
        """Write an area in cm², or in square inches."""
        if self.units == "in":
            return f"{area_mm2 / MM_PER_INCH**2:.0f} sq in"
        return f"{area_mm2 / 100:.0f} cm²"

    def _written(self, length_mm: float, decimals: int) -> str:
        if abs(length_mm) < NOUGHT_MM:
            length_mm = 0.0
        is_inches = self.units == "in"
        step_mm = MM_PER_INCH / self.denominator if is_inches else 10.0**-decimals
        if 0 < abs(length_mm) < step_mm / 2:
            return f"{length_mm / (MM_PER_INCH if is_inches else 1.0):.1g} {self.units}"
        if is_inches:
            return format_inches(length_mm, self.denominator)
        return format_mm(length_mm, decimals)


MILLIMETRES = LengthStyle()
"""How sentences write lengths where no job says otherwise."""
