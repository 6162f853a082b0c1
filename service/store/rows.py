"""Rows read and written by the driver's own calls, with statements put together once.

SQLAlchemy gives the text of each and the conversion of its values; what it would do anew every time
one is asked costs ten times the database's own work, and most of a commit was that.
"""

import json
from collections import namedtuple
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import (
    Boolean,
    ColumnElement,
    Connection,
    Delete,
    Dialect,
    Insert,
    LargeBinary,
    Select,
    Table,
    Update,
    bindparam,
    insert,
)
from sqlalchemy.exc import DBAPIError
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.types import TypeEngine, UserDefinedType
from sqlmodel.sql.sqltypes import UTCDateTime

Convert = Callable[[Any], Any]


class Statement:
    """A statement that is put together once, with a ``bindparam`` for whatever differs."""

    def __init__(self, told: Select[Any] | Update | Delete | Insert) -> None:
        self._told = told
        self._made: dict[str, _Made] = {}

    def rows(self, connection: Connection, **values: Any) -> list[Any]:
        """Ask it; each row has its columns by name."""
        made = self._of(connection.dialect)
        with _cursor(connection, made.text) as cursor:
            cursor.execute(made.text, made.out({**made.usual, **values}))
            found = cursor.fetchall()
        return made.read(found)

    def first(self, connection: Connection, **values: Any) -> Any:
        """Ask it; give the first row, or None."""
        return next(iter(self.rows(connection, **values)), None)

    def values(self, connection: Connection, **values: Any) -> list[Any]:
        """Ask it; give the first column."""
        return [row[0] for row in self.rows(connection, **values)]

    def like(self, connection: Connection, asked: Select[Any]) -> list[Any]:
        """Ask something put together just now that gives the same columns."""
        made = self._of(connection.dialect)
        with connection.execute(asked) as result, _faults_of(connection, result.cursor, made.text):
            return made.read(result.cursor.fetchall() if result.cursor else ())

    def run(self, connection: Connection, **values: Any) -> int:
        """Have it done; give to how many rows it was."""
        made = self._of(connection.dialect)
        with _cursor(connection, made.text) as cursor:
            cursor.execute(made.text, made.out({**made.usual, **values}))
            count: int = cursor.rowcount
        return count

    def of_each(self, connection: Connection, rows: Sequence[Mapping[str, Any]]) -> None:
        """Have it done for each of the rows."""
        made = self._of(connection.dialect)
        with _cursor(connection, made.text) as cursor:
            cursor.executemany(made.text, [made.out(row) for row in rows])

    def _of(self, dialect: Dialect) -> "_Made":
        made = self._made.get(dialect.name)
        if made is None:
            made = self._made[dialect.name] = _Made(self._told, dialect)
        return made


def among(column: ColumnElement[Any], values: str) -> ColumnElement[bool]:
    """Say that a column has one of the values that go by this name, however many they are."""
    return _Among(column, bindparam(values, type_=_Many()))


