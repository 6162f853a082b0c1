"""Whether it was saturated steam all over: pressure against temperature, probe against probe.

Air left in a vessel adds its own pressure: the steam is then colder than the pressure says, and
kills less. Steam hotter than the pressure says is superheated: dry heat, which kills more slowly.
"""

from collections.abc import Sequence
from datetime import date

import numpy as np

from service.custody.regime import Regime, TreatmentWindow
from service.treatment.pieces import AtLeast, Floats, Stay, stays
from service.treatment.problems import Remark
from service.treatment.reasons import Measure, Reason, cited, house_limit
from service.treatment.steam import saturation_c, saturation_kpa
from service.treatment.trace import Trace, probe_name
from service.treatment.windows import Site, pressure_asked_kpa


def air_left_in(
    trace: Trace, rows: Sequence[TreatmentWindow], site: Site, regime: Regime, day: date
) -> tuple[list[Reason], list[Remark]]:
    """Hold the hottest probe against saturation while the vessel was under exposure pressure.

    Gives a reason that is not met where air was left in, and remarks on superheated steam.
    """
    exposure_kpa = _exposure_kpa(rows, site.ambient_kpa)
    if trace.pressure_kpa is None or exposure_kpa is None:
        return [], []
    row = house_limit(regime, "steam-saturation", day)
    for_s = float(house_limit(regime, "steam-saturation-time", day).value)
    tolerance_k = float(row.value)
    lag_k = saturation_c(trace.pressure_kpa) - trace.hottest_c
    pressed = AtLeast(trace.pressure_kpa, exposure_kpa)
    colder = _worst(trace, [pressed, AtLeast(lag_k, tolerance_k)], site, for_s)
    hotter = _worst(trace, [pressed, AtLeast(-lag_k, tolerance_k)], site, for_s)
    reasons, remarks = [], []
    if colder:
        most_k = _most(trace, lag_k, colder)
        told = (
            f"steam colder than its pressure says by up to {most_k:.1f} K, for "
            f"{colder.minutes:.1f} min: air left in, or a sensor is off"
        )
        measure = Measure(most_k, tolerance_k, "K")
        reasons.append(cited(regime, row, "steam.air_left_in", False, told, measure))
    if hotter:
        most_k = _most(trace, -lag_k, hotter)
        told = (
            f"Hotter than saturated steam of the measured pressure by up to {most_k:.1f} K, for "
            f"{hotter.minutes:.1f} min: superheated, or a sensor is off."
        )
        remarks.append(Remark("steam.superheated", told))
    return reasons, remarks


def _exposure_kpa(rows: Sequence[TreatmentWindow], ambient_kpa: float) -> float | None:
    """Give the lowest pressure at which any of the windows is meant to be held."""
    found = [pressure_asked_kpa(row, ambient_kpa) for row in rows]
    found += [
        float(saturation_kpa(float(row.temperature_c_min)))
        for row in rows
        if row.temperature_c_min is not None
    ]
    return min((kpa for kpa in found if kpa is not None), default=None)


def _worst(trace: Trace, held: Sequence[AtLeast], site: Site, for_s: float) -> Stay | None:
    """Give the longest stay if it lasted longer than allowed."""
    stay = stays(trace.time_s, held, site.counted).longest
    return stay if stay and stay.until_s - stay.from_s > for_s else None


def _most(trace: Trace, line: Floats, stay: Stay) -> float:
    return float(line[_within(trace, stay)].max(initial=-np.inf))


def _within(trace: Trace, stay: Stay) -> slice:
    first = np.searchsorted(trace.time_s, stay.from_s)
    return slice(int(first), int(np.searchsorted(trace.time_s, stay.until_s, "right")))


def probes_apart(trace: Trace, stay: Stay | None, regime: Regime, day: date) -> list[Remark]:
    """Say if probes differ during exposure, or if one drifts against the others."""
    if stay is None or len(trace.temperatures_c) < 2:
        return []
    part = _within(trace, stay)
    lines = {probe: line[part] for probe, line in trace.temperatures_c.items()}
    length = part.stop - part.start
    if length < 4:
        return []
    spread_max = float(house_limit(regime, "probe-spread", day).value)
    drift_max = float(house_limit(regime, "probe-drift", day).value)
    remarks = []
    spread = float((trace.hottest_c[part] - trace.coldest_c[part]).max())
    if spread > spread_max:
        remarks.append(
            Remark("probes.spread", f"Probes up to {spread:.1f} K apart during exposure.")
        )
    quarter = max(1, length // 4)
    for probe, line in lines.items():
        others = np.mean([other for name, other in lines.items() if name != probe], axis=0)
        apart = line - others
        drift = float(apart[-quarter:].mean() - apart[:quarter].mean())
        if abs(drift) > drift_max and (len(lines) > 2 or drift > 0):
            told = f"{probe_name(probe)} drifted by {drift:+.1f} K against the others."
            remarks.append(Remark("probes.drift", told[0].upper() + told[1:]))
    return remarks
