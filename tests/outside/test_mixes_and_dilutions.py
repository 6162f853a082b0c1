"""Cement, pits and hypochlorite against published figures.

WHO/EDM/PAR/99.2 (1999): s. 2.3, 75 % and 15:15:5 (read), s. 2.4, 65:15:15:5 (memory, high); WHO
safety box of 5 l, 100 syringes (memory); BMW Rules Schedule II, deep burial (1998 text, read);
Specification 575, Placenta pit (read); WHO and CDC dilutions (memory, high). Others by hand.
"""

from datetime import date
from decimal import Decimal

import pytest

from service.custody.acts import Step
from service.regimes.load import assemble
from service.treatment.dilution import judge_soak, parts_of_water, powder_g_per_l, stock_for
from service.treatment.encapsulation import (
    Deposit,
    Drum,
    Pit,
    bins_needed,
    burial_loads,
    containers_needed,
    filling_rate_l,
    mixed,
    mixed_with,
    reopen_on,
)

WHO = assemble("who-2014")
MORTAR = next(row.parts for row in WHO.mix if row.step is Step.ENCAPSULATE)
INERT = next(row.parts for row in WHO.mix if row.step is Step.INERTISE)
D = Decimal


@pytest.mark.parametrize(
    ("total", "lime", "cement", "water"),
    [("35", "15", "15", "5"), ("50", "21.43", "21.43", "7.14")],
)
def test_mortar_over_encapsulated_waste(total: str, lime: str, cement: str, water: str) -> None:
    """15:15:5 by weight (s. 2.3, read)."""
    found = {name: round(kg, 2) for name, kg in mixed(MORTAR, D(total)).items()}
    assert found == {"lime": D(lime), "cement": D(cement), "water": D(water)}


@pytest.mark.parametrize(
    ("waste", "lime", "cement", "water", "total"),
    [("130", "30", "30", "10", "200"), ("100", "23.08", "23.08", "7.69", "153.85")],
)
def test_inert(waste: str, lime: str, cement: str, water: str, total: str) -> None:
    """65:15:15:5 by weight (s. 2.4)."""
    found = mixed_with(INERT, D(waste))
    assert [round(found[name], 2) for name in ("lime", "cement", "water")] == [
        D(lime),
        D(cement),
        D(water),
    ]
    assert round(sum(found.values()), 2) == D(total)


def test_mortar_has_no_part_for_waste() -> None:
    """The mix over the waste says nothing of how much waste."""
    with pytest.raises(ValueError, match="no part for the waste"):
        mixed_with(MORTAR, D(10))


@pytest.mark.parametrize(("waste", "overfilled"), [("150", False), ("150.1", True), ("160", True)])
def test_a_drum_of_200_litres(waste: str, overfilled: bool) -> None:
    """At most 75 %: 150 l of waste; 160 is too much; 50 l of mortar and what the voids take."""
    row = next(row for row in WHO.limit if row.id == "encapsulation-fill")
    drum = Drum(D(200), D(waste), row.value)
    assert drum.overfilled is overfilled
    assert drum.usable_l == 150
    assert Drum(D(200), D(150), row.value).fill_l() == 50
    assert Drum(D(200), D(150), row.value).fill_l(D("0.4")) == 110


@pytest.mark.parametrize(("nominal", "usable"), [("10", "7.5"), ("60", "45"), ("240", "180")])
def test_three_quarters(nominal: str, usable: str) -> None:
    """WHO ch. 7: closed at three-quarters (memory)."""
    assert Drum(D(nominal), D(0), D("0.75")).usable_l == D(usable)


@pytest.mark.parametrize(("syringes", "boxes"), [(0, 0), (1, 1), (1000, 10), (1001, 11)])
def test_safety_boxes(syringes: int, boxes: int) -> None:
    """100 syringes to a box of 5 l."""
    assert containers_needed(syringes, 100) == boxes


def test_bins_are_counted_exactly() -> None:
    """100 kg at 0.1 kg/l in bins of 240 l, three-quarters full: 6; 0.3 in tenths are 3, not 4."""
    assert bins_needed(D(100), D("0.1"), D(240), D("0.75")) == 6
    assert bins_needed(D("0.3"), D(1), D("0.1"), D(1)) == 3


