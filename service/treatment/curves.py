"""The lines of a trace as a person looks at them: fewer points, and lethality as it grows."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from service.treatment.machines import Machine
from service.treatment.problems import TraceError
from service.treatment.sterilisation import DRY, MOIST, lethality_min
from service.treatment.trace import Trace, read_trace
from service.treatment.verdict import Told

POINTS_MOST = 400
"""Points of a line: more than a screen shows are no help."""


@dataclass(frozen=True, slots=True)
class Curves:
    """A trace to be drawn.

    Attributes:
        minutes: From the first reading.
        temperature_c: By probe.
        pressure_kpa: Absolute, or None.
        lethality_min: F of the coldest probe up to each point; None where the process has none.
    """

    minutes: list[float]
    temperature_c: dict[str, list[float]]
    pressure_kpa: list[float] | None
    lethality_min: list[float] | None


def curves(content: bytes, machine: Machine | None, told: Told) -> Curves | None:
    """Give the lines of a logger's file, or None where it cannot be read."""
    try:
        trace = read_trace(
            content.decode("utf-8-sig"), zone=told.zone, ambient_kpa=told.ambient_kpa
        )
    except (UnicodeDecodeError, TraceError):
        return None
    size = len(trace.time_s)
    shown = np.unique(np.linspace(0, size - 1, min(size, POINTS_MOST)).round().astype(int))

    def of(line: Any) -> list[float]:
        return [round(float(v), 3) for v in line[shown]]

    return Curves(
        of(trace.time_s / 60),
        {probe: of(line) for probe, line in trace.temperatures_c.items()},
        None if trace.pressure_kpa is None else of(trace.pressure_kpa),
        _grown(trace, machine, shown),
    )


def _grown(trace: Trace, machine: Machine | None, shown: Any) -> list[float] | None:
    """Lethality of the coldest probe up to each point shown."""
    if machine is None or not (machine.by_steam or machine is Machine.DRY_HEAT):
        return None
    to = MOIST if machine.by_steam else DRY
    line, time, found, grown = trace.coldest_c, trace.time_s, [0.0], 0.0
    for low, high in pairwise(shown):
        piece = slice(low, high + 1)
        grown += lethality_min(time[piece], line[piece], trace.linked[low:high], to)
        found.append(round(grown, 3))
    return found
