"""What a manifest is proved with: leaves, what the quarter rests on, signed checkpoints."""

from collections.abc import Collection, Iterator
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, and_, func, select

from service.custody.events import EVENT
from service.custody.site import Site
from service.ledger.leaf import SiteVersion, leaf_of, setup_leaf
from service.store.entries import ENTRY, chunks, origin_of
from service.store.log import STREAMED
from service.store.tables import CHECKPOINT, NAMED, RECORD, SETUP


def facilities(connection: Connection) -> list[str]:
    """Give the ids of the facilities that were set up."""
    return sorted(connection.execute(select(SETUP.c.facility).distinct()).scalars())


def leaves(
    connection: Connection, facility: str, first: int, until: int
) -> Iterator[tuple[int, bytes]]:
    """Give leaves with their numbers in order, as the rows of the record have them now."""
    setups = {n: leaf for n, leaf in setup_leaves(connection, facility) if first <= n < until}
    wanted = and_(RECORD.c.facility == facility, RECORD.c.seq > first, RECORD.c.seq <= until)
    asked = ENTRY.where(wanted).order_by(RECORD.c.seq)
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
        for row in connection.execute(ENTRY.where(wanted).order_by(RECORD.c.seq)):
            yield row.seq - 1, leaf_of_row(row)


def leaf_of_row(row: Row[Any]) -> bytes:
    """Give the leaf of an entry from its row."""
    return leaf_of(
        row.body,
        row.recorded_at,
        row.clock_offset_s,
        row.false_codes.split(),
        origin_of(row),
        row.sender,
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
    """Give the number of the first leaf taken in at or after the instant, or the log's size."""
    wanted = and_(RECORD.c.facility == facility, RECORD.c.recorded_at >= at)
    first = connection.execute(select(func.min(RECORD.c.seq)).where(wanted)).scalar()
    numbers = [size] if first is None else [first - 1]
    setups = select(func.min(SETUP.c.number)).where(
        SETUP.c.facility == facility, SETUP.c.recorded_at >= at
    )
    numbers += [n for n in connection.execute(setups).scalars() if n is not None]
    return min(numbers)


def named_from(connection: Connection, facility: str, first: int) -> set[str]:
    """Give every container that an entry from that number on names itself."""
    amended = and_(RECORD.c.facility == facility, RECORD.c.seq > first, RECORD.c.kind == "amended")
    told = connection.execute(select(RECORD.c.seq, RECORD.c.body).where(amended)).all()
    asked = select(NAMED.c.container, NAMED.c.seq).where(
        NAMED.c.facility == facility, NAMED.c.seq > first
    )
    corrections = {row.seq for row in told}  # their index rows name what the original named, too
    named = connection.execute(asked.execution_options(yield_per=STREAMED))
    found = {row.container for row in named if row.seq not in corrections}
    for row in told:
        found.update(EVENT.validate_json(row.body).named())
    return found


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


def last_signed(connection: Connection, facility: str) -> tuple[int, datetime] | None:
    """Give the size last signed, and when."""
    asked = select(CHECKPOINT.c.size, CHECKPOINT.c.signed_at).where(
        CHECKPOINT.c.facility == facility
    )
    row = connection.execute(asked.order_by(CHECKPOINT.c.signed_at.desc()).limit(1)).first()
    return (row.size, row.signed_at) if row else None


def number_of(connection: Connection, facility: str, event_id: str) -> int | None:
    """Give the number of an event's leaf, or None if there is no such event."""
    asked = select(RECORD.c.seq).where(RECORD.c.facility == facility, RECORD.c.id == event_id)
    seq = connection.execute(asked).scalar()
    return None if seq is None else seq - 1
