"""How long a trace stood inside a window of the regime, all of its conditions together."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor

import numpy as np

from service.custody.regime import Regime, TreatmentWindow
from service.treatment.pieces import AtLeast, Floats, Marks, Stay, above, at_most, stays
from service.treatment.reasons import Measure, Reason, cited
from service.treatment.steam import KPA_PER_PSI
from service.treatment.trace import Trace

CLOCK_S = 1e-6
"""A dwell may be short by a microsecond: less than any logger's clock can tell."""
_PULSE_OVER = 1.5
"""The next pulse counts once the pressure was this many times the depth (common practice)."""


@dataclass(frozen=True)
class Site:
    """What the readings are held against besides the regime.

    Attributes:
        counted: the pieces of the trace that count; a gap does not.
        ambient_kpa: pressure of the air at the site.
        pulse_kpa: pressure that a vacuum pulse falls to.
    """

    counted: Marks
    ambient_kpa: float
    pulse_kpa: float


@dataclass(frozen=True)
class Dwell:
    """A window of the regime, and how long the trace stood in it.

    Attributes:
        window: the conditions in words.
        met: None where the trace does not show it.
        dwell_min: longest unbroken time inside, minutes.
        asked_min: what the row asks for, or None.
        total_min: all time inside, minutes.
        come_up_min: from the first reading to the beginning of the dwell; None without one.
        from_s: beginning of the dwell, seconds of the trace.
        until_s: its end.
        temperature_c: lowest and highest of all probes during the dwell.
        pressure_kpa: lowest and highest absolute pressure during the dwell.
        reasons: what was met, or each condition that was not.
    """

    window: str
    met: bool | None
    dwell_min: float
    asked_min: float | None
    total_min: float
    come_up_min: float | None
    from_s: float | None
    until_s: float | None
    temperature_c: tuple[float, float] | None
    pressure_kpa: tuple[float, float] | None
    reasons: tuple[Reason, ...]


def shown(value: float) -> str:
    """Write a figure cut, never rounded up, at a hundredth: 59.999 is not 60."""
    return f"{floor(value * 100 + 1e-6) / 100:g}"


def words(row: TreatmentWindow) -> str:
    """Give the conditions of a window as people say them."""
    parts = [
        f"above {row.temperature_c_above} °C" if row.temperature_c_above is not None else "",
        f"at least {row.temperature_c_min} °C" if row.temperature_c_min is not None else "",
        f"at most {row.temperature_c_max} °C" if row.temperature_c_max is not None else "",
        f"at least {row.pressure_psi_min} psi gauge" if row.pressure_psi_min is not None else "",
        f"at least {row.pressure_kpa_min} kPa gauge" if row.pressure_kpa_min is not None else "",
        f"{row.minutes_min} min" if row.minutes_min is not None else "",
        f"cycle of {row.cycle_minutes_min} min" if row.cycle_minutes_min is not None else "",
        f"{row.vacuum_pulses_min} vacuum pulses" if row.vacuum_pulses_min is not None else "",
        f"gas for {row.seconds_residence_min} s" if row.seconds_residence_min is not None else "",
    ]
    return ", ".join(part for part in (row.machine.replace("_", " "), *parts) if part)


def temperature_conditions(
    row: TreatmentWindow, coldest_c: Floats, hottest_c: Floats
) -> list[AtLeast]:
    """Give what a window asks of the temperatures: all probes inside."""
    found = []
    if row.temperature_c_min is not None:
        found.append(AtLeast(coldest_c, float(row.temperature_c_min)))
    if row.temperature_c_above is not None:
        found.append(above(coldest_c, float(row.temperature_c_above)))
    if row.temperature_c_max is not None:
        found.append(at_most(hottest_c, float(row.temperature_c_max)))
    return found


def pressure_asked_kpa(row: TreatmentWindow, ambient_kpa: float) -> float | None:
    """Give the absolute pressure that a window asks for at a site, or None."""
    gauge = [
        float(row.pressure_psi_min) * KPA_PER_PSI if row.pressure_psi_min is not None else None,
        float(row.pressure_kpa_min) if row.pressure_kpa_min is not None else None,
    ]
    given = [value for value in gauge if value is not None]
    return max(given) + ambient_kpa if given else None


def dwell(trace: Trace, regime: Regime, row: TreatmentWindow, site: Site) -> Dwell:
    """Hold a trace against one window in which a load must stay for a time."""
    hot = temperature_conditions(row, trace.coldest_c, trace.hottest_c)
    asked_kpa = pressure_asked_kpa(row, site.ambient_kpa)
    pressed = []
    if asked_kpa is not None and trace.pressure_kpa is not None:
        pressed = [AtLeast(trace.pressure_kpa, asked_kpa)]
    inside = stays(trace.time_s, [*hot, *pressed], site.counted)
    best = inside.longest
    asked_min = float(row.minutes_min or 0)
    reasons = [
        *_time(trace, regime, row, site, (hot, pressed), best),
        *_cycle(trace, regime, row),
        *_pulses(trace, regime, row, site, best),
    ]
    if asked_kpa is not None and trace.pressure_kpa is None:
        told = f"{words(row)}: the trace has no pressure"
        reasons.append(cited(regime, row, "window.pressure", None, told))
    wrong = [reason.met for reason in reasons if not reason.met]
    met = None if wrong and False not in wrong else not wrong
    if met:
        minutes = best.minutes if best else 0.0
        told = f"{words(row)}: stood in it for {shown(minutes)} min unbroken"
        measure = Measure(minutes, asked_min, "min")
        reasons = [cited(regime, row, "window", True, told, measure)]
    return Dwell(
        words(row),
        met,
        best.minutes if best else 0.0,
        float(row.minutes_min) if row.minutes_min is not None else None,
        inside.total_s / 60,
        (best.from_s - float(trace.time_s[0])) / 60 if best else None,
        best.from_s if best else None,
        best.until_s if best else None,
        during(trace, best, trace.coldest_c, trace.hottest_c),
        during(trace, best, trace.pressure_kpa, trace.pressure_kpa),
        tuple(reason for reason in reasons if met or not reason.met),
    )


