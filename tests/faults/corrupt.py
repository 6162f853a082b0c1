"""Database files that were copied badly or damaged: the check says so, or they do not open."""

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from random import Random
from typing import Any

from service.custody.words import Role
from service.duties.access import Caller
from service.duties.record import Told, record_events
from service.store.store import Store
from tests.faults.clients import happenings
from tests.faults.holding import Tally
from tests.faults.world import DATABASE, Blank, World

EVENTS = 300
AT_ONCE = 20
UNGUARDED = {"client", "secret", "alembic_version", "sqlite_stat1"}
"""Tables not every column of which is spoken for: hashes of tokens, and the keys of labels."""

Rows = dict[str, list[Any]]


def recorded(blank: Blank, folder: Path, seed: int) -> World:
    """A database of some hundred events, closed."""
    world = World.copy_of(blank, folder)
    store = Store(world.url)
    append(store, world, list(islice(happenings(seed), EVENTS)))
    store.close()
    return world


def append(store: Store, world: World, events: list[dict[str, Any]]) -> None:
    """Record events, some at a time."""
    caller = Caller(world.facility, "fault tests", Role.OFFICER)
    for low in range(0, len(events), AT_ONCE):
        record_events(store, caller, events[low : low + AT_ONCE], Told(datetime.now(UTC)))


def rows_of(database: Path) -> Rows:
    """Every row of every table, as text and bytes."""
    with closing(sqlite3.connect(database)) as connection:
        connection.text_factory = bytes  # damaged text may be no text
        names = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
        return {
            name: sorted(connection.execute(f'SELECT * FROM "{name}"').fetchall(), key=repr)  # noqa: S608
            for name in (held.decode() for (held,) in names)
        }


def is_sound(database: Path) -> bool:
    """Whether SQLite finds its own structures whole, indexes included."""
    try:
        with closing(sqlite3.connect(database)) as connection:
            return connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    except sqlite3.DatabaseError:
        return False


def by_the_engine_alone(world: World) -> list[str]:
    """The control: a check that knows the structure of the file and nothing of the record."""
    return [] if is_sound(world.database) else ["the file is damaged"]


def damages(
    blank: Blank,
    folder: Path,
    seed: int,
    flips: int,
    checked: Callable[[World], list[str]] = World.checked,
    told: Callable[[], None] = lambda: None,
) -> Tally:
    """Damage copies: bits flipped, pages zeroed, ends cut off; none may pass with changed rows.

    ``notes["harmless"]`` counts those that passed because not a row was changed by them.
    """
    tally = Tally("a damaged copy of the database", notes={"harmless": 0, "unguarded": 0})
    world = recorded(blank, folder / "world", seed)
    whole = world.database.read_bytes()
    before = rows_of(world.database)
    assert checked(world) == []
    for name, held in _damaged(whole, Random(seed), flips):
        copy = replace(world, folder=folder / "copy")
        shutil.rmtree(copy.folder, ignore_errors=True)
        copy.folder.mkdir()
        copy.database.write_bytes(held)
        try:
            found = checked(copy)
        except Exception as error:  # whatever it is, the operator would see a traceback
            tally.wrong.append(f"{name}: a traceback, {type(error).__name__}: {error}")
            found = ["a traceback"]
        if not found:
            _passed(copy, before, name, tally)
        tally.tried += 1
        told()
    return tally


def _passed(copy: World, before: Rows, name: str, tally: Tally) -> None:
    """A damaged file passed the check: then every row must be as it was."""
    after = rows_of(copy.database)
    changed = {t for t in before.keys() | after.keys() if before.get(t) != after.get(t)}
    if changed - UNGUARDED:
        tally.wrong.append(f"{name}: all is said to be well, but changed: {sorted(changed)}")
    elif not is_sound(copy.database):
        tally.wrong.append(f"{name}: all is said to be well, but an index is not")
    elif changed:
        tally.notes["unguarded"] += 1
    else:
        tally.notes["harmless"] += 1


def _damaged(whole: bytes, random: Random, flips: int) -> Iterator[tuple[str, bytes]]:
    page = int.from_bytes(whole[16:18], "big")
    pages = len(whole) // page
    for _ in range(flips):
        place, bit = random.randrange(len(whole)), random.randrange(8)
        changed = bytearray(whole)
        changed[place] ^= 1 << bit
        yield f"bit {bit} of byte {place}", bytes(changed)
    for number in random.sample(range(pages), max(1, flips // 10)):
        start = number * page
        yield f"page {number} zeroed", whole[:start] + bytes(page) + whole[start + page :]
    for _ in range(max(1, flips // 20)):
        length = random.randrange(1, len(whole))
        yield f"cut at {length}", whole[:length]
        length -= length % page
        yield f"cut at page {length // page}", whole[:length]


def without_its_log(blank: Blank, folder: Path, seed: int) -> list[str]:
    """Copy a file in use without its -wal: it fails the check, or holds a beginning of the record.

    That the end is missing cannot be seen in the file itself, only by a checkpoint kept elsewhere.
    """
    world = World.copy_of(blank, folder / "world")
    store = Store(world.url)
    try:
        append(store, world, list(islice(happenings(seed), EVENTS)))
        copy = replace(world, folder=folder / "copy")
        copy.folder.mkdir()
        shutil.copyfile(world.database, copy.folder / DATABASE)
    finally:
        store.close()
    assert world.checked() == []
    if copy.checked():
        return []
    whole, part = rows_of(world.database)["event"], rows_of(copy.database)["event"]
    by_number = {row[1]: row for row in whole}
    numbers = sorted(row[1] for row in part)
    if numbers != list(range(2, len(numbers) + 2)) or any(by_number[r[1]] != r for r in part):
        return ["a copy without its log passes and is no beginning of the record"]
    return []
