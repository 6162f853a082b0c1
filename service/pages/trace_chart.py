"""A trace as a drawing: temperatures, the dwell in its window, lethality. Figures only.

All measures are in units of the drawing; the same stands in a table beside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from service.treatment.curves import Curves

WIDTH, HEIGHT = 640, 260
LEFT, RIGHT, TOP, BOTTOM = 48, 48, 12, 28
DASHES = ("", "7 4", "2 3", "9 3 2 3")
"""How the lines of probes differ, beside their names: never by colour alone."""


@dataclass(frozen=True, slots=True)
class Line:
    """One probe's line, as SVG writes it."""

    name: str
    points: str
    dash: str


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch in which a window was met, or would have been had it lasted."""

    x: float
    width: float
    said: str


@dataclass(frozen=True, slots=True)
class Row:
    """A moment of the table beside the drawing."""

    minute: float
    temperatures_c: tuple[float, ...]
    pressure_kpa: float | None
    lethality_min: float | None


@dataclass(frozen=True, slots=True)
class TraceChart:
    """A trace laid out; ``low_c`` and ``high_c`` are the ends of the scale."""

    lines: Sequence[Line]
    bands: Sequence[Band]
    lethality: str
    low_c: float
    high_c: float
    minutes: float
    lethality_min: float | None
    rows: Sequence[Row]

    @property
    def base(self) -> int:
        """Where the scale begins."""
        return HEIGHT - BOTTOM


def trace_chart(curves: Curves, figures: dict[str, Any]) -> TraceChart:
    """Lay a trace out, with the dwell of its judgement."""
    values = [c for line in curves.temperature_c.values() for c in line]
    low, high = min(values), max(values)
    low, high = (low - low % 10, high + 10 - high % 10)
    whole = curves.minutes[-1] or 1.0
    room = WIDTH - LEFT - RIGHT

    def x(minute: float) -> float:
        return LEFT + room * minute / whole

    def points(line: Sequence[float], least: float, most: float) -> str:
        tall = HEIGHT - TOP - BOTTOM
        span = (most - least) or 1.0
        pairs = zip(curves.minutes, line, strict=True)
        return " ".join(f"{x(m):.1f},{TOP + tall * (1 - (v - least) / span):.1f}" for m, v in pairs)

    grown = curves.lethality_min
    return TraceChart(
        [
            Line(name or "temperature", points(line, low, high), DASHES[n % len(DASHES)])
            for n, (name, line) in enumerate(curves.temperature_c.items())
        ],
        [
            Band(x(w["from_s"] / 60), x(w["until_s"] / 60) - x(w["from_s"] / 60), w["window"])
            for w in figures.get("windows", ())
            if w.get("from_s") is not None and w.get("until_s") is not None
        ][:1],
        points(grown, 0, max(grown) or 1.0) if grown else "",
        low,
        high,
        round(whole, 1),
        grown[-1] if grown else None,
        _rows(curves),
    )


def _rows(curves: Curves, most: int = 24) -> list[Row]:
    step = max(1, -(-len(curves.minutes) // most))
    return [
        Row(
            curves.minutes[i],
            tuple(line[i] for line in curves.temperature_c.values()),
            curves.pressure_kpa[i] if curves.pressure_kpa else None,
            curves.lethality_min[i] if curves.lethality_min else None,
        )
        for i in range(0, len(curves.minutes), step)
    ]
