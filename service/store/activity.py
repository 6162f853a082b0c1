"""Counts of activity as they hold: read by the day they are of."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta

from sqlalchemy import Connection, and_, select

from service.access.caller import WHOLE, Scope
from service.custody.activity import LATEST_COUNT, ActivityCounted, Counted
from service.custody.events import Entry
from service.custody.history import effective
from service.store.entries import Entries
from service.store.tables import RECORD

_CLOCKS = timedelta(days=2)
"""What time zones, and clocks put right, can move a count against its day."""


def counts(
    connection: Connection, facility: str, first: date, last: date, scope: Scope = WHOLE
) -> list[Counted]:
    """Give every count of the days from ``first`` to ``last`` that was not struck out.

    A count is taken within a month of its day, and amended without moving it: so what is read is
    the counts of the period and a month more, whatever else the record holds.
    """
    reader = Entries(connection, facility)
    numbered = dict(_told(connection, facility, reader, first, last))
    numbered |= reader.amending({e.event.id for e in numbered.values()})
    numbers = {entry.event.id: number for number, entry in numbered.items()}
    holds = ((h.event, h.amended_by or h.event.id) for h in effective(numbered.values()))
    return [
        Counted(count, numbers[said_by])
        for count, said_by in holds
        if isinstance(count, ActivityCounted)
        and first <= count.day <= last
        and (scope.whole or count.unit in scope.units)
    ]


def _told(
    connection: Connection, facility: str, reader: Entries, first: date, last: date
) -> Sequence[tuple[int, Entry]]:
    r = RECORD.c
    kind = ActivityCounted.model_fields["kind"].default
    from_at, until = _midnight(first) - _CLOCKS, _midnight(last) + LATEST_COUNT + _CLOCKS
    asked = select(r.seq).where(
        and_(r.facility == facility, r.kind == kind, r.at >= from_at, r.at < until)
    )
    return list(reader.by_seq(list(connection.execute(asked).scalars())).items())


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)
