"""Rates: grams per occupied bed-day or per procedure, and wrong items per items seen."""

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from math import fsum

from service.statistics.intervals import USUAL, Interval, wilson
from service.statistics.tails import student_point


@dataclass(frozen=True, slots=True)
class Period:
    """How much came in a day or week, and with how much activity.

    Attributes:
        amount: Grams, or a number of containers or needles.
        exposure: Occupied bed-days, or procedures.
    """

    label: str
    amount: int
    exposure: float

    def __post_init__(self) -> None:
        if self.amount < 0 or not 0 < self.exposure < math.inf:
            raise ValueError(f"{self.label}: {self.amount} in {self.exposure} gives no rate")


@dataclass(frozen=True, slots=True)
class Level:
    """What a row of periods says of the rate behind it.

    A period's amount is taken to vary around rate x exposure with a variance in proportion to its
    exposure. Then the sum over the sum is the best rate (Cochran, Sampling Techniques, 3rd ed.
    1977, section 6.7, from memory), and ``spread`` estimates that proportion from the residuals,
    so that scatter beyond chance widens every interval built on it.

    Attributes:
        spread: Variance of the amount per unit of exposure; None for a single period.
    """

    amount: int
    exposure: float
    periods: int
    spread: float | None

    @property
    def rate(self) -> float:
        """The amount per unit of exposure."""
        return self.amount / self.exposure

    def interval(self, confidence: float = USUAL) -> Interval | None:
        """Give the interval of the rate by Student's t, or None for a single period."""
        if self.spread is None:
            return None
        t = student_point((1 - confidence) / 2, self.periods - 1)
        half = t * math.sqrt(self.spread / self.exposure)
        low = max(0.0, self.rate - half)
        return Interval(low, self.rate + half, confidence, "ratio of sums (Cochran 1977, 6.7)")


def level(periods: Sequence[Period]) -> Level:
    """Sum up a row of periods.

    Raises:
        ValueError: No period.
    """
    if not periods:
        raise ValueError("a rate needs at least one period with activity")
    amount, exposure = sum(p.amount for p in periods), fsum(p.exposure for p in periods)
    rate, freedom = amount / exposure, len(periods) - 1
    squares = fsum((p.amount - rate * p.exposure) ** 2 / p.exposure for p in periods)
    return Level(amount, exposure, len(periods), squares / freedom if freedom else None)


@dataclass(frozen=True, slots=True)
class Made:
    """Containers sealed on a day, by the facility's own calendar; ``weight_g`` None: unweighed."""

    day: date
    unit: str
    category: str
    weight_g: int | None
    containers: int = 1


@dataclass(frozen=True, slots=True)
class Activity:
    """A unit's day: occupied bed-days, or procedures; the same of the two for all of a unit."""

    day: date
    unit: str
    exposure: float


@dataclass(frozen=True, slots=True)
class UnitRate:
    """One category of one unit.

    Attributes:
        level: Grams on the activity; days with activity and no waste count as nought.
        unweighed: Containers without a weight: the rate is too low by theirs.
    """

    unit: str
    category: str
    level: Level
    days: tuple[Period, ...]
    containers: int
    unweighed: int


@dataclass(frozen=True, slots=True)
class Rates:
    """Rates of all units, and what could not be used.

    Attributes:
        without_activity: Days on which a unit made waste and no activity is told; their grams are
            in no rate.
    """

    rates: tuple[UnitRate, ...]
    without_activity: tuple[tuple[str, date], ...]


def rates(made: Iterable[Made], activity: Iterable[Activity]) -> Rates:
    """Give grams per unit of activity for each unit and category.

    Raises:
        ValueError: A unit's activity is told twice for a day, or is negative.
    """
    told: dict[tuple[str, date], float] = {}
    for a in activity:
        if (a.unit, a.day) in told or not 0 <= a.exposure < math.inf:
            raise ValueError(f"{a.unit}, {a.day}: activity told twice, or of {a.exposure}")
        told[a.unit, a.day] = a.exposure
    days_of: dict[str, list[date]] = defaultdict(list)
    for (unit, day), exposure in sorted(told.items()):
        if exposure > 0:
            days_of[unit].append(day)
    used: dict[tuple[str, str], list[Made]] = defaultdict(list)
    without: set[tuple[str, date]] = set()
    for m in made:
        if told.get((m.unit, m.day), 0) > 0:
            used[m.unit, m.category].append(m)
        else:
            without.add((m.unit, m.day))
    found = []
    for (unit, category), containers in sorted(used.items()):
        grams: dict[date, int] = defaultdict(int)
        for m in containers:
            grams[m.day] += m.weight_g or 0
        days = tuple(Period(d.isoformat(), grams[d], told[unit, d]) for d in days_of[unit])
        unweighed = sum(m.containers for m in containers if m.weight_g is None)
        number = sum(m.containers for m in containers)
        found.append(UnitRate(unit, category, level(days), days, number, unweighed))
    return Rates(tuple(found), tuple(sorted(without)))


@dataclass(frozen=True, slots=True)
class ErrorRate:
    """What inspections found: wrong items among items seen, with Wilson's interval."""

    unit: str
    wrong: int
    seen: int
    interval: Interval

    @property
    def share(self) -> float:
        """Wrong items per item seen."""
        return self.wrong / self.seen


def error_rate(unit: str, wrong: int, seen: int, confidence: float = USUAL) -> ErrorRate:
    """Give a unit's rate of sorting errors.

    Raises:
        ValueError: Nothing was seen, or more was wrong than seen.
    """
    return ErrorRate(unit, wrong, seen, wilson(wrong, seen, confidence))
