"""Rows as the database has them, without conversion, and what would be stored for a value."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, RowMapping, Table, select, type_coerce
from sqlalchemy.types import NullType

from service.store.log import STREAMED


@dataclass(slots=True)
class Faults:
    """What was found of one kind: the first few in words, the others counted."""

    most: int = 5
    said: list[str] = field(default_factory=list)
    more: int = 0

    def add(self, fault: str) -> None:
        """Take one more."""
        if len(self.said) < self.most:
            self.said.append(fault)
        else:
            self.more += 1

    def __str__(self) -> str:
        return "; ".join(self.said) + (f"; and {self.more:,} more" if self.more else "")


def stored(
    connection: Connection, table: Table, facility: str, *order: str
) -> Iterator[RowMapping]:
    """Give the rows of a facility in order, each value as the driver has it."""
    columns = [type_coerce(column, NullType()).label(column.name) for column in table.columns]
    asked = select(*columns).where(table.c.facility == facility)
    ordered = asked.order_by(*(table.c[name] for name in order))
    for row in connection.execute(ordered.execution_options(yield_per=STREAMED)):
        yield row._mapping


def otherwise(
    connection: Connection, table: Table, expected: Mapping[str, Any], row: RowMapping
) -> list[str]:
    """Give the columns in which something else is stored than would be for these values."""
    return [
        name for name, value in expected.items() if not _same(connection, table, name, value, row)
    ]


def _same(connection: Connection, table: Table, name: str, value: Any, row: RowMapping) -> bool:
    to = table.c[name].type.dialect_impl(connection.dialect).bind_processor(connection.dialect)
    kept = to(value) if to else value
    return bool(kept == row[name]) and isinstance(row[name], type(kept))


def instant(value: object) -> datetime:
    """Read a time as it is stored.

    Raises:
        ValueError: it is none.
    """
    if isinstance(value, datetime):
        return value.astimezone(UTC)
    if not isinstance(value, str):
        raise ValueError(f"'{value!r}' is no time")
    return datetime.fromisoformat(value).replace(tzinfo=UTC)