def during(
    trace: Trace, stay: Stay | None, low: Floats | None, high: Floats | None
) -> tuple[float, float] | None:
    """Give the lowest and highest value of lines within a stay, its two ends interpolated."""
    if stay is None or low is None or high is None:
        return None
    time_s = trace.time_s
    part = slice(
        np.searchsorted(time_s, stay.from_s), np.searchsorted(time_s, stay.until_s, "right")
    )
    ends = [stay.from_s, stay.until_s]
    lows = np.append(low[part], np.interp(ends, time_s, low))
    highs = np.append(high[part], np.interp(ends, time_s, high))
    return float(lows.min()), float(highs.max())


def _time(
    trace: Trace,
    regime: Regime,
    row: TreatmentWindow,
    site: Site,
    conditions: tuple[Sequence[AtLeast], Sequence[AtLeast]],
    best: Stay | None,
) -> list[Reason]:
    """Say whether the dwell was long enough, and if not, what of it was short."""
    asked_min = float(row.minutes_min or 0)
    if _long_enough(best, asked_min):
        return []
    hot, pressed = conditions
    everything = np.ones(len(site.counted), dtype=np.bool_)

    def short(rule: str, what: str, held: Sequence[AtLeast], unit: str) -> Reason | None:
        inside = stays(trace.time_s, held, site.counted)
        stay = inside.longest
        if _long_enough(stay, asked_min):
            return None
        found_min, total_min = stay.minutes if stay else 0.0, inside.total_s / 60
        measure = Measure(found_min, asked_min, "min")
        gaps = not site.counted.all()
        if gaps and _long_enough(stays(trace.time_s, held, everything).longest, asked_min):
            told = f"{words(row)}: {what} only if a gap in the trace is counted, and it is not: "
            told += f"{shown(found_min)} min unbroken without it"
            return cited(regime, row, "window.gap", None, told, measure)
        told = f"{words(row)}: {what} for {shown(found_min)} min unbroken"
        told += f", {shown(total_min)} min in all" if total_min > found_min else ""
        told += _peak(held, found_min, unit)
        return cited(regime, row, rule, False, told, measure)

    single = [
        short("window.temperature", "all probes in the temperature", hot, "°C") if hot else None,
        short("window.pressure", "in the pressure", pressed, "kPa absolute") if pressed else None,
    ]
    found = [reason for reason in single if reason]
    together = short("window.together", "in all of it together", [*hot, *pressed], "")
    return found or ([together] if together else [])


def _peak(held: Sequence[AtLeast], found_min: float, unit: str) -> str:
    """Say how near it came where it never got there."""
    if found_min or len(held) > 1:
        return ""
    return f"; {shown(float(held[0].line.max()))} {unit} at the highest"


def _long_enough(stay: Stay | None, asked_min: float) -> bool:
    return stay is not None and stay.until_s - stay.from_s >= 60 * asked_min - CLOCK_S


def _cycle(trace: Trace, regime: Regime, row: TreatmentWindow) -> list[Reason]:
    """Hold the length of the whole cycle, from first to last reading, against the row."""
    if row.cycle_minutes_min is None:
        return []
    asked = float(row.cycle_minutes_min)
    met = 60 * trace.minutes >= 60 * asked - CLOCK_S
    told = f"{words(row)}: the trace is {shown(trace.minutes)} min long"
    measure = Measure(trace.minutes, asked, "min")
    return [cited(regime, row, "window.cycle", met, told, measure)]


def _pulses(
    trace: Trace, regime: Regime, row: TreatmentWindow, site: Site, best: Stay | None
) -> list[Reason]:
    """Count the vacuum pulses before the dwell."""
    if row.vacuum_pulses_min is None:
        return []
    if trace.pressure_kpa is None:
        told = f"{words(row)}: the trace has no pressure to count the pulses in"
        return [cited(regime, row, "window.pulses", None, told)]
    until_s = best.from_s if best else float(trace.time_s[int(trace.hottest_c.argmax())])
    count = pulses(trace.pressure_kpa[trace.time_s <= until_s], site.pulse_kpa)
    told = f"{words(row)}: {count} pulses down to {site.pulse_kpa:g} kPa absolute before it"
    met = count >= row.vacuum_pulses_min
    measure = Measure(count, row.vacuum_pulses_min, "pulses")
    return [cited(regime, row, "window.pulses", met, told, measure)]


def pulses(pressure_kpa: Floats, depth_kpa: float) -> int:
    """Count how often the pressure fell to the depth, well above it in between."""
    low, high = pressure_kpa <= depth_kpa, pressure_kpa >= _PULSE_OVER * depth_kpa
    marks = np.where(low, -1, np.where(high, 1, 0))
    marks = marks[marks != 0]
    return int((np.diff(marks, prepend=1) < 0).sum()) if marks.size else 0
