"""Open the database: engine, safe settings, migrations, and one writer at a time."""

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext, suppress
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout
from sqlalchemy import (
    Connection,
    Engine,
    column,
    create_engine,
    event,
    inspect,
    select,
    table,
)
from sqlalchemy.engine import make_url
from sqlalchemy.exc import SQLAlchemyError

from service.store import server
from service.store.faults import (
    BusyError,
    UnusableError,
    UnwritableError,
    or_said,
    or_unusable,
)

NEWEST = "0008"
"""The version of the schema that this program works with: that of its newest migration."""

VERSION = table("alembic_version", column("version_num"))
"""Where Alembic keeps the version of a database's schema."""

BUSY_S = 30
"""How long a writer waits for another process to finish before it gives up."""

CHECKPOINT_PAGES = 8_000
"""How far the write-ahead log grows, in pages of 4 kB, before it is worked into the file."""

CACHE_KIB = 65_536
"""Pages of the database that a connection keeps at hand; SQLite's own default is 2 MB."""

CACHE_THROUGH_KIB = 8_192
"""The same where a record is read once from end to end: more would only fill memory."""


KEPT_OPEN = 40
"""Connections kept for the next request: opening one costs more than most requests do."""


_CLAIMING = threading.Lock()
"""A file's claim is one for the whole process and counted; two threads must not count at once."""


