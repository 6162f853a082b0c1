"""How well a fire burned: combustion efficiency, time of the gas in a chamber, flue gas at 11 % O2.

Gas readings are by volume of dry gas. Combustion efficiency wants both gases in the same unit: CO2
in percent beside CO in parts per million is wrong by ten thousand.
"""

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from service.custody.regime import Limit, Regime
from service.treatment.machines import Machine
from service.treatment.reasons import Measure, Reason, cited, limit
from service.treatment.steam import ATMOSPHERE_KPA, ZERO_C_K

AIR_PERCENT = Decimal(21)
"""Oxygen of air in the correction of Directive 2010/75/EU, Annex VI part 7 (memory) and 40 CFR
60.284; some texts take 20.9 instead."""
_EFFICIENCY = {
    Machine.INCINERATOR: "combustion-efficiency",
    Machine.INCINERATOR_1200: "combustion-efficiency",
    Machine.PLASMA: "plasma-combustion-efficiency",
    Machine.PLASMA_1200: "plasma-combustion-efficiency",
}
STACK = "stack-"
"""How the ids of the regimes' limits of flue gas begin that are referred to oxygen."""


@dataclass(frozen=True)
class FlueGas:
    """Readings of one burn, by volume of dry gas.

    Attributes:
        co2_percent: carbon dioxide, percent.
        co_percent: carbon monoxide, percent; ``percent_of_ppm`` makes it from ppm.
        o2_percent: oxygen, percent.
        measured: emissions at that oxygen, by id of the regime's limit and in its unit.
    """

    co2_percent: Decimal | None = None
    co_percent: Decimal | None = None
    o2_percent: Decimal | None = None
    measured: dict[str, Decimal] = field(default_factory=dict)


def percent_of_ppm(ppm: Decimal) -> Decimal:
    """Give parts per million by volume as percent."""
    return ppm / 10_000


def combustion_efficiency(co2_percent: Decimal, co_percent: Decimal) -> Decimal:
    """Give CO2 / (CO2 + CO) · 100, percent. BMW Rules 2016 Schedule II; Quebec Q-2 r.38 s.68.3.

    Raises:
        ValueError: a reading is below zero or above 100, or there is neither gas.
    """
    for name, value in (("CO2", co2_percent), ("CO", co_percent)):
        if not 0 <= value <= 100:
            raise ValueError(f"{name} of {value} % cannot be")
    if co2_percent + co_percent == 0:
        raise ValueError("no CO2 and no CO: nothing burned, so there is no efficiency")
    return 100 * co2_percent / (co2_percent + co_percent)


def at_oxygen(
    value: Decimal,
    measured_percent: Decimal,
    reference_percent: Decimal,
    air: Decimal = AIR_PERCENT,
) -> Decimal:
    """Refer a concentration to another oxygen: value · (air - reference) / (air - measured).

    Not for plants that burn with added oxygen: they need another formula.

    Raises:
        ValueError: the oxygen measured is none, or air's or more; or the value is below zero.
    """
    if not 0 <= measured_percent < air or not 0 <= reference_percent < air:
        raise ValueError(f"oxygen must be from 0 to below {air} %, not {measured_percent} %")
    if value < 0:
        raise ValueError(f"a concentration of {value} cannot be")
    return value * (air - reference_percent) / (air - measured_percent)


def residence_s(
    volume_m3: float,
    flow_nm3_h: float,
    temperature_c: float,
    pressure_kpa: float = ATMOSPHERE_KPA,
) -> float:
    """Give the mean time of gas in a chamber, seconds: its volume by the flow as it is in there.

    Args:
        volume_m3: volume behind the last air inlet, m³.
        flow_nm3_h: wet flue gas at 0 °C and 101.325 kPa, Nm³/h; dry flow makes the time too long.
        temperature_c: temperature in the chamber; the lowest is the gas's, the highest is the
            strictest to reckon with.
        pressure_kpa: absolute pressure in the chamber.

    Raises:
        ValueError: a figure is not above zero, or the gas is colder than absolute zero.
    """
    kelvin = temperature_c + ZERO_C_K
    if min(volume_m3, flow_nm3_h, pressure_kpa, kelvin) <= 0:
        raise ValueError("volume, flow, pressure and absolute temperature must be above zero")
    flow_m3_s = flow_nm3_h / 3600 * (kelvin / ZERO_C_K) * (ATMOSPHERE_KPA / pressure_kpa)
    return volume_m3 / flow_m3_s


def judge_gas(gas: FlueGas, machine: Machine, regime: Regime, day: date) -> list[Reason]:
    """Hold gas readings against the regime's rows: efficiency, then each emission at its oxygen.

    A limit without a reading gives a reason that says so; no limit, no reason.

    Raises:
        ValueError: a reading cannot be, or an emission names no limit of the regime.
    """
    reasons = []
    row = limit(regime, _EFFICIENCY.get(machine, ""), day)
    if row is not None:
        reasons.append(_efficiency(gas, row, regime))
    stack = [
        row
        for row in regime.limit
        if row.oxygen_percent is not None and row.id.startswith(STACK) and row.in_force(day)
    ]
    if strange := gas.measured.keys() - {row.id for row in stack}:
        raise ValueError(
            f"{regime.id} has no limit of flue gas called {', '.join(sorted(strange))}"
        )
    return reasons + [_emission(gas, row, regime) for row in stack]


def _efficiency(gas: FlueGas, row: Limit, regime: Regime) -> Reason:
    if gas.co2_percent is None or gas.co_percent is None:
        return cited(regime, row, "gas.efficiency", None, "CO2 and CO were not both measured")
    found = combustion_efficiency(gas.co2_percent, gas.co_percent)
    told = f"combustion efficiency {_cut(found)} %; {row.value} asked"
    measure = Measure(float(found), float(row.value), "%")
    return cited(regime, row, "gas.efficiency", found >= row.value, told, measure)


def _emission(gas: FlueGas, row: Limit, regime: Regime) -> Reason:
    value = gas.measured.get(row.id)
    if value is None or gas.o2_percent is None or row.oxygen_percent is None:
        missing = "was not measured" if value is None else "has no oxygen reading beside it"
        return cited(regime, row, "gas.emission", None, f"{row.subject} {missing}")
    found = at_oxygen(value, gas.o2_percent, row.oxygen_percent)
    told = (
        f"{row.subject}: {found:.4g} {row.unit} at {row.oxygen_percent} % O2 "
        f"({value} at {gas.o2_percent} %); at most {row.value}"
    )
    measure = Measure(float(found), float(row.value), row.unit)
    return cited(regime, row, "gas.emission", found <= row.value, told, measure)


def _cut(value: Decimal) -> str:
    """Write a percentage cut at a thousandth: 98.9999 is not 99."""
    return str(value.quantize(Decimal("0.001"), rounding="ROUND_DOWN"))
