"""How a benchmark is told: ways that are measured in turn, a ratio with its spread, a goal."""

import gc
import statistics
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeVar

Size = Literal["tiny", "quick", "full"]
"""``tiny`` shows that the code runs, ``quick`` is a first look, ``full`` is what is published."""
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Goal:
    """What the ratio is to be: at least, or at most, so much."""

    bound: float
    at_least: bool

    def missed_by(self, value: float) -> float:
        """Give by what factor it is missed; 1 or less where it is met."""
        if value <= 0:
            return float("inf") if self.at_least else 0.0
        return self.bound / value if self.at_least else value / self.bound

    def __str__(self) -> str:
        return f"{'≥' if self.at_least else '≤'} {number(self.bound)}"


def at_least(bound: float) -> Goal:
    """A goal that more is better than."""
    return Goal(bound, at_least=True)


def at_most(bound: float) -> Goal:
    """A goal that less is better than."""
    return Goal(bound, at_least=False)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table.

    Attributes:
        what: What is measured, with the counts it was measured at.
        ours: The median of ours, with its unit; empty where the ratio says it all.
        beside: What it is measured beside, with its median.
        ratios: Ours to the other, one a round; or plain values where there is no other.
        goal: What the median of them is to be; None where it is only told.
    """

    what: str
    ours: str
    beside: str
    ratios: Sequence[float]
    goal: Goal | None = None

    @property
    def ratio(self) -> float:
        """The median of the rounds."""
        return statistics.median(self.ratios)

    @property
    def verdict(self) -> str:
        """Whether the goal is met, or by how much not."""
        if self.goal is None:
            return ""
        by = self.goal.missed_by(self.ratio)
        return "met" if by <= 1 else f"missed, {number(by)} ×"


@dataclass(frozen=True, slots=True)
class Curve:
    """How something grows: a line for each amount of data.

    Attributes:
        what: What is measured.
        heads: The columns' heads, the amount first.
        lines: The cells.
    """

    what: str
    heads: Sequence[str]
    lines: Sequence[Sequence[str]]


Told = Iterator[Row | Curve]
"""What a benchmark gives, as it comes."""


@dataclass
class Rounds:
    """All ways measured in turn, some rounds of it; the noise of a shared machine hits them alike.

    Attributes:
        found: What each way gave, by round.
    """

    found: dict[str, list[float]] = field(default_factory=dict)

    @classmethod
    def of(cls, rounds: int, ways: Mapping[str, Callable[[], float]]) -> "Rounds":
        """Measure: every other round goes backwards, so that no way is always the first."""
        made = cls({name: [] for name in ways})
        for number_ in range(rounds):
            names = list(ways) if number_ % 2 == 0 else list(reversed(ways))
            for name in names:
                gc.collect()
                made.found[name].append(ways[name]())
        return made

    def __getitem__(self, name: str) -> float:
        """The median of one way."""
        return statistics.median(self.found[name])

    def ratios(self, one: str, other: str) -> list[float]:
        """One way to another, round by round."""
        return [a / b for a, b in zip(self.found[one], self.found[other], strict=True)]


def taken_s(what: Callable[[], object]) -> float:
    """Seconds of one call."""
    begun = time.perf_counter()
    what()
    return time.perf_counter() - begun


def cpu_s(what: Callable[[], object]) -> float:
    """Seconds that one call kept a processor busy: what others on the machine do hardly shows."""
    begun = time.process_time()
    what()
    return time.process_time() - begun


def number(value: float) -> str:
    """Write a figure with two or three digits that say something."""
    if value == 0 or abs(value) >= 100:
        return f"{value:,.0f}"
    return f"{value:.2f}" if abs(value) >= 0.1 else f"{value:.2g}"


def rate(value: float, unit: str) -> str:
    """Write a rate."""
    return f"{value:,.0f} {unit}/s"


def seconds(value: float) -> str:
    """Write a time in the unit that fits it."""
    for factor, unit in ((1, "s"), (1e3, "ms"), (1e6, "µs")):
        if value * factor >= 1:
            return f"{value * factor:.3g} {unit}"
    return f"{value * 1e9:.0f} ns"
