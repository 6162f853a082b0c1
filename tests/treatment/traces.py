"""Traces made for a test: a cycle of straight lines, read at chosen times, as text or as values."""

from collections.abc import Sequence

import numpy as np

from service.custody.regime import Regime
from service.treatment.steam import saturation_kpa
from service.treatment.trace import Trace, read_trace
from tests.house import house, row

HEADER = "time_s,temperature_c,pressure_kpa"
Corners = Sequence[tuple[float, float]]

HOUSE_LIMITS = {
    "trace-gap": 120,
    "trace-gap-usual": 10,
    "trace-start": 15,
    "steam-saturation": 2,
    "steam-saturation-time": 60,
    "probe-spread": 2,
    "probe-drift": 1,
    "vacuum-pulse": 50,
    "wet-loads": 0,
}


def text_of(
    corners: Corners, *, step_s: float = 30, header: str = HEADER, off_kpa: float = 0
) -> str:
    """A file of a cycle in saturated steam, by its corners in minutes and °C."""
    minutes, celsius = zip(*corners, strict=True)
    times = np.arange(0, 60 * minutes[-1] + 1e-9, step_s)
    line = np.interp(times, [60 * m for m in minutes], celsius)
    kpa = np.maximum(101.3, saturation_kpa(line)) + off_kpa
    cells = zip(times.tolist(), line.tolist(), kpa.tolist(), strict=True)
    return "\n".join([header, *(f"{s:g},{c:.4f},{p:.3f}" for s, c, p in cells)]) + "\n"


def cycle(minutes: float = 61, celsius: float = 121.5) -> str:
    """A gravity cycle held for so long."""
    return text_of([(0, 25), (12, celsius), (12 + minutes, celsius), (20 + minutes, 60)])


def trace(*lines: str, header: str = HEADER) -> Trace:
    """A trace of a few lines."""
    return read_trace("\n".join([header, *lines]))


def invented(*windows: dict[str, object]) -> Regime:
    """The invented regime with these windows, and the limits of good practice."""
    limits = [
        row(i, id=i, subject=i, bound="max", value=str(v), unit="x")
        for i, v in HOUSE_LIMITS.items()
    ]
    return house(window=[row("window", **window) for window in windows], limit=limits)
