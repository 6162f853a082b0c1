"""Combustion efficiency and oxygen correction against published figures.

Quebec regulation Q-2 r.38, sections 67.3 and 68.3, and Q-2 r.19, section 131 (read); a worked
example of a calculator page (read); BMW Rules 2016 Schedule II (memory). The others by hand.
"""

from datetime import date
from decimal import Decimal

import pytest

from service.regimes.load import assemble
from service.treatment.combustion import (
    FlueGas,
    at_oxygen,
    combustion_efficiency,
    judge_gas,
    percent_of_ppm,
    residence_s,
)
from service.treatment.machines import Machine

DAY = date(2026, 7, 1)


@pytest.mark.parametrize(
    ("co2", "co", "efficiency"),
    [
        ("1.0", "0.05", "95.24"),  # 10 000 and 500 ppmv: the worked example, read
        ("10", "0.01", "99.9001"),
        ("8.0", "0.0080", "99.9001"),  # 80 ppm
        ("10", "0.1", "99.0099"),
        ("9.9", "0.1", "99"),
        ("9.0", "0.1", "98.9011"),
        ("7.0", "0.007", "99.9001"),
    ],
)
def test_combustion_efficiency(co2: str, co: str, efficiency: str) -> None:
    """CO2 / (CO2 + CO) · 100, both in percent of dry gas (Q-2 r.38 s.68.3)."""
    found = combustion_efficiency(Decimal(co2), Decimal(co))
    digits = Decimal(1).scaleb(Decimal(efficiency).as_tuple().exponent)  # type: ignore[arg-type]
    assert found.quantize(digits) == Decimal(efficiency)


@pytest.mark.parametrize(
    ("co2", "co", "met"), [("9.9", "0.1", True), ("9.0", "0.1", False), ("7.0", "0.007", True)]
)
def test_the_floor_of_99_is_inclusive(co2: str, co: str, met: bool) -> None:
    """BMW Rules 2016 Schedule II: at least 99.00 %; exactly 99 passes."""
    gas = FlueGas(Decimal(co2), Decimal(co))
    reasons = judge_gas(gas, Machine.INCINERATOR, assemble("india-2016"), DAY)
    (found,) = [r for r in reasons if r.rule == "gas.efficiency"]
    assert (found.met, found.clause) == (met, "Schedule II, incineration")


def test_plasma_asks_for_more() -> None:
    """99.90 % passes an incinerator and fails a plasma plant (99.99 %, memory)."""
    gas = FlueGas(Decimal(7), percent_of_ppm(Decimal(70)))
    reasons = judge_gas(gas, Machine.PLASMA, assemble("india-2016"), DAY)
    assert [r.met for r in reasons if r.rule == "gas.efficiency"] == [False]


@pytest.mark.parametrize(("co2", "co"), [("0", "0"), ("-1", "0.1"), ("10", "-0.1"), ("101", "0")])
def test_no_efficiency_of_what_cannot_be(co2: str, co: str) -> None:
    """Nothing burned, or a reading that cannot be: refused, not 0 and not 100."""
    with pytest.raises(ValueError, match=r"efficiency|cannot be"):
        combustion_efficiency(Decimal(co2), Decimal(co))


@pytest.mark.parametrize(
    ("value", "oxygen", "air", "corrected"),
    [
        ("40", "8", "20.9", "30.698"),  # Q-2 r.19 s.131: E · 9.9 / (20.9 - O2)
        ("40", "8", "21", "30.769"),  # Q-2 r.38 s.67.3: E · (21 - 11) / (21 - O2)
        ("100", "14", "20.9", "143.478"),
        ("100", "14", "21", "142.857"),
        ("50", "11", "20.9", "50.000"),
        ("50", "11", "21", "50.000"),
    ],
)
def test_referred_to_eleven_percent_of_oxygen(
    value: str, oxygen: str, air: str, corrected: str
) -> None:
    """Both published forms, by what each takes for air's oxygen."""
    found = at_oxygen(Decimal(value), Decimal(oxygen), Decimal(11), Decimal(air))
    assert round(found, 3) == Decimal(corrected)


@pytest.mark.parametrize("oxygen", ["21", "21.5", "-0.1"])
def test_air_cannot_be_corrected(oxygen: str) -> None:
    """At air's oxygen there is no flue gas to correct: refused."""
    with pytest.raises(ValueError, match="oxygen"):
        at_oxygen(Decimal(40), Decimal(oxygen), Decimal(11))


def test_emissions_are_held_at_their_oxygen() -> None:
    """40 mg of dust at 14 % O2 is 57 at 11 %: over the 50 of the Rules; HCl 30 is 43: under."""
    gas = FlueGas(
        o2_percent=Decimal(14),
        measured={"stack-particulate": Decimal(40), "stack-hcl": Decimal(30)},
    )
    reasons = judge_gas(gas, Machine.INCINERATOR, assemble("india-2016"), DAY)
    met = {r.said.split(":")[0].split(" in stack")[0]: r.met for r in reasons}
    assert met["particulate matter"] is False
    assert met["hydrogen chloride"] is True
    assert [r.met for r in reasons if "not" in r.said] == [None] * 4, "CE, NOx, Hg and dioxins"


def test_an_emission_that_no_row_limits_is_refused() -> None:
    """A misspelt emission would pass unseen."""
    gas = FlueGas(o2_percent=Decimal(11), measured={"stack-soot": Decimal(1)})
    with pytest.raises(ValueError, match="stack-soot"):
        judge_gas(gas, Machine.INCINERATOR, assemble("india-2016"), DAY)


def test_the_oxygen_of_a_row_is_that_of_its_words() -> None:
    """Each limit of flue gas that is referred to oxygen says so in words too."""
    for regime in ("india-2016", "england-htm-07-01"):
        rows = [row for row in assemble(regime).limit if row.oxygen_percent is not None]
        assert rows
        assert all(f"{row.oxygen_percent} % O2" in row.basis for row in rows)


def test_residence_of_gas() -> None:
    """3600 Nm³/h are 4.661 m³/s at 1000 °C: 10 m³ hold it for 2.1455 s (by hand)."""
    assert residence_s(10, 3600, 1000) == pytest.approx(10 / (1273.15 / 273.15), rel=1e-12)
    assert residence_s(10, 3600, 1000) == pytest.approx(2.1455, abs=5e-5)
    assert residence_s(10, 3600, 0) == pytest.approx(10)
    assert residence_s(10, 3600, 1000, 90) < residence_s(10, 3600, 1000)


@pytest.mark.parametrize("bad", [(0, 1, 1000), (1, 0, 1000), (1, 1, -274)])
def test_no_residence_without_volume_or_flow(bad: tuple[float, float, float]) -> None:
    """Nothing by nothing is refused."""
    with pytest.raises(ValueError, match="above zero"):
        residence_s(*bad)