class Database:
    """One database. Writers take turns: on SQLite all of them, on a server those of a facility.

    Attributes:
        kind: ``sqlite`` or ``postgresql``.
        written: How many transactions that may write were committed since it was opened.
    """

    def __init__(self, url: str) -> None:
        with or_unusable():
            address = make_url(url)
            self.kind = address.get_backend_name()
            self._sqlite = self.kind == "sqlite"
            # Requests are bounded, connections are not: a thread may hold one and need another, and
            # a bound on them would have all wait for each other.
            self._engine = create_engine(
                url,
                pool_size=KEPT_OPEN,
                max_overflow=-1,
                hide_parameters=True,  # a fault's trace is logged, and they may hold secrets
                **({} if self._sqlite else server.options(address)),
            )
        self.file = Path(address.database) if self._sqlite and address.database else None
        if self._sqlite:
            _make_safe(self._engine)
        else:
            server.listen(self._engine)
        self._turn, self._counting = threading.Lock(), threading.Lock()
        self._claim: FileLock | None = None
        self._seen = False
        self.written = 0

    def claim(self) -> None:
        """Be the one process that writes this SQLite file, until the database is closed.

        PostgreSQL takes many: there the log of each facility is held while it is written. What it
        is relied on for is seen to now, and again by every transaction that writes.

        Raises:
            UnusableError: another process is that one, or a setting of PostgreSQL is wrong.
        """
        if self.file is None:
            if not (self._sqlite or self._seen):
                with self.writing():
                    self._seen = True
            return
        path = f"{self.file.resolve()}.writer"
        with _CLAIMING:
            if self._claim is not None:
                return
            claim = FileLock(path, timeout=0, thread_local=False, is_singleton=True)
            try:
                claim.acquire()
            except Timeout as error:
                raise UnusableError(
                    f"{self.file.name} is being written by another process, a running service "
                    "most likely: ask that one, or stop it first"
                ) from error
            except OSError as error:
                raise UnusableError(f"{path} cannot be written: {error.strerror}") from error
            self._claim = claim

    @contextmanager
    def writing(self, *what: str) -> Iterator[Connection]:
        """A transaction that may write; on disk when the block ends without an error.

        Whoever writes one of ``what``, facilities' logs as a rule, waits for others that do, in any
        process; on SQLite, whoever writes anything.
        """
        turn = self._turn if self._sqlite else nullcontext()
        with or_said(), turn, self._engine.connect() as plain:
            with plain.execution_options(custody_writing=True).begin():
                if not self._sqlite:
                    server.begin(plain, what, BUSY_S)
                yield plain
                server.forget_warnings(plain)
            with self._counting:
                self.written += 1
            server.demand_at_standby(plain)

    @contextmanager
    def reading(
        self, before: Callable[[Connection], None] | None = None, *, through: bool = False
    ) -> Iterator[Connection]:
        """A connection that sees one state of the database throughout, and leaves nothing behind.

        ``before`` is called with it until that state is fixed, and may raise. The connection ends
        in a rollback, so temporary tables go with it: behind a pooler the server's session is
        somebody else's next. Who goes ``through`` all of a record keeps few pages of it at hand.
        """
        with or_said(), self._engine.connect() as connection:
            if before is not None:
                connection.execution_options(isolation_level="AUTOCOMMIT")
                before(connection)
                connection.rollback()
            if not self._sqlite:
                connection.execution_options(isolation_level="REPEATABLE READ")
            transaction = connection.begin()
            if through and self._sqlite:
                connection.exec_driver_sql(f"PRAGMA cache_size=-{CACHE_THROUGH_KIB}")
            try:
                yield connection
            finally:
                transaction.rollback()
                if through and self._sqlite:
                    connection.exec_driver_sql(f"PRAGMA cache_size=-{CACHE_KIB}")

    def is_laid(self) -> bool:
        """Say whether a record was ever begun here, of whatever version; asking makes none.

        Raises:
            UnusableError: the database cannot be opened.
        """
        if self.file is not None and not (self.file.is_file() and self.file.stat().st_size):
            return False
        with or_unusable(), self.reading() as connection:
            return revision(connection) is not None

    def answers(self) -> bool:
        """Say whether the database answers a question now."""
        try:
            with self.reading() as connection:
                connection.exec_driver_sql("SELECT 1")
        except (SQLAlchemyError, BusyError, UnwritableError):
            return False
        return True

    def migrate(self) -> None:
        """Bring the schema to the present version; data stay."""
        self._make_private()
        with or_unusable():
            with self.reading() as connection:
                version = revision(connection)
            if version == NEWEST:
                return
            # Most starts have nothing to migrate, and no use for what does it.
            from service.store.migrating import is_older, upgrade

            if version is not None and not is_older(version):
                raise UnusableError(
                    f"the database cannot be opened: its schema is of version {version}, which a "
                    "newer version of this program made: install that one"
                )
            self.claim()
            with self.writing() as connection:
                if not self._sqlite:
                    server.hold_name(connection, "the schema")
                upgrade(connection)

    def _make_private(self) -> None:
        """Have a new file be its owner's alone, and with it what SQLite lays beside it.

        Secrets are in it; one that is there stays as its owner set it.
        """
        if self.file is not None:
            with suppress(OSError):  # SQLite, which opens it next, says what is wrong
                os.close(os.open(self.file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))

    def close(self) -> None:
        """Give all connections back, and let another process write."""
        self._engine.dispose()
        with _CLAIMING:
            if self._claim is not None:
                self._claim.release()
                self._claim = None


def revision(connection: Connection) -> str | None:
    """Give the version of the schema that a database has, or None if it has none."""
    if not inspect(connection).has_table(VERSION.name):
        return None
    found: str | None = connection.execute(select(VERSION.c.version_num)).scalar()
    return found


def _make_safe(engine: Engine) -> None:
    """Every commit is synced to disk, readers never block, and writers lock at their start."""

    @event.listens_for(engine, "connect")
    def _on_connect(connection: Any, _record: object) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves
        cursor = connection.cursor()
        cursor.execute(f"PRAGMA busy_timeout={BUSY_S * 1000}")
        cursor.execute("PRAGMA journal_mode=WAL")
        cursor.execute("PRAGMA synchronous=FULL")
        cursor.execute("PRAGMA foreign_keys=ON")
        cursor.execute(f"PRAGMA cache_size=-{CACHE_KIB}")
        cursor.execute(f"PRAGMA wal_autocheckpoint={CHECKPOINT_PAGES}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        writing = connection.get_execution_options().get("custody_writing")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")
