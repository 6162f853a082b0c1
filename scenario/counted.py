"""What the hospital's units did each day, as its office counts it; and two changes in the figures.

In one ward a week's waste is far heavier. From one unit most plastics stop coming, as they would if
they left by another way. Both are planted by their own dice, so that the rest of the stream does
not hang on them.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from random import Random

from scenario.activity import DAY_S, HOUR_S, SUNDAY, UNITS, WEEKDAYS
from scenario.bags import Bag
from scenario.posting import Batch
from scenario.writing import Event, uuid7, written

_BY_PROCEDURES = frozenset(
    {
        "theatres", "oncology-day", "dialysis", "laboratory", "blood-centre", "outpatients",
        "pharmacy", "imaging", "animal-house",
    }
)  # fmt: skip
"""Units without beds, or whose work is not told by them."""
_A_SHARE = 7.2
"""Beds, or procedures, for each part of the hospital's containers. Invented."""
_COUNTED_S = 23 * HOUR_S + 40 * 60

DROP_UNIT, DROP_CATEGORY, DROP_WEEKS, DROPPED = "dialysis", "red", 2, 0.85
HEAVY_UNIT, HEAVY_CATEGORY, HEAVY_WEEK, HEAVIER = "medical-ward", "yellow-c", 5, 2.6
HEAVIEST_G = 19_000


@dataclass(frozen=True, slots=True)
class Changes:
    """Where the two changes lie.

    Attributes:
        heavy_monday: The Monday of the heavy week.
        drop_monday, drop_sunday: The first and last day of the drop, the quarter's last whole
            weeks.
    """

    heavy_monday: date
    drop_monday: date
    drop_sunday: date

    @classmethod
    def of(cls, first_day: date, days: int) -> "Changes":
        """Give those of a quarter."""
        monday = first_day + timedelta(days=-first_day.weekday() % 7)
        last = first_day + timedelta(days=days - 1)
        sunday = last - timedelta(days=(last.weekday() + 1) % 7)
        return cls(
            monday + timedelta(weeks=HEAVY_WEEK),
            sunday - timedelta(days=7 * DROP_WEEKS - 1),
            sunday,
        )

    def change(self, rng: Random, day: date, bags: list[Bag]) -> list[Bag]:
        """Make a day's containers heavier, or leave out what does not come."""
        for bag in bags:
            heavy = (bag.unit, bag.category) == (HEAVY_UNIT, HEAVY_CATEGORY)
            if heavy and self.heavy_monday <= day < self.heavy_monday + timedelta(days=7):
                bag.weight_g = min(round(bag.weight_g * HEAVIER), HEAVIEST_G)
        if not self.drop_monday <= day <= self.drop_sunday:
            return bags
        return [
            bag
            for bag in bags
            if (bag.unit, bag.category) != (DROP_UNIT, DROP_CATEGORY) or rng.random() >= DROPPED
        ]


def counts(rng: Random, start: datetime, first_day: date, days: int) -> Iterator[Batch]:
    """Give a batch of counts for each day, told in the evening."""
    start_ms = round(start.timestamp() * 1_000)
    for day in range(days):
        on, at_s = first_day + timedelta(days=day), day * DAY_S + _COUNTED_S
        told = [_count(rng, unit, on, (start, start_ms, at_s)) for unit in UNITS]
        yield Batch(start + timedelta(seconds=at_s + 60), 0, told)


def _count(rng: Random, unit: str, on: date, when: tuple[datetime, int, int]) -> Event:
    start, start_ms, at_s = when
    made = UNITS[unit]
    level = WEEKDAYS[on.weekday()] * (made.sunday if on.weekday() == SUNDAY else 1)
    number = max(1, round(made.share * _A_SHARE * level * rng.uniform(0.93, 1.07)))
    figure: Event = (
        {"procedures": number, "source": "procedure list"}
        if unit in _BY_PROCEDURES
        else {"occupied_bed_days": str(number), "source": "midnight census"}
    )
    return {
        "id": uuid7(rng, start_ms + at_s * 1_000),
        "kind": "activity_counted",
        "containers": [],
        "occurred_at": written(start + timedelta(seconds=at_s)),
        "actor": "waste-office-1",
        "device": "office-desk",
        "unit": unit,
        "day": on.isoformat(),
        **figure,
    }
