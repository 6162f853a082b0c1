"""Copy every row of one database into an empty one, of another kind as a rule, and compare them."""

from collections.abc import Callable
from itertools import zip_longest
from typing import Any

from sqlalchemy import Connection, CursorResult, Row, Table, func, select
from sqlmodel import SQLModel

from service.store.cycle_tables import TRACE
from service.store.keeping import DamagedError, KeepingError
from service.store.rows import insert_rows

AT_ONCE = 1_000
"""Rows in memory at a time, of each database."""
TRACES_AT_ONCE = 10
"""A trace may be a million bytes."""

Told = Callable[[str, int, int], None]


def hold(source: Connection, target: Connection) -> None:
    """Let nobody else write either until its transaction ends, nor the target be written over.

    Raises:
        KeepingError: the target holds rows already.
    """
    _hold(source, "SHARE")
    _hold(target, "EXCLUSIVE")
    tables = SQLModel.metadata.sorted_tables
    full = [table.name for table in tables if target.execute(select(table).limit(1)).first()]
    if full:
        raise KeepingError(f"the target is not empty: there are rows in {', '.join(full)}")


def copy(source: Connection, target: Connection, told: Told) -> dict[str, int]:
    """Copy all tables, of which both are held, and give the number of rows of each.

    Raises:
        DamagedError: what is in the target now is not what is in the source.
    """
    tables = SQLModel.metadata.sorted_tables
    counts = {
        t.name: source.execute(select(func.count()).select_from(t)).scalar_one() for t in tables
    }
    for done, table in enumerate(tables):
        told("copied", done, len(tables))
        with _rows(source, table) as found:
            for rows in found.partitions():
                insert_rows(target, table, [dict(row._mapping) for row in rows])
    if target.dialect.name == "postgresql":
        # Its statistics are of empty tables: whoever reads next, the check first, would go astray.
        target.exec_driver_sql(f"ANALYZE {_names(target)}")
    for done, table in enumerate(tables):
        told("compared", done, len(tables))
        compare(source, target, table)
    return counts


def compare(source: Connection, target: Connection, table: Table) -> None:
    """Go through a table of both in the order of its key; every value must be the same.

    Raises:
        DamagedError: a row is missing, is one too many, or differs.
    """
    with _rows(source, table) as here, _rows(target, table) as there:
        for one, other in zip_longest(here, there):
            if one is None or other is None or tuple(one) != tuple(other):
                named = _named(table, one, other)
                raise DamagedError(f"{table.name} differs after the copy: {named}")


def _rows(connection: Connection, table: Table) -> CursorResult[Any]:
    """All rows in the order of the key; texts sort by their bytes in every database of ours."""
    at_once = TRACES_AT_ONCE if table is TRACE else AT_ONCE
    asked = select(table).order_by(*table.primary_key)
    return connection.execute(asked.execution_options(yield_per=at_once))


def _named(table: Table, *rows: Row[Any] | None) -> str:
    """Name a row by its key, never by its content: there are secrets among it."""
    found = next(row for row in rows if row is not None)
    key = ", ".join(f"{c.name} {found._mapping[c.name]!r}" for c in table.primary_key)
    return f"the row of {key}"


def _hold(connection: Connection, mode: str) -> None:
    """Let nobody else write until the transaction ends; SQLite does not from its beginning."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(f"LOCK TABLE {_names(connection)} IN {mode} MODE")


def _names(connection: Connection) -> str:
    quoted = connection.dialect.identifier_preparer.format_table
    return ", ".join(quoted(table) for table in SQLModel.metadata.sorted_tables)
