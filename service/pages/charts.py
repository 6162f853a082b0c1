"""Charts as figures to be drawn by a template: small ones beside each other, on one scale.

Each has a name and figures in words; a pattern tells categories apart, never a colour alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 320, 120
LEFT, TOP, BOTTOM = 44, 10, 22
"""Room for the figures at the scale, above the highest bar, and for the weeks below."""
_STEPS = (1, 1.5, 2, 2.5, 3, 4, 5, 6, 8)


@dataclass(frozen=True, slots=True)
class Mark:
    """A bar, or a point of a line: where it is drawn, and what it stands for."""

    label: str
    value: float
    x: float
    y: float
    width: float
    height: float

    @property
    def centre(self) -> float:
        """Where the middle of it is."""
        return self.x + self.width / 2


@dataclass(frozen=True, slots=True)
class Chart:
    """One series: its marks, and the value at the top of the scale."""

    id: str
    marks: Sequence[Mark]
    top: float

    @property
    def points(self) -> str:
        """The line through all marks, as SVG writes it."""
        return " ".join(f"{mark.centre:.1f},{mark.y:.1f}" for mark in self.marks)

    @property
    def base(self) -> int:
        """Where nothing is drawn."""
        return HEIGHT - BOTTOM


def charts(series: Mapping[str, Sequence[float]], labels: Sequence[str]) -> list[Chart]:
    """Lay out several series on one scale, so that they can be compared; none is below nought."""
    top = rounded_up(max((value for row in series.values() for value in row), default=0))
    return [Chart(name, _marks(row, labels, top), top) for name, row in series.items()]


def rounded_up(value: float) -> float:
    """Give the next value that a scale ends at: a round figure, 1 at the least."""
    power = 1.0
    while True:
        for step in _STEPS:
            if value <= step * power:
                return step * power
        power *= 10


def _marks(row: Sequence[float], labels: Sequence[str], top: float) -> list[Mark]:
    room = HEIGHT - TOP - BOTTOM
    each = (WIDTH - LEFT) / max(1, len(row))
    return [
        Mark(
            label,
            value,
            LEFT + number * each + each * 0.1,
            TOP + room * (1 - value / top),
            each * 0.8,
            room * value / top,
        )
        for number, (label, value) in enumerate(zip(labels, row, strict=True))
    ]
