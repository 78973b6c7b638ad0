"""Trade lengths in and out: the tables a person would check by hand, and the round trip."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shapecut.errors import UnitError
from shapecut.units import (
    format_inches,
    format_length,
    format_mm,
    format_stock_length,
    parse_length,
)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("140 mm", 140.0),
        ("140mm", 140.0),
        ("14 cm", 140.0),
        ("2.4 m", 2400.0),
        (".5 in", 12.7),
        ("5 1/2 in", 139.7),
        ('5-1/2"', 139.7),
        ("5 1/2 inches", 139.7),
        ("3/4 in", 19.05),
        ("16 ft", 4876.8),
        ("1' 3 1/4\"", 387.35),
        ("1 ft 3 in", 381.0),
        ("1′ 3″", 381.0),
        ("0 mm", 0.0),
        ("  7 MM ", 7.0),
        ("5½ in", 139.7),
        ("¾ in", 19.05),
        ("1′ 3¼″", 387.35),
    ],
)
def test_trade_lengths_are_read(text, mm):
    assert parse_length(text) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("140", "no unit"),
        (140, "no unit"),
        ("5 1/2", "no unit"),
        ("-3 mm", "negative"),
        ("2,4 m", "decimal point"),
        ("3 in 1 ft", "not a length"),
        ("3 mm 4 mm", "not a length"),
        ("five mm", "not a length"),
        ("1/0 in", "divides by zero"),
        ("", "not a length"),
        ("3 furlongs", "not a length"),
        ("1e3 mm", "not a length"),
        ("9" * 400 + " mm", "not a length"),
        ("1200000 mm", "kilometre"),
    ],
)
def test_what_is_not_a_length_is_refused_with_the_reason(text, says):
    with pytest.raises(UnitError, match=says):
        parse_length(text)


@given(st.integers(0, 400_000), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_inches_are_written_within_half_a_step_and_read_back(tenths_mm, denominator):
    length = tenths_mm / 10
    written = format_inches(length, denominator)
    assert abs(parse_length(written) - length) <= 25.4 / denominator / 2 + 1e-9


@given(st.integers(0, 400_000))
def test_millimetres_are_written_to_a_tenth_and_read_back(tenths_mm):
    assert parse_length(format_mm(tenths_mm / 10)) == pytest.approx(tenths_mm / 10, abs=1e-9)


def test_lengths_follow_the_unit_of_the_job():
    assert format_length(139.7, "in") == "5 1/2 in"
    assert format_length(139.7, "mm") == "139.7 mm"
    assert format_inches(-12.7) == "-1/2 in"


@pytest.mark.parametrize(
    ("mm", "units", "written"),
    [
        (3657.6, "in", "12 ft"),
        (3600.0, "in", "141 3/4 in"),
        (3600.0, "mm", "3600 mm"),
        (3657.6, "mm", "3657.6 mm"),
    ],
)
def test_boards_are_called_what_the_yard_calls_them(mm, units, written):
    assert format_stock_length(mm, units) == written
