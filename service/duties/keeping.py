"""Keep the record: copy it while it is in use, put a copy in its place, check it against itself.

Nothing here or elsewhere deletes an entry. A database is opened as it is, without a migration.
"""

from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

from sqlalchemy import Connection
from sqlalchemy.exc import SQLAlchemyError

from service.access.entries import access_log
from service.custody.regime import RetentionRule
from service.custody.rules import Rules
from service.manifests.figures import keep
from service.regimes.load import assemble
from service.store import keeping
from service.store.checking import OTHER_VERSION, STANDING, Keys, check
from service.store.checking import Check as Check
from service.store.checking import Told as Told
from service.store.checks.tree import lost
from service.store.database import Database, revision
from service.store.evidence import facilities, last_recorded_at, setup_in_force
from service.store.faults import UnusableError, UnwritableError
from service.store.keeping import DamagedError as DamagedError
from service.store.keeping import KeepingError as KeepingError
from service.store.keyfiles import KeyringError
from service.store.keyring import Keyring
from service.store.log import LogView
from service.store.migrating import is_older


@dataclass(frozen=True, slots=True)
class Held:
    """What a database holds of a facility.

    Attributes:
        entries: The size of its log: events and versions of the set-up.
        newest: The day of the last event taken in, by the facility's clock; None if there is none.
        keep: The rules by which it must be kept, each with the day until which.
        lost: What was signed and is not in it; empty if nothing.
    """

    facility: str
    entries: int
    root: bytes
    newest: date | None
    keep: tuple[tuple[RetentionRule, date], ...]
    lost: str


@dataclass(slots=True)
class Copy:
    """A copy that was made or put in place.

    Attributes:
        older: The version of its schema if this program's is newer: its log was not looked at.
    """

    path: Path
    size_bytes: int = 0
    older: str = ""
    held: list[Held] = field(default_factory=list)


def check_record(url: str, keyring: Keyring, told: Told, *, quick: bool) -> Iterator[Check]:
    """Check a database against itself, and against what was signed; ``quick``: no projections.

    Raises:
        KeepingError: there is no such database.
        UnusableError: the address is none.
    """
    with closing(Database(url)) as database:
        if database.file is not None and not database.file.is_file():
            raise KeepingError(f"there is no database {database.file}")
        try:
            with database.reading() as connection:
                if database.file is None and revision(connection) is None:
                    raise KeepingError("nothing is set up here yet: the database is empty")
                yield from check_in(connection, keyring, told, quick=quick)
        except SQLAlchemyError as error:
            why = getattr(error, "orig", None) or error
            yield Check("file", "", False, f"the database cannot be opened: {why}")
        except UnusableError as error:
            yield Check("file", "", False, str(error))
        except UnwritableError as error:
            yield Check("file", "", False, f"the database cannot be opened: {error.__cause__}")


def check_in(
    connection: Connection, keyring: Keyring, told: Told, *, quick: bool = False
) -> Iterator[Check]:
    """Check a database as an open transaction sees it; as ``check_record``."""
    return check(connection, lambda log: _keys(keyring, log), told, quick=quick)


def holdings(url: str, keyring: Keyring) -> list[Held]:
    """Say what a database that was found sound holds."""
    with closing(Database(url)) as database, database.reading() as connection:
        return held_in(connection, keyring)


def backup(url: str, out: Path, keyring: Keyring, told: Told, *, replace: bool) -> Copy:
    """Copy the record into a file, whether a service is running or not.

    Projections are not looked at: they can be derived anew, and must not stand in the way.

    Raises:
        KeepingError: the database is damaged or none of SQLite, or the file cannot be written.
    """
    made = Copy(out)
    look = _looking(made, keyring, told)
    made.size_bytes = keeping.backup(keeping.file_of(url), out, look, replace=replace)
    return made


def restore(
    url: str, source: Path, into: Path | None, keyring: Keyring, told: Told, aside: datetime | None
) -> Copy:
    """Put a backup in the place of the record, or at ``into``; what is there may be set aside.

    Raises:
        KeepingError: the backup is damaged, or something is there already.
        UnusableError: a service writes the record.
    """
    put = Copy(into or keeping.file_of(url))
    keeping.restore(source, put.path, _looking(put, keyring, told), set_aside=aside)
    put.size_bytes = put.path.stat().st_size
    return put


def _looking(copy: Copy, keyring: Keyring, told: Told) -> Callable[[Connection], None]:
    def look(connection: Connection) -> None:
        # What was signed and is missing is told by ``Held``: an older backup may be all there is.
        checks = check(connection, lambda _: Keys(), told, quick=True)
        # Nor does who may come in stand in the way: the check tells it, and it is not the record.
        found = [each for each in checks if each.holds is False and each.name not in STANDING]
        if [c.name for c in found] == ["schema"] and found[0].said.startswith(OTHER_VERSION):
            version = revision(connection)
            if is_older(version):
                copy.older = version or ""
                return
        if found:
            raise DamagedError(f"the copy is not sound, so it was thrown away: {all_said(found)}")
        copy.held = held_in(connection, keyring)

    return look


def all_said(found: Iterable[Check]) -> str:
    """Put what several checks say into one sentence."""
    return "; ".join(f"{' '.join((c.facility, c.name)).strip()}: {c.said}" for c in found)


def held_in(connection: Connection, keyring: Keyring) -> list[Held]:
    """Say what a sound database holds, as an open transaction sees it."""
    return [_of(connection, facility, keyring) for facility in facilities(connection)]


def _of(connection: Connection, facility: str, keyring: Keyring) -> Held:
    log = LogView(connection, facility)
    _, version = setup_in_force(connection, facility)
    at = last_recorded_at(connection, facility)
    newest = at.astimezone(version.site.zone).date() if at else None
    rules = Rules(assemble(version.site.regime), version.site)
    gone = _lost(connection, facility, keyring)
    if gone_too := _lost(connection, access_log(facility), keyring):
        gone = f"{gone}; of the access log {gone_too}" if gone else f"of the access log {gone_too}"
    kept = keep(rules, newest) if newest else ()
    return Held(facility, log.size, log.root, newest, kept, gone)


def _lost(connection: Connection, log: str, keyring: Keyring) -> str:
    """Say what was signed of a log and is not in it, or nothing."""
    keys = _keys(keyring, log)
    size = LogView(connection, log).size
    return lost(connection, log, keys.last, size) if keys.last else keys.trouble


def _keys(keyring: Keyring, log: str) -> Keys:
    try:
        return Keys(keyring.vkeys(log).keys, keyring.last(log))
    except KeyringError as error:
        return Keys(trouble=str(error))