def test_a_sharps_pit_lasts() -> None:
    """50 syringes a day are 2.5 l: 800 l last 320 days. Needles alone, 50 ml a day: 43.8 years."""
    a_day = D(50) / 100 * 5
    assert a_day * 365 == D("912.5")
    assert Pit(D(800)).days_left(a_day) == 320
    assert Pit(D(800), D(400)).days_left(a_day) == 160
    assert Pit(D(800)).full_on(date(2026, 1, 1), a_day) == date(2026, 11, 17)
    needles = D(50) / 1000
    assert round(D(Pit(D(800)).days_left(needles) or 0) / 365, 1) == D("43.8")


def test_a_pit_that_is_full_or_unused() -> None:
    """Full is no day, not less than none; unused has no end."""
    assert Pit(D(800), D(900)).days_left(D(1)) == 0
    assert Pit(D(800)).days_left(D(0)) is None
    assert Pit(D(800)).full_on(date(2026, 1, 1), D("0.0000001")) == date.max


def test_the_rate_is_what_was_put_in() -> None:
    """Litres from the first deposit on, by the days since; a first day says nothing yet."""
    put = [Deposit(date(2026, 1, 1), D(10)), Deposit(date(2026, 1, 11), D(15))]
    assert filling_rate_l(put, date(2026, 1, 11)) == D("2.5")
    assert filling_rate_l(put[:1], date(2026, 1, 1)) is None
    assert filling_rate_l([], date(2026, 1, 1)) is None
    with pytest.raises(ValueError, match="cannot be a deposit"):
        filling_rate_l(put, date(2026, 1, 10))


def test_deep_burial() -> None:
    """2 m deep, half for waste; loads of 0.25 m under 10 cm of soil: two whole loads."""
    india = assemble("india-2016")
    rows = {row.id: row.value for row in india.limit if row.id.startswith("pit-")}
    assert (
        burial_loads(rows["pit-depth"], rows["pit-filled"], D("0.25"), rows["pit-soil"] / 100) == 2
    )
    assert burial_loads(D(2), D("0.5"), D("0.4"), D("0.1")) == 2


def test_a_placenta_pit_rests_two_years() -> None:
    """Specification 575: last use on 1 May 2026, opened not before 1 May 2028."""
    assert reopen_on(date(2026, 5, 1), 2) == date(2028, 5, 1)
    assert reopen_on(date(2024, 2, 29), 2) == date(2026, 3, 1)


@pytest.mark.parametrize(
    ("stock", "wanted", "parts"), [("5", "0.5", 9), ("3.5", "0.5", 6), ("5", "1", 4), ("5", "5", 0)]
)
def test_parts_of_water(stock: str, wanted: str, parts: int) -> None:
    """WHO, CDC: parts of water to one of stock."""
    assert parts_of_water(D(stock), D(wanted)) == parts
    assert stock_for(D(10), D(stock), D(wanted)) == D(10) / (parts + 1)


def test_chlorine_powder() -> None:
    """0.5 % from powder of 35 %: 14.3 g to the litre."""
    assert round(powder_g_per_l(D(35), D("0.5")), 1) == D("14.3")


@pytest.mark.parametrize(("stock", "wanted"), [("1", "5"), ("0", "0"), ("5", "0"), ("101", "1")])
def test_no_strong_solution_of_a_weak_stock(stock: str, wanted: str) -> None:
    """Refused, not a negative amount of water."""
    with pytest.raises(ValueError, match=r"strength|makes no solution"):
        parts_of_water(D(stock), D(wanted))


@pytest.mark.parametrize(
    ("day", "percent", "met"),
    [
        (date(2018, 3, 15), "10", True),  # 2016: at least 10 % (memory, medium)
        (date(2018, 3, 15), "2", False),
        (date(2018, 3, 16), "2", True),  # from 2018: 1 to 2 % (read)
        (date(2018, 3, 16), "0.9", False),
        (date(2018, 3, 16), "10", False),
    ],
)
def test_the_strength_that_the_rules_ask_for(day: date, percent: str, met: bool) -> None:
    """BMW Rules Schedule I Part 2 as amended in 2018; 20 min and 30 % residual (memory)."""
    reasons = judge_soak(D(percent), D(20), D(30), assemble("india-2016"), day)
    assert all(reason.met for reason in reasons) is met


def test_what_was_not_measured_is_not_met() -> None:
    """No residual chlorine measured: not shown; 19 min: too short; a text without rows: nothing."""
    reasons = judge_soak(D(2), D(19), None, assemble("india-2016"), date(2026, 7, 1))
    assert [reason.met for reason in reasons] == [True, True, None, False]
    assert judge_soak(D(2), D(19), None, WHO, date(2026, 7, 1)) == []
