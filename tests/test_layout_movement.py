"""Movement with moisture and temperature, and trade sizes: worked examples and tables."""

import pytest

from shapecut.errors import LayoutError
from shapecut.layout.board_sizes import actual_size_mm
from shapecut.layout.seasoning import SPECIES, Grain, gap_at_laying, width_change
from shapecut.layout.thermal import end_gap, growth
from shapecut.units import MM_PER_INCH


def test_the_wood_handbooks_own_example():
    """FPL-GTR-190, after equation 13-2: white fir 232 mm (9.15 in) wide, flat-sawn, from 8 to
    11 %: 1.7 mm (0.067 in) wider, 233.7 mm (9.217 in)."""
    change = width_change(232.0, SPECIES["white fir"], Grain.FLAT, at_first=8.0, at_last=11.0)
    assert change == pytest.approx(1.7, abs=0.05)
    assert 232.0 + change == pytest.approx(233.7, abs=0.05)
    inches = width_change(9.15, SPECIES["white fir"], Grain.FLAT, at_first=8.0, at_last=11.0)
    assert inches == pytest.approx(0.067, abs=0.0005)


def test_beyond_6_to_14_percent_by_the_shrinkage():
    """Equation 13-3, Douglas-fir, tangential 7.6 %, from 19 to 12 %: 140 mm x -7 / (3000 / 7.6
    - 30 + 19) = -2.55 mm."""
    change = width_change(140.0, SPECIES["douglas-fir"], Grain.FLAT, at_first=19.0, at_last=12.0)
    assert change == pytest.approx(-2.554, abs=0.001)


def test_green_to_oven_dry_is_the_shrinkage():
    """Equation 13-3 from 30 % (green) to 0 gives the table's shrinkage itself."""
    for species in SPECIES.values():
        for grain, shrinkage in zip(Grain, species.shrinkage[::-1], strict=True):
            change = width_change(100.0, species, grain, at_first=45.0, at_last=0.0)
            assert change == pytest.approx(-shrinkage)


@pytest.mark.parametrize("name", SPECIES)
def test_coefficients_and_shrinkages_of_the_tables_agree(name):
    """A coefficient is the shrinkage spread over the moisture below saturation, at about 10 %.

    So the coefficients from memory are held against the shrinkages as read.
    """
    species = SPECIES[name]
    for coefficient, shrinkage in zip(species.coefficients, species.shrinkage, strict=True):
        spread = shrinkage / (species.saturation * 100 - shrinkage * (species.saturation - 10))
        assert coefficient == pytest.approx(spread, rel=0.07)


def test_the_gap_is_laid_so_that_the_wanted_one_is_left():
    assert gap_at_laying(5.0, -2.4) == pytest.approx(2.6)
    assert gap_at_laying(5.0, 1.5) == pytest.approx(6.5)
    with pytest.raises(LayoutError, match=r"shrink by 6\.0 mm .* gap of 5\.0 mm"):
        gap_at_laying(5.0, -6.0)


def test_an_end_gap_for_the_heat():
    """4 · 10⁻⁵ x 4800 mm x 40 K = 7.68 mm, and 2 mm to stay open."""
    assert growth(4800, 4e-5, 40) == pytest.approx(7.68)
    assert end_gap(4800, 4e-5, laid_at=15, hottest=55, closed_mm=2) == pytest.approx(9.68)
    with pytest.raises(LayoutError, match=r"laid at 60 °C .* 50 °C"):
        end_gap(4800, 4e-5, laid_at=60, hottest=50)
    with pytest.raises(LayoutError, match=r"grow by 0\.04"):
        end_gap(4800, 0.04, laid_at=15, hottest=55)


@pytest.mark.parametrize(
    ("name", "width_in", "thickness_in"),
    [
        ("2x4", 3.5, 1.5), ("2x6", 5.5, 1.5), ("2x8", 7.25, 1.5), ("2x10", 9.25, 1.5),
        ("2x12", 11.25, 1.5), ("5/4x6", 5.5, 1.0), ("5/4 X 4", 3.5, 1.0), ("1×6", 5.5, 0.75),
    ],
)  # fmt: skip
def test_the_dressed_sizes_of_ps_20(name, width_in, thickness_in):
    expected = width_in * MM_PER_INCH, thickness_in * MM_PER_INCH
    assert actual_size_mm(name) == pytest.approx(expected)


def test_metric_sizes_are_what_they_say():
    assert actual_size_mm("25x150 mm") == (150.0, 25.0)


@pytest.mark.parametrize("name", ["2x7", "3/4x6", "28x145 mm", "25x150", "2 by 6", "", "2x6 in"])
def test_what_is_no_size_is_refused(name):
    with pytest.raises(LayoutError, match="real width and thickness"):
        actual_size_mm(name)
