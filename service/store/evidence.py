"""What a manifest is proved with: leaves, what the quarter rests on, signed checkpoints."""

import json
from collections.abc import Collection, Iterable, Iterator
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, and_, func, select

from service.custody.events import Origin
from service.custody.site import Site
from service.ledger.leaf import SiteVersion, leaf_of, setup_leaf
from service.store.entries import chunks
from service.store.log import STREAMED
from service.store.tables import CHECKPOINT, RECORD, SETUP


def leaves(
    connection: Connection, facility: str, first: int, until: int
) -> Iterator[tuple[int, bytes]]:
    """Give leaves with their numbers in order, as the rows of the record have them now."""
    setups = {n: leaf for n, leaf in setup_leaves(connection, facility) if first <= n < until}
    wanted = and_(RECORD.c.facility == facility, RECORD.c.seq > first, RECORD.c.seq <= until)
    asked = select(RECORD).where(wanted).order_by(RECORD.c.seq)
    due = first
    for row in connection.execute(asked.execution_options(yield_per=STREAMED)):
        for number in range(due, row.seq - 1):
            if number in setups:
                yield number, setups[number]
        yield row.seq - 1, leaf_of_row(row)
        due = row.seq
    yield from ((number, setups[number]) for number in range(due, until) if number in setups)


def leaves_at(
    connection: Connection, facility: str, numbers: Collection[int]
) -> Iterator[tuple[int, bytes]]:
    """Give the leaves of entries with these numbers, in order."""
    for chunk in chunks(sorted(number + 1 for number in numbers)):
        wanted = and_(RECORD.c.facility == facility, RECORD.c.seq.in_(chunk))
        for row in connection.execute(select(RECORD).where(wanted).order_by(RECORD.c.seq)):
            yield row.seq - 1, leaf_of_row(row)


def leaf_of_row(row: Row[Any]) -> bytes:
    """Give the leaf of an entry from its row."""
    return leaf_of(
        row.body,
        row.recorded_at,
        row.clock_offset_s,
        row.false_codes.split(),
        Origin(*json.loads(row.origin)) if row.origin else None,
    )


def setup_leaves(connection: Connection, facility: str) -> list[tuple[int, bytes]]:
    """Give the leaves of all versions of the set-up with their numbers."""
    asked = select(SETUP).where(SETUP.c.facility == facility).order_by(SETUP.c.version)
    return [(row.number, setup_leaf(_version(row))) for row in connection.execute(asked)]


def setup_in_force(connection: Connection, facility: str) -> tuple[int, SiteVersion]:
    """Give the latest version of the set-up and the number of its leaf."""
    asked = select(SETUP).where(SETUP.c.facility == facility).order_by(SETUP.c.version.desc())
    row = connection.execute(asked.limit(1)).one()
    return row.number, _version(row)


def _version(row: Row[Any]) -> SiteVersion:
    return SiteVersion(Site.model_validate_json(row.document), row.version, row.recorded_at)


def recorded_from(connection: Connection, facility: str, at: datetime, size: int) -> int:
    """Give the number of the first entry taken in at or after the instant, or the log's size."""
    wanted = and_(RECORD.c.facility == facility, RECORD.c.recorded_at >= at)
    first = connection.execute(select(func.min(RECORD.c.seq)).where(wanted)).scalar()
    return size if first is None else first - 1


def last_recorded_at(connection: Connection, facility: str) -> datetime | None:
    """Give when the last entry was taken in."""
    asked = select(RECORD.c.recorded_at).where(RECORD.c.facility == facility)
    found: datetime | None = connection.execute(
        asked.order_by(RECORD.c.seq.desc()).limit(1)
    ).scalar()
    return found


def checkpoints(connection: Connection, facility: str, below: int) -> list[tuple[int, str]]:
    """Give the notes that were signed over fewer entries than that, with their size, in order."""
    asked = select(CHECKPOINT.c.size, CHECKPOINT.c.note).where(
        CHECKPOINT.c.facility == facility, CHECKPOINT.c.size < below
    )
    ordered = asked.order_by(CHECKPOINT.c.size, CHECKPOINT.c.signed_at)
    return [(size, note) for size, note in connection.execute(ordered)]


def number_of(connection: Connection, facility: str, event_id: str) -> int | None:
    """Give the number of an event's leaf, or None if there is no such event."""
    asked = select(RECORD.c.seq).where(RECORD.c.facility == facility, RECORD.c.id == event_id)
    seq = connection.execute(asked).scalar()
    return None if seq is None else seq - 1


def numbers_of_kind(
    connection: Connection, facility: str, kinds: Iterable[str], span: tuple[datetime, datetime]
) -> set[int]:
    """Give the leaf numbers of entries of some kinds that happened in a span."""
    asked = select(RECORD.c.seq).where(
        RECORD.c.facility == facility,
        RECORD.c.kind.in_(list(kinds)),
        RECORD.c.at >= span[0],
        RECORD.c.at < span[1],
    )
    return {seq - 1 for seq in connection.execute(asked).scalars()}
