"""Hypochlorite is made up as published figures have it."""

from decimal import Decimal

import pytest

from service.duties.dilutions import Form, asked_mix, mix, usual_mixes

D = Decimal


@pytest.mark.parametrize(
    ("form", "stock", "wanted", "litres", "measured", "water"),
    [
        ("liquid", "5", "0.5", "10", "1000", "9000"),
        ("liquid", "5", "0.05", "1", "10", "990"),
        ("liquid", "3.5", "0.5", "7", "1000", "6000"),
        ("powder", "35", "0.5", "1", "14.3", "1000"),
        ("powder", "70", "0.5", "10", "71.4", "10000"),
    ],
)
def test_published_mixes(
    form: Form, stock: str, wanted: str, litres: str, measured: str, water: str
) -> None:
    """One part of 5 % in ten, one in a hundred, one of 3.5 % in seven; 14 g of 35 % to a litre.

    WHO, Infection prevention and control of epidemic-prone acute respiratory diseases (2014),
    annex G, table G.1; WHO/CDC dilutions; from memory.
    """
    found = mix(form, D(stock), D(wanted), D(litres))
    assert (found.stock, found.water_ml) == (D(measured), D(water))


def test_strength_in_mg_to_the_litre() -> None:
    """0.5 % is 5,000 ppm (CDC; from memory)."""
    assert mix("liquid", D(5), D("0.5"), D(1)).wanted_ppm == 5_000


def test_liquid_and_water_make_the_volume() -> None:
    """Of each usual mix; a powder's own volume is passed over."""
    for row in usual_mixes():
        for one in row:
            made = one.water_ml + (one.stock if one.form == "liquid" else 0)
            assert made == one.litres * 1000


@pytest.mark.parametrize(
    ("form", "stock", "wanted", "litres", "why"),
    [
        ("liquid", "5", "6", "1", "makes no solution"),
        ("liquid", "five", "1", "1", "strength of the stock is a number"),
        ("liquid", "5", "", "1", "wanted is a number"),
        ("liquid", "5", "1", "nan", "volume is a number"),
        ("liquid", "5", "1", "1e9", "at most at 200"),
        ("liquid", "5", "0", "1", "above 0"),
        ("liquid", "101", "1", "1", "at most at 100"),
        ("liquid", "5", "1", "-1", "above 0"),
        ("gas", "5", "1", "1", "liquid or a powder"),
    ],
)
def test_what_cannot_be_is_told(form: str, stock: str, wanted: str, litres: str, why: str) -> None:
    """In a sentence."""
    with pytest.raises(ValueError, match=why):
        asked_mix(form, stock, wanted, litres)


def test_a_comma_is_a_point() -> None:
    """As many write it."""
    assert asked_mix("liquid", "5", "0,5", " 10 ").stock == 1_000
