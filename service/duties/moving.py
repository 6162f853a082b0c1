"""Move the record into another database, and show that it is the same there."""

from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection

from service.duties.keeping import Held, all_said, check_in, held_in
from service.store import moving
from service.store.checking import Told
from service.store.database import NEWEST, Database, revision
from service.store.keeping import BESIDE, DamagedError, KeepingError
from service.store.keyring import Keyring


@dataclass(frozen=True, slots=True)
class Moved:
    """What was moved.

    Attributes:
        rows: How many of each table, all of them found the same in both databases.
        held: What the new database holds of each facility, found sound by ``custody check``.
    """

    rows: dict[str, int]
    held: list[Held]


def move(url: str, to: str, keyring: Keyring, told: Told) -> Moved:
    """Copy the record with all that belongs to it into an empty database; the old one stays.

    Either all of it is there in the end and found sound, or nothing. Nobody writes the old one
    until then.

    Raises:
        KeepingError: there is no record, it is of an older version, or the target is not empty.
        DamagedError: the record is not sound, or not the same in both.
        UnusableError: a service writes the record, or one of the databases cannot be opened.
    """
    with closing(Database(url)) as source:
        if source.file is not None and not source.file.is_file():
            raise KeepingError(f"there is no database {source.file}")
        source.claim()
        _demand_present(source)
        with _made(to) as target, source.writing() as here, target.writing() as there:
            moving.hold(here, there)
            before = _sound(here, keyring, told, "the record is not sound")
            rows = moving.copy(here, there, told)
            after = _sound(there, keyring, told, "the copy is not sound, so it was thrown away")
            if before != after:
                raise DamagedError("the copy does not hold the same, so it was thrown away")
        return Moved(rows, after)


@contextmanager
def _made(url: str) -> Iterator[Database]:
    """A database with its tables, which is not there afterwards if it was not there before."""
    made, whole = "", False
    try:
        with closing(Database(url)) as target:
            if target.file is not None and not target.file.parent.is_dir():
                raise KeepingError(f"there is no folder {target.file.parent}")
            if target.file is not None and not target.file.exists():
                made = str(target.file)
            target.claim()
            target.migrate()
            yield target
        whole = True
    finally:
        if made and not whole:
            for end in ("", ".writer", *BESIDE):
                Path(f"{made}{end}").unlink(missing_ok=True)


def _demand_present(source: Database) -> None:
    with source.reading() as connection:
        if revision(connection) != NEWEST:
            raise KeepingError(
                "the schema of the record is of another version: start the service of this version "
                "on it once, and stop it again"
            )


def _sound(connection: Connection, keyring: Keyring, told: Told, but: str) -> list[Held]:
    """Check a database as this transaction sees it, and say what it holds.

    Raises:
        DamagedError: something does not hold.
    """
    # What the check makes to compare with goes before anything else is done or committed.
    with connection.begin_nested() as aside:
        checks = check_in(connection, keyring, told)
        found = [each for each in checks if each.holds is False]
        aside.rollback()
    if found:
        raise DamagedError(f"{but}: {all_said(found)}")
    return held_in(connection, keyring)
