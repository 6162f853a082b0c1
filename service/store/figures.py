"""What figures are reckoned from: activity, waste sealed and treated, inspections, of a period."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, select

from service.access.caller import WHOLE, Scope
from service.custody.activity import LATEST_COUNT, ActivityCounted, Counted
from service.custody.events import Inspected
from service.custody.history import effective
from service.store.entries import chunks
from service.store.queries import with_amendments
from service.store.reach import of_container
from service.store.tables import CONTAINER

_CLOCKS = timedelta(days=2)
"""What time zones, and clocks put right, can move a count against its day."""


def counts(
    connection: Connection, facility: str, first: date, last: date, scope: Scope = WHOLE
) -> list[Counted]:
    """Give every count of the days from ``first`` to ``last`` that was not struck out.

    A count is taken within a month of its day, and amended without moving it: so what is read is
    the counts of the period and a month more, whatever else the record holds.
    """
    kind = ActivityCounted.model_fields["kind"].default
    from_at, until = _midnight(first) - _CLOCKS, _midnight(last) + LATEST_COUNT + _CLOCKS
    numbered = with_amendments(connection, facility, [kind], from_at, until)
    numbers = {entry.event.id: number for number, entry in numbered.items()}
    holds = ((h.event, h.amended_by or h.event.id) for h in effective(numbered.values()))
    return [
        Counted(count, numbers[said_by])
        for count, said_by in holds
        if isinstance(count, ActivityCounted)
        and first <= count.day <= last
        and (scope.whole or count.unit in scope.units)
    ]


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)


@dataclass(frozen=True, slots=True)
class Sealed:
    """Containers of one unit and category sealed on a day; ``weight_g`` None: not weighed."""

    day: date
    unit: str
    category: str
    containers: int
    weight_g: int | None


def sealed(
    connection: Connection,
    facility: str,
    between: tuple[datetime, datetime],
    zone: ZoneInfo,
    scope: Scope = WHOLE,
) -> list[Sealed]:
    """Give what was sealed in a span on each day of a zone, added up; those not weighed apart.

    Days are told apart here: no database bins by the days of a zone whose clocks change, and to
    join the bounds of days makes each of them read the rest of the span.
    """
    c = CONTAINER.c
    asked = select(c.sealed_at, c.unit, c.category, c.weight_g).where(
        c.facility == facility,
        c.sealed_at >= between[0],
        c.sealed_at < between[1],
        c.unit.is_not(None),
        c.category.is_not(None),
        *of_container(scope),
    )
    found: dict[tuple[date, str, str, bool], list[int]] = defaultdict(lambda: [0, 0])
    for sealed_at, unit, category, weight_g in connection.execute(asked):
        held = found[sealed_at.astimezone(zone).date(), unit, category, weight_g is None]
        held[0] += 1
        held[1] += weight_g or 0
    return [
        Sealed(day, unit, category, number, None if unweighed else weight_g)
        for (day, unit, category, unweighed), (number, weight_g) in sorted(found.items())
    ]


@dataclass(frozen=True, slots=True)
class Inspection:
    """An audit of containers, with the unit they are of; None where they are of several."""

    at: datetime
    unit: str | None
    seen: int | None
    wrong: int | None


def inspections(
    connection: Connection,
    facility: str,
    between: tuple[datetime, datetime],
    scope: Scope = WHOLE,
) -> list[Inspection]:
    """Give the audits of a period as they hold, of containers within the scope.

    Of the period is what was first told to have happened in it.
    """
    kind = Inspected.model_fields["kind"].default
    told = with_amendments(connection, facility, [kind], *between)
    held = [(h.at, h.event) for h in effective(told.values()) if isinstance(h.event, Inspected)]
    units = _units(connection, facility, {c for _, e in held for c in e.containers}, scope)
    found = []
    for at, event in held:
        of = {units[c] for c in event.containers if c in units}
        if of:
            unit = of.pop() if len(of) == 1 else None
            found.append(Inspection(at, unit, event.items_seen, event.items_wrong))
    return found


def _units(
    connection: Connection, facility: str, containers: set[str], scope: Scope
) -> dict[str, str]:
    """Give the unit of each registered container within the scope."""
    c = CONTAINER.c
    found: dict[str, str] = {}
    for chunk in chunks(sorted(containers)):
        asked = select(c.container, c.unit).where(
            c.facility == facility, c.container.in_(chunk), c.unit.is_not(None),
            *of_container(scope),
        )  # fmt: skip
        found |= {row.container: row.unit for row in connection.execute(asked)}
    return found
