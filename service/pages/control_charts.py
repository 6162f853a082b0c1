"""Control charts as figures to be drawn by a template: points, centre, limits, signals.

A point that completes a signal is a square with its number, never a colour alone.
"""

from collections.abc import Callable
from dataclasses import dataclass

from service.duties.signals import Drawn
from service.statistics.charts import Point

WIDTH, HEIGHT = 400, 180
LEFT, RIGHT, TOP, BOTTOM = 60, 10, 12, 24


@dataclass(frozen=True, slots=True)
class Mark:
    """A week: where it is drawn, what it stands for, and whether a signal ends there."""

    point: Point
    x: float
    y: float
    signal: bool


@dataclass(frozen=True, slots=True)
class ControlChart:
    """A chart laid out; the lines are written as SVG takes them."""

    drawn: Drawn
    marks: tuple[Mark, ...]
    line: str
    centre: str
    upper: str
    lower: str
    top: float
    bottom: float


def laid_out(drawn: Drawn) -> ControlChart:
    """Lay a chart out between the lowest and the highest of its points and limits."""
    points = drawn.chart.points
    ends = [v for p in points for v in (p.value, p.lower, p.upper)]
    bottom, top = min(ends), max(ends)
    span = (top - bottom) or 1.0
    each = (WIDTH - LEFT - RIGHT) / max(1, len(points) - 1)
    room = HEIGHT - TOP - BOTTOM

    def line(value: Callable[[Point], float]) -> str:
        return " ".join(
            f"{LEFT + n * each:.1f},{TOP + room * (top - value(p)) / span:.1f}"
            for n, p in enumerate(points)
        )

    lasts = {s.last for s in drawn.signals}
    marks = tuple(
        Mark(p, LEFT + n * each, TOP + room * (top - p.value) / span, n in lasts)
        for n, p in enumerate(points)
    )
    return ControlChart(
        drawn,
        marks,
        line(lambda p: p.value),
        line(lambda p: p.centre),
        line(lambda p: p.upper),
        line(lambda p: p.lower),
        top,
        bottom,
    )
