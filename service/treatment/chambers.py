"""Chambers of an incinerator or plasma plant: hot enough all the time that waste burns."""

import numpy as np

from service.custody.regime import Regime, TreatmentWindow
from service.treatment.pieces import Floats, stays
from service.treatment.reasons import Measure, Reason, cited
from service.treatment.trace import Trace
from service.treatment.windows import (
    CLOCK_S,
    Dwell,
    Site,
    during,
    shown,
    temperature_conditions,
    words,
)

LAST = "secondary_chamber"
"""Where a row names no chamber and the trace has this one, it is the one that counts: the gas
passes it last."""


def chamber(
    trace: Trace, regime: Regime, row: TreatmentWindow, site: Site, residence_s: float | None
) -> Dwell:
    """Hold one chamber against its window from when it was first hot enough until it last was.

    Heating up and burning out are outside; every second too cold in between is counted against it.
    """
    lines = _lines(trace, row)
    if not lines:
        told = f"{words(row)}: the trace has no column temperature_{_short(row.machine)}_c"
        reason = cited(regime, row, "chamber.temperature", None, told)
        return _result(row, None, (reason,))
    coldest = np.minimum.reduce(lines)
    held = temperature_conditions(row, coldest, np.maximum.reduce(lines))
    counted = stays(trace.time_s, held, site.counted)
    all_of_it = stays(trace.time_s, held, np.ones(len(site.counted), dtype=np.bool_))
    span_s = all_of_it.span_s
    cold_s = span_s - all_of_it.total_s
    lost_s = all_of_it.total_s - counted.total_s
    if not span_s:
        met: bool | None = False
        told = f"{words(row)}: {shown(float(coldest.max()))} °C at the highest"
    elif cold_s > CLOCK_S:
        met, told = False, f"{words(row)}: too cold for {shown(cold_s / 60)} min between"
    elif lost_s > CLOCK_S:
        met, told = None, f"{words(row)}: {shown(lost_s / 60)} min are in gaps of the trace"
    else:
        met, told = True, f"{words(row)}: hot enough for {shown(span_s / 60)} min unbroken"
    measure = Measure(cold_s / 60, 0.0, "min")
    reasons = [cited(regime, row, "chamber.temperature", met, told, measure)]
    if row.seconds_residence_min is not None:
        reasons.append(residence(regime, row, residence_s))
    wrong = [reason.met for reason in reasons if not reason.met]
    overall = None if wrong and False not in wrong else not wrong
    best = counted.longest
    return Dwell(
        words(row),
        overall,
        best.minutes if best else 0.0,
        None,
        counted.total_s / 60,
        (best.from_s - float(trace.time_s[0])) / 60 if best else None,
        best.from_s if best else None,
        best.until_s if best else None,
        during(trace, best, coldest, np.maximum.reduce(lines)),
        None,
        tuple(reasons),
    )


def residence(regime: Regime, row: TreatmentWindow, residence_s: float | None) -> Reason:
    """Hold the gas's time in a chamber against the row; None says that nobody reckoned it."""
    asked = float(row.seconds_residence_min or 0)
    if residence_s is None:
        told = f"{words(row)}: a trace does not show for how long the gas stays"
        return cited(regime, row, "chamber.residence", None, told)
    told = f"{words(row)}: the gas stays for {shown(residence_s)} s"
    measure = Measure(residence_s, asked, "s")
    return cited(regime, row, "chamber.residence", residence_s >= asked, told, measure)


def _short(machine: str) -> str:
    return machine.removesuffix("_chamber")


def _lines(trace: Trace, row: TreatmentWindow) -> list[Floats]:
    """Give the temperatures that a row speaks of."""
    chambers = {_short(probe): line for probe, line in trace.temperatures_c.items()}
    if row.machine:
        return [chambers[_short(row.machine)]] if _short(row.machine) in chambers else []
    return [chambers[_short(LAST)]] if _short(LAST) in chambers else list(chambers.values())


def _result(row: TreatmentWindow, met: bool | None, reasons: tuple[Reason, ...]) -> Dwell:
    return Dwell(words(row), met, 0.0, None, 0.0, None, None, None, None, None, reasons)