def insert_rows(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Insert rows that all name the same columns; with none there is nothing to do."""
    if rows:
        _inserting(table, tuple(rows[0])).of_each(connection, rows)


@lru_cache(maxsize=64)
def _inserting(table: Table, names: tuple[str, ...]) -> Statement:
    return Statement(insert(table).values({name: bindparam(name) for name in names}))


class _Many(UserDefinedType[Any]):
    """Values that go out as one, so that the text does not change with how many they are."""

    cache_ok = True

    def bind_processor(self, dialect: Dialect) -> Convert:
        """SQLite takes a JSON text for a table, PostgreSQL an array."""
        return (lambda values: json.dumps([*values])) if dialect.name == "sqlite" else list


class _Among(ColumnElement[bool]):
    inherit_cache = False

    def __init__(self, column: ColumnElement[Any], values: ColumnElement[Any]) -> None:
        self.column = column
        self.values = values


@compiles(_Among, "sqlite")
def _of_json(element: _Among, compiler: SQLCompiler, **kw: Any) -> str:
    column, values = (compiler.process(e, **kw) for e in (element.column, element.values))
    return f"{column} IN (SELECT value FROM json_each({values}))"  # noqa: S608  names of columns


@compiles(_Among, "postgresql")
def _of_array(element: _Among, compiler: SQLCompiler, **kw: Any) -> str:
    column, values = (compiler.process(e, **kw) for e in (element.column, element.values))
    return f"{column} = ANY({values})"


class _Made:
    """What a statement is to one kind of database.

    Attributes:
        text: What is sent.
        usual: Values that are always the same.
    """

    def __init__(self, told: Select[Any] | Update | Delete | Insert, dialect: Dialect) -> None:
        compiled = told.compile(dialect=dialect)
        assert isinstance(compiled, SQLCompiler)
        self.text = str(compiled)
        self.usual = {n: v for n, v in compiled.params.items() if v is not None}
        self._by_place = bool(compiled.positiontup)
        types = {name: bind.type for bind, name in compiled.bind_names.items()}
        order = compiled.positiontup or list(types)
        self._out = [(name, _out(types[name], dialect)) for name in order]
        columns = list(told.selected_columns) if isinstance(told, Select) else []
        places = enumerate(_in(column.type, dialect) for column in columns)
        self._in = [(place, to) for place, to in places if to is not None]
        named: Any = namedtuple  # of columns that are known only now
        row = named("Row", [c.key or "_" for c in columns], rename=True)
        self._row = row._make

    def out(self, values: Mapping[str, Any]) -> Any:
        """Give values as they go out."""
        if self._by_place:
            return [to(values[name]) if to else values[name] for name, to in self._out]
        return {name: to(values[name]) if to else values[name] for name, to in self._out}

    def read(self, rows: Sequence[Sequence[Any]]) -> list[Any]:
        """Give rows as they came in."""
        if not self._in:
            return [self._row(row) for row in rows]
        found = []
        for each in rows:
            row = list(each)
            for place, to in self._in:
                row[place] = to(row[place])
            found.append(self._row(row))
        return found


@contextmanager
def _cursor(connection: Connection, text: str) -> Iterator[Any]:
    """A cursor of the driver."""
    cursor = connection.connection.cursor()
    try:
        with _faults_of(connection, cursor, text):
            yield cursor
    finally:
        cursor.close()


@contextmanager
def _faults_of(connection: Connection, cursor: Any, text: str) -> Iterator[None]:
    """Faults of the driver are said as SQLAlchemy says them; who has gone is not asked again."""
    dialect = connection.dialect
    try:
        yield
    except dialect.loaded_dbapi.Error as error:
        gone = dialect.is_disconnect(error, connection.connection, cursor)
        if gone:
            connection.invalidate(error)
        raise DBAPIError.instance(
            text,
            None,
            error,
            dialect.loaded_dbapi.Error,
            hide_parameters=True,
            connection_invalidated=gone,
            dialect=dialect,
        ) from error


def _out(type_: TypeEngine[Any], dialect: Dialect) -> Convert | None:
    if isinstance(type_, (Boolean, LargeBinary)):
        return None  # both drivers take them as they are
    if isinstance(type_, UTCDateTime) and dialect.name == "sqlite":
        return _to_text
    return type_.dialect_impl(dialect).bind_processor(dialect)


def _in(type_: TypeEngine[Any], dialect: Dialect) -> Convert | None:
    if isinstance(type_, UTCDateTime) and dialect.name == "sqlite":
        return _from_text
    return type_.dialect_impl(dialect).result_processor(dialect, None)


def _to_text(at: datetime | None) -> str | None:
    """Write an instant as SQLAlchemy has SQLite keep it, in a tenth of the time."""
    if at is None:
        return None
    if at.tzinfo is not UTC:
        if at.utcoffset() is None:
            raise ValueError("an instant without a zone cannot be kept")
        at = at.astimezone(UTC)
    return at.isoformat(" ", "microseconds").removesuffix("+00:00")


def _from_text(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text + "+00:00")
