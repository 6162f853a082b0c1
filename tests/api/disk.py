"""A database whose disk is full, or fails, as the store meets it."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from sqlalchemy import Connection
from sqlalchemy import event as listening

from service.store import rows
from service.store.store import Store
from tests.databases import SQLITE


@contextmanager
def full(store: Store) -> Iterator[None]:
    """A file that SQLite may not make larger: it answers SQLITE_FULL, as on a full disk.

    A server has a disk of its own; that it is full, it says by SQLSTATE 53100.
    """
    engine = store.database._engine
    if store.database.kind != SQLITE:
        with refusing(store, "DiskFull"):
            yield
        return
    with store.reading() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()

    def bound(connection: Any, _: object) -> None:
        connection.execute(f"PRAGMA max_page_count={pages}")

    listening.listen(engine, "connect", bound)
    engine.dispose()
    yield
    listening.remove(engine, "connect", bound)
    engine.dispose()


@contextmanager
def failing(store: Store) -> Iterator[None]:
    """A disk on which no row can be written."""
    with refusing(store, "IoError"):
        yield


@contextmanager
def refusing(store: Store, name: str) -> Iterator[None]:
    """A database that takes no row: a server for what is named, a file as its disk fails."""

    def error() -> Exception:
        if store.database.kind != SQLITE:
            from psycopg import errors  # which those who test on files alone do not have

            return getattr(errors, name)("no room, or no disk")
        told = sqlite3.OperationalError("disk I/O error")
        told.sqlite_errorname = "SQLITE_IOERR_WRITE"
        return told

    def fail(_cursor: Any, statement: str, _parameters: Any, _context: Any) -> None:
        if statement.startswith("INSERT"):
            raise error()

    opened = rows._cursor

    @contextmanager
    def cursor(connection: Connection, statement: str) -> Iterator[Any]:
        with opened(connection, statement) as found:
            fail(found, statement, None, None)
            yield found

    engine = store.database._engine
    for call in ("do_execute", "do_executemany"):
        listening.listen(engine, call, fail)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(rows, "_cursor", cursor)
        yield
    for call in ("do_execute", "do_executemany"):
        listening.remove(engine, call, fail)
