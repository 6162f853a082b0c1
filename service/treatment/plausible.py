"""Whether a trace can be what it says: dead and frozen probes, wrong units, another cycle's clock.

The figures in this file tell readings from nonsense, not good cycles from bad ones (common
practice, no source). A trace that fails here is not judged; it is never corrected.
"""

from collections.abc import Iterator
from datetime import date, datetime

import numpy as np

from service.custody.regime import Regime
from service.treatment.machines import Machine
from service.treatment.pieces import Floats, Marks
from service.treatment.problems import Problem
from service.treatment.reasons import house_limit
from service.treatment.steam import ATMOSPHERE_KPA, saturation_c
from service.treatment.trace import Trace, probe_name

_RANGE_C = {"steam": (-30.0, 200.0), "heat": (-30.0, 300.0), "burning": (-30.0, 1800.0)}
_PRESSURE_KPA = (-5.0, 1000.0)  # a sensor's zero may be off a little in a vacuum
_PRESSURE_PEAK_KPA = 50.0
_STEAM_FROM_C, _FIRE_FROM_C = 105.0, 400.0
_MISFIT_K, _FIT_K = 5.0, 3.0
_OFFSET_H, _OFFSET_SLACK_MIN = 14, 5.0
_FROZEN_S, _FROZEN_READINGS, _MOVED_K = 300.0, 10, 10.0


def implausible(trace: Trace, machine: Machine, ambient_kpa: float) -> list[Problem]:
    """Give every reason for which the readings cannot be those of such a machine."""
    kind = "steam" if machine.by_steam else "burning" if machine.burns else "heat"
    outside = list(_temperature_range(trace, *_RANGE_C[kind]))
    if machine.by_steam:
        outside += _pressure_range(trace)
    if outside:
        return outside
    still = [*_dead(trace, machine), *_frozen(trace, machine)]
    return still or (list(_misfit(trace, ambient_kpa)) if machine.by_steam else [])


def another_cycle(
    trace: Trace, started: datetime | None, regime: Regime, day: date
) -> list[Problem]:
    """Hold the trace's start against the start that was told for the cycle."""
    if started is None or trace.start is None:
        return []
    allowed_min = float(house_limit(regime, "trace-start", day).value)
    apart_min = (trace.start - started).total_seconds() / 60
    if abs(apart_min) <= allowed_min:
        return []
    hours = round(apart_min / 30) / 2
    zone = abs(hours) <= _OFFSET_H and abs(apart_min - hours * 60) <= _OFFSET_SLACK_MIN
    told = f"the trace starts {apart_min:+.0f} min from the start told for the cycle: "
    guess = f"a wrong zone, by {hours:+g} h?" if zone and hours else "the trace of another cycle?"
    return [Problem(told + guess)]


def _dead(trace: Trace, machine: Machine) -> Iterator[Problem]:
    """A sensor that gave one value all the time shows nothing."""
    for probe, line in trace.temperatures_c.items():
        if np.ptp(line) == 0:
            told = f"{probe_name(probe)} gave {line[0]:g} °C from first to last: a dead probe?"
            yield Problem(told)
    pressure = trace.pressure_kpa
    if pressure is not None and machine.by_steam and np.ptp(pressure) == 0:
        yield Problem(f"the pressure was {pressure[0]:g} kPa from first to last: a dead sensor?")


def _temperature_range(trace: Trace, lowest: float, highest: float) -> Iterator[Problem]:
    for probe, line in trace.temperatures_c.items():
        peak, trough = float(line.max()), float(line.min())
        if trough < lowest or peak > highest:
            odd = peak if peak > highest else trough
            hint = _as_fahrenheit(odd) if odd == peak else ""
            yield Problem(f"{probe_name(probe)} gave {odd:g} °C, which cannot be{hint}")


def _as_fahrenheit(value: float) -> str:
    return f"; {value:g} °F would be {(value - 32) / 1.8:.1f} °C: is the header's unit right?"


def _pressure_range(trace: Trace) -> Iterator[Problem]:
    if trace.pressure_kpa is None:
        return
    peak, trough = float(trace.pressure_kpa.max()), float(trace.pressure_kpa.min())
    if trough < _PRESSURE_KPA[0] or peak > _PRESSURE_KPA[1]:
        odd = trough if trough < _PRESSURE_KPA[0] else peak
        yield Problem(f"the pressure was {odd:g} kPa absolute, which cannot be: is its unit right?")
    elif peak < _PRESSURE_PEAK_KPA:
        told = f"the pressure never rose above {peak:g} kPa absolute, less than any air's"
        yield Problem(f"{told}: is its unit right?")


def _misfit(trace: Trace, ambient_kpa: float) -> Iterator[Problem]:
    """A pressure that fits the temperature only with an atmosphere more, or less."""
    if trace.pressure_kpa is None:
        return
    steam_c = saturation_c(trace.pressure_kpa)
    hot = trace.hottest_c
    exposed = _exposed(trace.pressure_kpa, hot)
    if not exposed.any() or _off(hot, steam_c, exposed) <= _MISFIT_K:
        return
    sign, said = (
        (-1, "gauge, reads as absolute") if trace.gauge else (1, "absolute, reads as gauge")
    )
    other_c = saturation_c(trace.pressure_kpa + sign * ambient_kpa)
    if _off(hot, other_c, exposed) <= _FIT_K:
        yield Problem(
            f"the pressure, declared as {said}: {ambient_kpa:g} kPa too "
            f"{'high' if trace.gauge else 'low'} for the temperature"
        )


def _exposed(pressure_kpa: Floats, hot: Floats) -> Marks:
    """Mark the readings at which the vessel was under its highest pressure, and hot."""
    peak: Marks = (pressure_kpa >= 0.95 * pressure_kpa.max()) & (hot > _STEAM_FROM_C)
    return peak


def _off(line: Floats, steam_c: Floats, where: Marks) -> float:
    return float(np.median(np.abs(line[where] - steam_c[where])))


def _frozen(trace: Trace, machine: Machine) -> Iterator[Problem]:
    """A probe that stood still to the last digit, hot, while others moved."""
    lines = dict(trace.temperatures_c)
    hot_from = _FIRE_FROM_C if machine.burns else _STEAM_FROM_C
    for probe, line in lines.items():
        others = [other for name, other in lines.items() if name != probe]
        if machine.by_steam and trace.pressure_kpa is not None:
            others.append(saturation_c(np.maximum(trace.pressure_kpa, ATMOSPHERE_KPA / 2)))
        for from_, until in _still(trace.time_s, line):
            moved = max((float(np.ptp(other[from_ : until + 1])) for other in others), default=0.0)
            if line[from_] >= hot_from and moved > _MOVED_K:
                told = (
                    f"{probe_name(probe)} stood at {line[from_]:g} °C from "
                    f"{trace.time_s[from_]:g} to {trace.time_s[until]:g} s while another moved "
                    f"by {moved:.0f} K: a frozen probe?"
                )
                yield Problem(told)


def _still(time_s: Floats, line: Floats) -> Iterator[tuple[int, int]]:
    """Give first and last number of each long run of one value."""
    changes = np.flatnonzero(np.diff(line) != 0)
    first = np.append(0, changes + 1)
    last = np.append(changes, len(line) - 1)
    long = (time_s[last] - time_s[first] >= _FROZEN_S) & (last - first + 1 >= _FROZEN_READINGS)
    yield from zip(first[long].tolist(), last[long].tolist(), strict=True)
