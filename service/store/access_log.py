"""The access log in the database: entries and their leaves, in the transaction that is open."""

from collections.abc import Iterator
from datetime import datetime

from sqlalchemy import Connection, insert, select

from service.access.entries import AccessEntry, access_log, written
from service.store.identity_tables import ACCESS
from service.store.log import STREAMED, extend, head


def record(connection: Connection, facility: str, *entries: AccessEntry) -> None:
    """Put entries at the end of a facility's access log.

    The transaction must hold the writing of ``access_log(facility)``.
    """
    at = head(connection, access_log(facility))
    bodies = [written(entry, seq) for seq, entry in enumerate(entries, at.size + 1)]
    rows = [
        {
            "facility": facility,
            "number": number,
            "kind": str(entry.kind),
            "at": entry.at,
            "actor": entry.actor,
            "body": body,
        }
        for number, (entry, body) in enumerate(zip(entries, bodies, strict=True), start=at.size)
    ]
    connection.execute(insert(ACCESS), rows)
    extend(connection, access_log(facility), at, [body.encode() for body in bodies])


def entries_after(
    connection: Connection, facility: str, after: int, limit: int, kind: str | None = None
) -> list[tuple[int, str]]:
    """Give a page of entries as written, with their numbers, from ``after`` on (0 for the first).

    An entry's number here is one more than that of its leaf, as in the record.
    """
    a = ACCESS.c
    asked = select(a.number, a.body).where(a.facility == facility, a.number >= after)
    if kind is not None:
        asked = asked.where(a.kind == kind)
    found = connection.execute(asked.order_by(a.number).limit(limit))
    return [(row.number + 1, row.body) for row in found]


def bodies(connection: Connection, facility: str) -> Iterator[tuple[int, str]]:
    """Give all entries as written, with the numbers of their leaves, without holding them all."""
    a = ACCESS.c
    asked = select(a.number, a.body).where(a.facility == facility).order_by(a.number)
    for row in connection.execute(asked.execution_options(yield_per=STREAMED)):
        yield row.number, row.body


def last_of(connection: Connection, facility: str, kind: str, actor: str) -> datetime | None:
    """Give when something of that kind by that actor was last entered."""
    a = ACCESS.c
    asked = select(a.at).where(a.facility == facility, a.kind == kind, a.actor == actor)
    return connection.execute(asked.order_by(a.number.desc()).limit(1)).scalar()
