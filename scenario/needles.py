"""Needles counted each Sunday: used, cut at the hub, ended in cement; and one unit's that differ.

In one unit fewer are cut than are used for some weeks, as where needles go whole into the box. It
is planted by its own dice, and lies far beyond what its counter may be off by.
"""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from random import Random

from scenario.activity import DAY_S, HOUR_S, SUNDAY
from scenario.posting import Batch
from scenario.writing import Event, uuid7, written

UNITS_COUNTED = ("icu", "medical-ward", "dialysis", "laboratory")
DIFFERING_UNIT = "laboratory"
DIFFERING_WEEKS = frozenset({4, 5, 6})
WHOLE_SHARE = 0.3
"""Of the needles in those weeks, how many were not cut."""
PLUS_MINUS = 3
"""What a cutter's counter may be off by in a week. Invented."""
_COUNTED_S = 20 * HOUR_S


def needle_counts(rng: Random, start: datetime, first_day: date, days: int) -> Iterator[Batch]:
    """Give a batch of counts for each Sunday, told in the evening."""
    sundays = (d for d in range(days) if (first_day + timedelta(days=d)).weekday() == SUNDAY)
    for week, day in enumerate(sundays):
        at_s = day * DAY_S + _COUNTED_S
        told: list[Event] = []
        ended = 0
        for unit in UNITS_COUNTED:
            used = rng.randint(220, 420)
            whole = unit == DIFFERING_UNIT and week in DIFFERING_WEEKS
            cut = round(used * (1 - WHOLE_SHARE)) if whole else used
            shown = cut + rng.randint(-PLUS_MINUS, PLUS_MINUS)
            ended += cut
            told.append(_count(rng, start, at_s, "used", used, unit, "needles issued"))
            told.append(_count(rng, start, at_s, "cut", shown, unit, f"hub cutter of {unit}"))
        told.append(_count(rng, start, at_s, "ended", ended, None, "encapsulation book"))
        yield Batch(start + timedelta(seconds=at_s + 60), 0, told)


def _count(
    rng: Random, start: datetime, at_s: int, stage: str, needles: int, unit: str | None, by: str
) -> Event:
    event: Event = {
        "id": uuid7(rng, round(start.timestamp() * 1_000) + at_s * 1_000),
        "kind": "needles_counted",
        "containers": [],
        "occurred_at": written(start + timedelta(seconds=at_s)),
        "actor": "waste-office-1",
        "device": "office-desk",
        "stage": stage,
        "needles": needles,
        "source": by,
    }
    if unit is not None:
        event["unit"] = unit
    if stage == "cut":
        event["plus_minus"] = PLUS_MINUS
    return event
