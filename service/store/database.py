"""Open the database: engine, safe settings, migrations, and one writer at a time."""

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout
from sqlalchemy import (
    Connection,
    Engine,
    column,
    create_engine,
    event,
    func,
    inspect,
    select,
    table,
)
from sqlalchemy.engine import make_url
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

NEWEST = "0006"
"""The version of the schema that this program works with: that of its newest migration."""

VERSION = table("alembic_version", column("version_num"))
"""Where Alembic keeps the version of a database's schema."""

BUSY_S = 30
"""How long a writer waits for another process to finish before it gives up."""

CHECKPOINT_PAGES = 8_000
"""How far the write-ahead log grows, in pages of 4 kB, before it is worked into the file."""

CACHE_KIB = 65_536
"""Pages of the database that a connection keeps at hand; SQLite's own default is 2 MB."""


KEPT_OPEN = 40
"""Connections kept for the next request: opening one costs more than most requests do."""


SERVER: dict[str, Any] = {
    # The server may have been started anew since a connection was last used.
    "pool_pre_ping": True,
    # Nothing is left behind in a session: a pooler between may give each transaction another.
    "connect_args": {"prepare_threshold": None},
}
"""How a PostgreSQL server is spoken to."""


_CLAIMING = threading.Lock()
"""A file's claim is one for the whole process and counted; two threads must not count at once."""


class UnusableError(RuntimeError):
    """The database cannot be opened: its address is wrong, or it is none of ours."""


class BusyError(RuntimeError):
    """The database is held by another process; the same request may be made again."""


class UnwritableError(RuntimeError):
    """The disk is full or fails: nothing was recorded, and what was recorded can still be read."""

    def __init__(self, said: str, *, full: bool = False) -> None:
        super().__init__(said)
        self.full = full


@contextmanager
def _or_busy() -> Iterator[None]:
    """Say what a fault of the database means to who asked."""
    try:
        yield
    except UnicodeDecodeError as error:  # the driver, trying to say what is wrong with the schema
        raise UnusableError("the database is damaged: its schema is no text any more") from error
    except DBAPIError as error:
        state = getattr(error.orig, "sqlstate", "")  # None where there was nobody to name one
        if state != "":
            raise _of_server(state or NO_ANSWER, error) from error
        if "locked" in str(error.orig):
            raise BusyError("the database is busy: try again in a moment") from error
        why = getattr(error.orig, "sqlite_errorname", "").split("_")[:2]
        if why == ["SQLITE", "FULL"]:
            raise UnwritableError("the disk is full: nothing was recorded", full=True) from error
        if why in _FAULTY_DISK:
            raise UnwritableError("the disk cannot be written: nothing was recorded") from error
        if why == ["SQLITE", "CORRUPT"]:
            raise UnusableError(
                f"the database is damaged: {error.orig}; copy its whole folder as it is, and run "
                "'custody check'"
            ) from error
        raise


def _of_server(state: str, error: DBAPIError) -> Exception:
    """Say what a fault that PostgreSQL names by its SQLSTATE means to who asked.

    The classes are those of its manual, appendix A, "PostgreSQL Error Codes".
    """
    if state in ("53100", "58030"):  # disk_full, io_error
        full = state == "53100"
        return UnwritableError(
            "the database's disk is full or fails: nothing was recorded", full=full
        )
    if state == "25006":  # read_only_sql_transaction: a standby, or one told to take nothing
        return UnwritableError("the database takes no entries now: nothing was recorded")
    if state in _PASSING or state[:2] in _PASSING_CLASSES:
        return BusyError("the database does not answer now: try again in a moment")
    if state in ("XX001", "XX002"):  # data_corrupted, index_corrupted
        return UnusableError(f"the database is damaged: {error.orig}")
    return error


NO_ANSWER = "08000"
_PASSING = ("55P03", "40001", "40P01", "53300", "53400", "57P01", "57P02", "57P03", "57014")
"""No lock in time, taken back for another's sake, too many connections, stopping or starting."""
_PASSING_CLASSES = ("08",)
"""The connection broke. Whether the last commit held is not known: the same is sent again."""

_FAULTY_DISK = (["SQLITE", "IOERR"], ["SQLITE", "READONLY"], ["SQLITE", "CANTOPEN"])


@contextmanager
def _or_unusable() -> Iterator[None]:
    """Say of the fault what its driver says, never the address: that may hold a password."""
    try:
        yield
    except ImportError as error:
        raise UnusableError(f"the database's driver is not installed: {error.name}") from error
    except (SQLAlchemyError, UnwritableError) as error:
        cause = error.__cause__ if isinstance(error, UnwritableError) else error
        why = getattr(cause, "orig", None) or error
        raise UnusableError(f"the database cannot be opened: {why}") from error


class Database:
    """One database. Writers take turns in this process and lock it against other processes."""

    def __init__(self, url: str) -> None:
        with _or_unusable():
            address = make_url(url)
            self._sqlite = address.get_backend_name() == "sqlite"
            # Requests are bounded, connections are not: a thread may hold one and need another, and
            # a bound on them would have all wait for each other.
            self._engine = create_engine(
                url,
                pool_size=KEPT_OPEN,
                max_overflow=-1,
                hide_parameters=True,  # a fault's trace is logged, and they may hold secrets
                **({} if self._sqlite else SERVER),
            )
        self.file = Path(address.database) if self._sqlite and address.database else None
        if self._sqlite:
            _make_safe(self._engine)
        self._turn = threading.Lock()
        self._claim: FileLock | None = None

    def claim(self) -> None:
        """Be the one process that writes this SQLite file, until the database is closed.

        PostgreSQL takes many: there the record of each facility is locked while it is written.

        Raises:
            UnusableError: another process is that one.
        """
        if self.file is None:
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

        Whoever writes one of ``what``, facilities as a rule, waits for others that do, in any
        process.
        """
        with _or_busy(), self._turn, self._engine.connect() as plain:
            options = {"custody_writing": True}
            with plain.execution_options(**options).begin():
                if not self._sqlite:
                    plain.exec_driver_sql(f"SET LOCAL lock_timeout = '{BUSY_S}s'")
                    for name in sorted(what):
                        plain.execute(
                            select(func.pg_advisory_xact_lock(func.hashtextextended(name, 0)))
                        )
                yield plain

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that sees one state of the database throughout, and leaves nothing behind.

        It ends in a rollback, so temporary tables go with it: behind a pooler the server's session
        is somebody else's next.
        """
        with _or_busy(), self._engine.connect() as connection:
            if not self._sqlite:
                connection.execution_options(isolation_level="REPEATABLE READ")
            transaction = connection.begin()
            try:
                yield connection
            finally:
                transaction.rollback()

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
        with _or_unusable():
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
            with self.writing("the schema") as connection:
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
