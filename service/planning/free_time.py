"""Time in which something can be done, and time in which it cannot: a holiday, a broken vehicle.

A blocked stretch runs from its first to its last instant; both ends themselves are still free, so
that "until Friday 17:00" has a last moment, 17:00. Stretches that touch or overlap are one.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from itertools import pairwise
from zoneinfo import ZoneInfo


class Cause(StrEnum):
    """What stands still."""

    VEHICLE = "vehicle"
    """One vehicle: pick-ups go on as long as another is free."""
    COLLECTION = "collection"
    """No pick-up at all: night, a closed gate."""
    PLANT = "plant"
    """The plant treats nothing; pick-ups may go on."""
    HOLIDAY = "holiday"
    """Neither pick-up nor treatment."""


@dataclass(frozen=True, slots=True)
class Blocked:
    """A stretch in which something stands still.

    Attributes:
        vehicle: Which, for ``VEHICLE`` alone.
    """

    from_at: datetime
    until_at: datetime
    cause: Cause
    vehicle: str | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if self.from_at.tzinfo is None or self.until_at.tzinfo is None:
            raise ValueError("a blocked stretch needs times with their offset")
        if self.until_at <= self.from_at:
            raise ValueError(f"a blocked stretch ends before it begins: {self.from_at.isoformat()}")
        if (self.vehicle is None) is (self.cause is Cause.VEHICLE):
            raise ValueError("a vehicle is named where one stands still, and only there")


class Closed:
    """Blocked stretches joined, to ask for the nearest free instant."""

    def __init__(self, stretches: Iterable[tuple[datetime, datetime]] = ()) -> None:
        joined: list[tuple[datetime, datetime]] = []
        for from_at, until_at in sorted(stretches):
            if joined and from_at <= joined[-1][1]:
                joined[-1] = (joined[-1][0], max(joined[-1][1], until_at))
            else:
                joined.append((from_at, until_at))
        self.stretches = tuple(joined)
        self._from = [from_at for from_at, _ in joined]
        self._until = [until_at for _, until_at in joined]

    def first_free(self, at: datetime) -> datetime:
        """Give the first free instant at or after ``at``."""
        i = bisect_right(self._until, at)
        return self._until[i] if i < len(self._from) and self._from[i] < at else at

    def last_free(self, at: datetime) -> datetime:
        """Give the last free instant at or before ``at``."""
        i = bisect_left(self._from, at) - 1
        return self._from[i] if i >= 0 and at < self._until[i] else at

    def covers(self, at: datetime) -> bool:
        """Say whether the instant is blocked."""
        return self.first_free(at) != at


def closed_to_pick_ups(blocked: Sequence[Blocked], vehicles: Sequence[str]) -> Closed:
    """Join what stops every pick-up: closed gates, holidays, and all vehicles down at once.

    Raises:
        ValueError: A vehicle that is down is none of the fleet.
    """
    strangers = {b.vehicle for b in blocked if b.vehicle} - set(vehicles)
    if strangers:
        raise ValueError(f"no vehicle of the fleet is called {', '.join(map(str, strangers))}")
    stretches = [
        (b.from_at, b.until_at) for b in blocked if b.cause in (Cause.COLLECTION, Cause.HOLIDAY)
    ]
    down = [Closed((b.from_at, b.until_at) for b in blocked if b.vehicle == v) for v in vehicles]
    ends = sorted({at for closed in down for stretch in closed.stretches for at in stretch})
    stretches += [
        (a, b) for a, b in pairwise(ends) if all(closed.covers(a + (b - a) / 2) for closed in down)
    ]
    return Closed(stretches)


def closed_plant(blocked: Iterable[Blocked]) -> Closed:
    """Join what stops the plant."""
    return Closed(
        (b.from_at, b.until_at) for b in blocked if b.cause in (Cause.PLANT, Cause.HOLIDAY)
    )


def outside_hours(
    first: date, last: date, opens: time, closes: time, zone: ZoneInfo, cause: Cause
) -> tuple[Blocked, ...]:
    """Give the nights between daily hours, by the site's own clock, as blocked stretches.

    Raises:
        ValueError: The hours do not open before they close.
    """
    if not opens < closes:
        raise ValueError(f"hours open before they close: {opens} to {closes}")
    days = [first + timedelta(days=n) for n in range(-1, (last - first).days + 2)]
    return tuple(
        Blocked(
            datetime.combine(day, closes, zone).astimezone(UTC),
            datetime.combine(after, opens, zone).astimezone(UTC),
            cause,
            note="outside hours",
        )
        for day, after in pairwise(days)
    )
