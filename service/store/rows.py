"""Write many rows of one table by the driver's own bulk call.

SQLAlchemy gives the statement and the conversion of each column; what it does for every row of a
bulk insert would cost more than the writing itself.
"""

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, Dialect, Table, insert

Convert = Callable[[Any], Any]


def insert_rows(connection: Connection, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    """Insert rows that all name the same columns; with none there is nothing to do."""
    if not rows:
        return
    statement, positional, columns = _prepared(connection.dialect, table, tuple(rows[0]))
    made: list[Any]
    if positional:
        made = [tuple([to(row[n]) if to else row[n] for n, to in columns]) for row in rows]
    else:
        made = [{n: to(row[n]) if to else row[n] for n, to in columns} for row in rows]
    connection.exec_driver_sql(statement, made)


@lru_cache(maxsize=64)
def _prepared(
    dialect: Dialect, table: Table, names: tuple[str, ...]
) -> tuple[str, bool, tuple[tuple[str, Convert | None], ...]]:
    """The statement, whether its parameters go by position, and how each column is converted."""
    compiled = insert(table).compile(dialect=dialect, column_keys=list(names))
    order = compiled.positiontup or names
    columns = tuple(
        (name, table.c[name].type.dialect_impl(dialect).bind_processor(dialect)) for name in order
    )
    return str(compiled), bool(compiled.positiontup), columns
