"""What a unit did on a day: occupied bed-days and procedures, by which its waste is measured.

Two counts of one unit and day can both stand in the record, as everything that was said does. The
one told last holds, and both are shown until one is struck out or put right.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Annotated, Literal, Self
from uuid import UUID

from pydantic import Field, model_validator

from service.custody.fields import Count, Day, Name, Number
from service.custody.happening import Happening

LATEST_COUNT = timedelta(days=31)
"""How long after its day a count may be taken; one that is told later says when it was taken."""


class ActivityCounted(Happening):
    """A unit's occupied bed-days, or its procedures, or both, were counted for a day."""

    kind: Literal["activity_counted"] = "activity_counted"
    unit: Name
    day: Day
    """The day that was counted, by the facility's own calendar."""
    occupied_bed_days: Annotated[Number, Field(ge=0, le=100_000)] | None = None
    procedures: Count | None = None
    source: Name
    """Where the count is from: the midnight census, the theatre list."""

    @model_validator(mode="after")
    def _counts_something(self) -> Self:
        if self.occupied_bed_days is None and self.procedures is None:
            raise ValueError("a count gives occupied_bed_days, procedures or both")
        if self.containers:
            raise ValueError("a count of activity is about a unit and names no container")
        return self


@dataclass(frozen=True, slots=True)
class Counted:
    """A count that holds.

    Attributes:
        number: The number of the entry that last said so.
        others: Ids of further counts of the same unit and day that say something else.
    """

    count: ActivityCounted
    number: int
    others: tuple[UUID, ...] = ()


def holding(counts: Iterable[Counted]) -> list[Counted]:
    """Give for each unit and day the count told last, by day and unit; what differs is named."""
    told: dict[tuple[date, str], list[Counted]] = defaultdict(list)
    for counted in counts:
        told[counted.count.day, counted.count.unit].append(counted)
    held = []
    for _, row in sorted(told.items()):
        *before, last = sorted(row, key=lambda c: c.number)
        unlike = (c.count.id for c in before if _figures(c.count) != _figures(last.count))
        held.append(Counted(last.count, last.number, tuple(unlike)))
    return held


def _figures(count: ActivityCounted) -> tuple[object, object]:
    return count.occupied_bed_days, count.procedures
