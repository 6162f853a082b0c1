"""Derive the projections anew: in place of what is there, or beside it, to compare."""

from collections.abc import Callable, Iterator

from sqlalchemy import (
    Connection,
    Label,
    MetaData,
    Table,
    and_,
    delete,
    except_,
    func,
    select,
    type_coerce,
)
from sqlalchemy.types import NullType

from service.custody.rules import Rules
from service.store.append import index
from service.store.cycle_tables import BEARING, CYCLE, LOADED, SPORE
from service.store.cycles import Touched, project_cycles
from service.store.database import CACHE_KIB
from service.store.entries import Entries, from_row
from service.store.log import head
from service.store.projections import project
from service.store.tables import CARRIED, CONSIGNED, CONTAINER, NAMED, RECORD, STAY, VIOLATION

PROJECTIONS = (
    NAMED, CONSIGNED, BEARING, CONTAINER, STAY, CARRIED, LOADED, SPORE, CYCLE, VIOLATION,
)  # fmt: skip
CHUNK = 1_000
NAMED_MOST = 5
"""Rows that differ which are named, of each table and each way."""


def refold(connection: Connection, facility: str, rules: Rules) -> Iterator[tuple[int, int]]:
    """Drop the rows of a facility's projections and derive them; yields (done, in all)."""
    for table in PROJECTIONS:
        connection.execute(delete(table).where(table.c.facility == facility))
    size = head(connection, facility).size
    cycles: set[str] = set()
    machines: set[str] = set()
    touched: dict[str, None] = {}  # in order of first mention: a cart's trips are read once
    for low in range(0, size, CHUNK):
        found = _reindex(connection, facility, low, low + CHUNK)
        touched.update(dict.fromkeys(sorted(found.containers)))
        cycles |= found.cycles
        machines |= found.machines
        yield min(low + CHUNK, size), 2 * size
    of_machines = Touched(set(), cycles, machines)
    project_cycles(connection, facility, rules, Entries(connection, facility), of_machines)
    containers = list(touched)
    for low in range(0, len(containers), CHUNK):
        chunk = containers[low : low + CHUNK]
        project(connection, facility, rules, Entries(connection, facility), chunk)
        yield size + size * (low + len(chunk)) // len(containers), 2 * size


def _reindex(connection: Connection, facility: str, low: int, high: int) -> Touched:
    chunk = and_(RECORD.c.facility == facility, RECORD.c.seq > low, RECORD.c.seq <= high)
    rows = connection.execute(select(RECORD).where(chunk).order_by(RECORD.c.seq)).all()
    reader = Entries(connection, facility)
    return index(connection, facility, reader, [(row.seq, from_row(row)) for row in rows])


def differences(
    connection: Connection, facility: str, rules: Rules, told: Callable[[int, int], None]
) -> list[str]:
    """Say where a facility's projections are not what its record gives.

    They are derived into temporary tables of the same names (see ``beside``).
    """
    for done, whole in refold(connection, facility, rules):
        told(done, whole)
    said: list[str] = []
    for table in PROJECTIONS:
        kept = table.to_metadata(MetaData(), schema=_schemas(connection)[0])
        here = _only_in(connection, facility, kept, table)
        derived = _only_in(connection, facility, table, kept)
        for key in sorted(here | derived, key=str):
            what = f"{table.name} of {' '.join(map(str, key))}"
            if key not in here:
                said.append(f"{what}: the row is missing")
            elif key not in derived:
                said.append(f"{what}: the record does not give this row")
            else:
                said.append(f"{what}: the row is other than the record gives")
    return said


def beside(connection: Connection) -> None:
    """Make temporary tables that stand before the projections on this connection, empty.

    What writes the projections then writes these: nothing that is kept is changed or locked. The
    connection ends with its block, and goes back to no pool.
    """
    connection.detach()
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(f"PRAGMA temp.cache_size=-{CACHE_KIB}")
    made = MetaData()
    for table in PROJECTIONS:
        table.to_metadata(made, schema=_schemas(connection)[1])
    made.create_all(connection, checkfirst=False)


def _schemas(connection: Connection) -> tuple[str, str]:
    """Where the tables are, and where temporary ones are made."""
    if connection.dialect.name == "sqlite":
        return "main", "temp"
    return str(connection.execute(select(func.current_schema())).scalar()), "pg_temp"


def _only_in(
    connection: Connection, facility: str, one: Table, other: Table
) -> set[tuple[object, ...]]:
    """Give the keys of rows, as they are stored, that one table has and the other has not."""
    here, there = (select(*_stored(t)).where(t.c.facility == facility) for t in (one, other))
    keys = [column.name for column in one.primary_key if column.name != "facility"]
    rows = except_(here, there).order_by(*keys).limit(NAMED_MOST)
    return {tuple(row._mapping[name] for name in keys) for row in connection.execute(rows)}


def _stored(table: Table) -> list[Label[None]]:
    """The columns without conversion: a damaged one may not be of its type any more."""
    return [type_coerce(column, NullType()).label(column.name) for column in table.columns]
