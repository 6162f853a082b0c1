"""Sizes of stores, bins and machine loads: worked on published rates by arithmetic."""

from decimal import Decimal
from fractions import Fraction

import pytest

from service.planning.volumes import Chamber, machine_minutes, store_litres

LOOSE = Chamber(1, 1, 100)
"""Bulk density 100 kg a cubic metre: an assumption of the worked cases, not a published value."""
THREE_QUARTERS = Chamber(1, Fraction(3, 4), 100)


# WHO, Safe management of wastes from health-care activities, 1st ed. 1999, ch. 2, from memory:
# general hospitals 2.1 to 4.2 kg a bed and day; fact sheet 2018: 15 % hazardous. 200 beds, 48 h.
@pytest.mark.parametrize(
    ("kg_per_bed", "litres", "at_three_quarters"),
    [("2.1", 1_260, 1_680), ("4.2", 2_520, 3_360)],
)
def test_a_store_for_48_hours(kg_per_bed: str, litres: int, at_three_quarters: int) -> None:
    """63 to 126 kg a day, 1.26 to 2.52 cubic metres, and a third more where bins are not filled."""
    a_day_g = int(200 * Decimal(kg_per_bed) * Decimal("0.15") * 1000)
    assert store_litres(a_day_g, 2, LOOSE) == litres
    assert store_litres(a_day_g, 2, THREE_QUARTERS) == at_three_quarters


# 100 beds x 0.5 kg (WHO fact sheet 2018) x 2 days; bins of 240 l to three quarters (WHO, as above,
# 2nd ed. 2014, ch. 7, from memory).
def test_bins_for_two_days() -> None:
    """100 kg are 1,000 l; 180 l a bin: six."""
    assert Chamber(240, Fraction(3, 4), 100).fillings(100_000) == 6


def test_autoclave_loads_and_hours() -> None:
    """180 kg, 0.5 cubic metres, three quarters: 37.5 kg a load, 5 loads, 90 min each: 7.5 h."""
    chamber = Chamber(500, Decimal("0.75"), 100)
    assert chamber.holds_g == 37_500
    assert chamber.fillings(180_000) == 5
    assert machine_minutes(5, 60, 30) == 450
    assert machine_minutes(5, 60, 30, machines=2) == 270


@pytest.mark.parametrize(("weight_g", "loads"), [(0, 0), (1, 1), (300, 3), (301, 4)])
def test_a_whole_number_of_loads_is_not_rounded_up(weight_g: int, loads: int) -> None:
    """0.3 / 0.1 is three, which binary fractions do not give."""
    assert Chamber(1, Decimal("0.1"), 1000).fillings(weight_g) == loads


# WHO injection-waste guidance, 2006, from memory: a 5 l safety box holds about 100 syringes.
@pytest.mark.parametrize(("injections", "boxes"), [(1_000, 10), (1_001, 11)])
def test_safety_boxes(injections: int, boxes: int) -> None:
    """A box more for one syringe more."""
    assert Chamber(5, 1, 20).fillings(injections) == boxes


def test_what_is_no_chamber_is_refused() -> None:
    """75 is not three quarters."""
    for volume, fill, density in ((0, 1, 1), (1, 75, 1), (1, 0, 1), (1, 1, 0)):
        with pytest.raises(ValueError, match="needs a volume"):
            Chamber(volume, fill, density)
    with pytest.raises(ValueError, match="no weight"):
        LOOSE.fillings(-1)
    with pytest.raises(ValueError, match="need a machine"):
        machine_minutes(5, 60, 30, machines=0)
