"""Situations told in whole hours from a Monday midnight."""

from datetime import UTC, datetime, timedelta

from service.planning.free_time import Blocked, Cause
from service.planning.stock import Situation, StoreRoom, Waiting

MONDAY = datetime(2026, 7, 6, tzinfo=UTC)


def hour(n: float) -> datetime:
    """The hour counted from Monday midnight."""
    return MONDAY + timedelta(hours=n)


def bag(name: str, ready: float, due: float | None, kg: int = 5, store: str = "yard") -> Waiting:
    """A bag that stands in the store from an hour, and may until another."""
    return Waiting(name, store, kg * 1000, hour(ready), None if due is None else hour(due))


def closed(
    from_: float, until: float, cause: Cause = Cause.COLLECTION, vehicle: str | None = None
) -> Blocked:
    """A stretch in which something stands still."""
    return Blocked(hour(from_), hour(until), cause, vehicle)


def plan(
    *waiting: Waiting,
    until: float = 240,
    capacity_kg: int | None = None,
    load_kg: int | None = None,
    onward_h: float = 0,
    blocked: tuple[Blocked, ...] = (),
    vehicles: tuple[str, ...] = ("van",),
) -> Situation:
    """A situation with one store, the yard, from Monday midnight."""
    return Situation(
        hour(0),
        hour(until),
        waiting,
        (StoreRoom("yard", None if capacity_kg is None else capacity_kg * 1000),),
        vehicles,
        None if load_kg is None else load_kg * 1000,
        onward_h,
        blocked,
    )


def at(when: datetime) -> float:
    """The hour of an instant."""
    return (when - MONDAY) / timedelta(hours=1)
