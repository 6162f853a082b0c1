"""Readings that cannot be: each is told and not judged; readings that can be are left alone."""

from collections.abc import Callable
from typing import NamedTuple

import pytest

from service.treatment.machines import Machine
from service.treatment.plausible import implausible
from service.treatment.steam import ATMOSPHERE_KPA
from service.treatment.trace import Trace, read_trace
from service.treatment.windows import pulses
from tests.treatment.traces import cycle, text_of, trace


def told(found: Trace, machine: Machine = Machine.GRAVITY) -> str:
    """What is said of a trace, all in one."""
    return "; ".join(map(str, implausible(found, machine, ATMOSPHERE_KPA)))


class Reading(NamedTuple):
    """A line of the cycle: seconds, °C, kPa absolute."""

    s: float
    c: float
    p: float


Formula = Callable[[Reading], float]


def changed(text: str, header: str | None = None, **columns: Formula) -> Trace:
    """The cycle with cells made anew, and further columns."""
    head, *lines = text.splitlines()
    rows = []
    for line in lines:
        reading = Reading(*map(float, line.split(",")))
        cells = reading._asdict() | {name: make(reading) for name, make in columns.items()}
        rows.append(",".join(map(repr, cells.values())))
    return read_trace("\n".join([header or head, *rows]))


PROBES = "time_s,temperature_a_c,pressure_kpa,temperature_b_c"


def test_a_good_cycle_is_left_alone() -> None:
    """Saturated steam, one probe or two."""
    assert told(read_trace(cycle())) == ""
    assert told(changed(cycle(), PROBES, b=lambda r: r.c - 1)) == ""


def test_a_dead_probe() -> None:
    """One value from first to last, of a probe or of the pressure."""
    assert "dead probe" in told(changed(cycle(), PROBES, b=lambda _: 24.7))
    assert "dead sensor" in told(changed(cycle(), p=lambda _: 205.0))
    assert told(changed(cycle(), p=lambda _: 101.3), Machine.DRY_HEAT) == ""


def test_a_frozen_probe() -> None:
    """Hot and still to the last digit while the other cools, for five minutes at least."""
    assert "frozen" in told(changed(cycle(), PROBES, b=lambda r: 121.5 if r.s > 1000 else r.c))
    assert "frozen" in told(changed(cycle(), c=lambda r: 121.5 if r.s > 1000 else r.c))
    late = changed(cycle(), PROBES, b=lambda r: r.c if r.s < 4500 else max(r.c, 110))
    assert "stood at 110 °C from 4500 to 4860 s" in told(late)
    assert told(changed(cycle(), PROBES, b=lambda r: r.c if r.s < 4600 else max(r.c, 110))) == "", (
        "under 5 min"
    )


@pytest.mark.parametrize(
    ("formula", "said"),
    [
        (lambda r: r.c * 1.8 + 32, "250.7 °F would be 121.5 °C"),
        (lambda r: r.c + 273.15, "which cannot be"),
        (lambda r: -r.c, "which cannot be"),
    ],
)
def test_another_unit_than_the_header_says(formula: Formula, said: str) -> None:
    """°F and K under the name of °C."""
    assert said in told(changed(cycle(), c=formula))


@pytest.mark.parametrize(
    ("formula", "said"),
    [
        (lambda r: r.p - 101.325, "declared as absolute, reads as gauge"),
        (lambda r: r.p / 100, "less than any air's"),
        (lambda r: r.p * 1000, "which cannot be"),
        (lambda r: r.p - 250, "which cannot be"),
        (lambda r: r.p * 0.1450377, "less than any air's"),
    ],
)
def test_another_pressure_than_the_header_says(formula: Formula, said: str) -> None:
    """Gauge, bar, Pa and psi under the name of kPa absolute."""
    assert said in told(changed(cycle(), p=formula))


def test_absolute_under_the_name_of_gauge() -> None:
    """An atmosphere too many."""
    found = changed(cycle(), "time_s,temperature_c,pressure_kpa_gauge")
    assert "declared as gauge, reads as absolute" in told(found)


def test_fahrenheit_without_pressure() -> None:
    """No autoclave is at 250 °C; no oven at 365."""
    hot = trace("0,20", "60,250", "120,100", header="time_s,temperature_c")
    assert "250 °F would be 121.1 °C" in told(hot)
    oven = trace("0,20", "60,365", "120,100", header="time_s,temperature_c")
    assert "365 °F would be 185.0 °C" in told(oven, Machine.DRY_HEAT)
    assert told(oven, Machine.INCINERATOR) == ""


def test_a_vacuum_and_a_hot_jacket_are_no_wrong_unit() -> None:
    """In drying a probe is hotter than its steam; what counts is the time under pressure."""
    text = text_of([(0, 25), (12, 121.5), (75, 121.5), (76, 105), (90, 104)])
    assert (
        told(
            changed(
                text,
                p=lambda r: r.p if r.s < 4600 else 9.0,
                c=lambda r: r.c if r.s < 4600 else 126.0 + r.s / 1e4,
            )
        )
        == ""
    )


@pytest.mark.parametrize(
    ("kpa", "count"),
    [
        ([101, 20, 101, 20, 101, 20, 101], 3),
        ([101, 20, 60, 20, 101], 1),  # not well above the depth between: one pulse
        ([101, 49, 51, 49, 51, 101], 1),
        ([101, 50, 76, 50, 76], 2),  # at the depth counts
        ([101, 51, 101], 0),
        ([20, 101, 20, 101], 2),  # begins in vacuum
        ([101, 101], 0),
        ([60, 60], 0),
    ],
)
def test_vacuum_pulses(kpa: list[float], count: int) -> None:
    """Down to 50 kPa absolute, and half as much again in between."""
    lines = [f"{n},{20 + n},{p}" for n, p in enumerate(kpa)]
    pressure = trace(*lines).pressure_kpa
    assert pressure is not None
    assert pulses(pressure, 50) == count
