"""Copies of the record: a backup of a database in use, and a backup put in its place (SQLite).

A copy has its name only once it is whole, checked and on disk.
"""

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, NullPool, create_engine, event

from service.store.database import BUSY_S, Database
from service.store.keyfiles import sync_folder

BESIDE = ("-shm", "-wal")
"""What SQLite keeps beside a database in use."""

Look = Callable[[Connection], None]
"""Looks at a copy before it gets its name, and raises what is against that."""


class KeepingError(RuntimeError):
    """No copy was made, or none put in place; the message says why and what to do."""


class DamagedError(KeepingError):
    """What was to be copied is not sound."""


def file_of(url: str) -> Path:
    """Give the file of a database.

    Raises:
        KeepingError: it is none of SQLite.
        UnusableError: the address is none.
    """
    with closing(Database(url)) as database:
        if database.file is None:
            raise KeepingError(
                "this is done for SQLite only: with PostgreSQL use pg_dump and pg_restore, and "
                "'custody check' afterwards"
            )
        return database.file


def backup(source: Path, out: Path, look: Look, *, replace: bool = False) -> int:
    """Copy a database that may be in use, and give the copy's size in bytes.

    Everything committed before this began is in the copy. No writer waits for it.

    Raises:
        KeepingError: the copy cannot be made, has no place, or what ``look`` raises.
    """
    if not source.is_file():
        raise KeepingError(f"there is no database {source}")
    _demand_place(source, out, replace=replace)
    with _unfinished(out) as beside:
        _copy(source, beside)
        with reading(beside) as connection:
            look(connection)
        _demand_place(source, out, replace=replace)
        _named(beside, out)
    return out.stat().st_size


def restore(source: Path, target: Path, look: Look, *, set_aside: datetime | None = None) -> None:
    """Put a backup in a database's place; one that is there is set aside if a time is given.

    Raises:
        KeepingError: the backup is none, there is a database already, or what ``look`` raises.
        UnusableError: a service writes the database.
    """
    if not source.is_file():
        raise KeepingError(f"there is no backup {source}")
    wal = Path(f"{source}-wal")
    if wal.exists() and wal.stat().st_size:
        raise KeepingError(
            f"{source} is a database in use, not a backup: part of it is in {wal.name}; make one "
            "with 'custody backup'"
        )
    if target.exists() and source.samefile(target):
        raise KeepingError(f"{source} is the database itself")
    with _or_said(target), closing(Database(f"sqlite:///{target}")) as claimed:
        if not target.parent.is_dir():
            raise KeepingError(f"there is no folder {target.parent}")
        claimed.claim()
        if _there(target) and set_aside is None:
            raise KeepingError(
                f"{target} is there already: move it away yourself, or say --set-aside to have it "
                "renamed"
            )
        with _unfinished(target) as beside:
            shutil.copyfile(source, beside)
            with reading(beside) as connection:
                look(connection)
            if set_aside is not None:
                _set_aside(target, set_aside)
            _named(beside, target)


@contextmanager
def reading(path: Path) -> Iterator[Connection]:
    """A connection to a copy that nobody writes; nothing is written to it or beside it."""

    def connect() -> sqlite3.Connection:
        address = f"{path.resolve().as_uri()}?mode=ro&immutable=1"
        return sqlite3.connect(address, uri=True, isolation_level=None)

    engine = create_engine("sqlite://", creator=connect, poolclass=NullPool)
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN"))
    with engine.begin() as connection:
        yield connection


def _demand_place(source: Path, out: Path, *, replace: bool) -> None:
    own = {source.resolve(), *(Path(f"{source.resolve()}{end}") for end in (*BESIDE, ".writer"))}
    if out.resolve() in own:
        raise KeepingError(f"{out} is the database itself or belongs to it: name another file")
    if out.is_dir():
        raise KeepingError(f"{out} is a folder: name a file in it")
    if out.exists() and not replace:
        raise KeepingError(f"{out} is there already: name another, or say --replace")
    if not out.parent.is_dir():
        raise KeepingError(f"there is no folder {out.parent}")


@contextmanager
def _or_said(out: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise KeepingError(f"{out} cannot be written: {error.strerror}") from error


@contextmanager
def _unfinished(out: Path) -> Iterator[Path]:
    """A file beside that is for us alone, and gone at the end unless it got the name."""
    with _or_said(out):
        handle, name = tempfile.mkstemp(".new", f".{out.name}.", out.parent)  # mode 0600
        os.close(handle)
        try:
            yield Path(name)
        finally:
            for end in ("", "-journal", *BESIDE):
                Path(f"{name}{end}").unlink(missing_ok=True)


def _copy(source: Path, beside: Path) -> None:
    """Copy in one step, which is one read transaction: it neither waits nor begins again."""
    try:
        with (
            closing(
                sqlite3.connect(f"{source.resolve().as_uri()}?mode=rw", BUSY_S, uri=True)
            ) as one,
            closing(sqlite3.connect(beside)) as other,
        ):
            one.backup(other, pages=-1)
            other.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.Error as error:
        raise DamagedError(f"{source} cannot be copied: {error}") from error


def _named(beside: Path, out: Path) -> None:
    with beside.open("r+b") as file:
        os.fsync(file.fileno())
    beside.replace(out)
    sync_folder(out.parent)


def _there(target: Path) -> list[Path]:
    """What there is of a database; what lies beside it moves first, so that it is never alone."""
    parts = [Path(f"{target}{end}") for end in (*BESIDE, "")]
    return [part for part in parts if part.exists()]


def _set_aside(target: Path, at: datetime) -> None:
    aside = f"{target}.before-restore-{at:%Y%m%dT%H%M%SZ}"
    if Path(aside).exists():
        raise KeepingError(f"{aside} is there already: try again in a second")
    for part in _there(target):
        part.rename(f"{aside}{str(part).removeprefix(str(target))}")
