"""Derive the projections anew: in place of what is there, or beside it, to compare."""

from collections.abc import Callable, Iterator

from sqlalchemy import Connection, MetaData, Table, and_, delete, except_, select, text

from service.custody.rules import Rules
from service.store.append import index
from service.store.entries import Entries, from_row
from service.store.log import head
from service.store.projections import project
from service.store.tables import CARRIED, CONSIGNED, CONTAINER, NAMED, RECORD, STAY, VIOLATION

PROJECTIONS = (NAMED, CONSIGNED, CONTAINER, STAY, CARRIED, VIOLATION)
CHUNK = 1_000
NAMED_MOST = 5
"""Rows that differ which are named, of each table and each way."""


def refold(connection: Connection, facility: str, rules: Rules) -> Iterator[tuple[int, int]]:
    """Drop the rows of a facility's projections and derive them; yields (done, in all)."""
    for table in PROJECTIONS:
        connection.execute(delete(table).where(table.c.facility == facility))
    size = head(connection, facility).size
    touched: dict[str, None] = {}  # in order of first mention: a cart's trips are read once
    for low in range(0, size, CHUNK):
        found = _reindex(connection, facility, low, low + CHUNK)
        touched.update(dict.fromkeys(sorted(found)))
        yield min(low + CHUNK, size), 2 * size
    containers = list(touched)
    for low in range(0, len(containers), CHUNK):
        chunk = containers[low : low + CHUNK]
        project(connection, facility, rules, Entries(connection, facility), chunk)
        yield size + size * (low + len(chunk)) // len(containers), 2 * size


def _reindex(connection: Connection, facility: str, low: int, high: int) -> set[str]:
    chunk = and_(RECORD.c.facility == facility, RECORD.c.seq > low, RECORD.c.seq <= high)
    rows = connection.execute(select(RECORD).where(chunk).order_by(RECORD.c.seq)).all()
    reader = Entries(connection, facility)
    return index(connection, facility, reader, [(row.seq, from_row(row)) for row in rows])


def differences(
    connection: Connection,
    rules: dict[str, Rules],
    told: Callable[[str, int, int], None],
) -> Iterator[tuple[str, str]]:
    """Give (facility, what differs) of the projections from what the record gives now.

    They are derived into temporary tables of the same names, which stand before the real ones
    while the connection has them: nothing that is kept is written or locked. The connection is
    not to be used again.
    """
    real, beside = _apart(connection)
    for facility, of_facility in rules.items():
        for done, whole in refold(connection, facility, of_facility):
            told(facility, done, whole)
        for table in PROJECTIONS:
            kept, derived = (tables[table.name] for tables in (real, beside))
            for said, one, other in (
                ("is not what the record gives", kept, derived),
                ("is missing or other", derived, kept),
            ):
                rows = _only_in(connection, facility, one, other)
                yield from ((facility, f"{_named(table, row)} {said}") for row in rows)


def _apart(connection: Connection) -> tuple[dict[str, Table], dict[str, Table]]:
    """Make the temporary tables; give the real ones and these, each by a name of its own."""
    sqlite = connection.dialect.name == "sqlite"
    if sqlite:
        connection.exec_driver_sql("PRAGMA temp.cache_size=-65536")
    where = "main" if sqlite else connection.execute(text("SELECT current_schema()")).scalar()
    real, beside = MetaData(), MetaData()
    for table in PROJECTIONS:
        table.to_metadata(real, schema=where)
        table.to_metadata(beside, schema="temp" if sqlite else "pg_temp")
    beside.create_all(connection, checkfirst=False)
    return ({t.name: t for t in made.tables.values()} for made in (real, beside))  # type: ignore[return-value]


def _only_in(connection: Connection, facility: str, one: Table, other: Table) -> list[object]:
    here, there = (select(*_raw(t)).where(t.c.facility == facility) for t in (one, other))
    return list(connection.execute(except_(here, there).limit(NAMED_MOST)))
