"""The record is checked against itself, copied while in use, and guarded against changes."""

import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from threading import Event, Thread

import pytest
from alembic import command
from alembic.config import Config

from service.store import keeping
from service.store.checking import Check, Keys, check
from service.store.database import Database
from service.store.evidence import leaves
from service.store.keeping import DamagedError, KeepingError
from service.store.log import head
from service.store.migrating import MIGRATIONS
from service.store.store import Store
from tests.store.record import new_facility, on_file, site
from tests.trade import Story, at, bag

WASTE = "yellow-c"
WRITES = """
import sys
from pathlib import Path
from tests.store.record import on_file
from tests.trade import bag
store = on_file(Path(sys.argv[1]))
for number in range(10_000):
    store.append(sys.argv[2], bag("yellow-c").sealed("2026-07-02 10:00", f"MORE-{number}").entries)
    print(number, flush=True)
"""


def told(store: Store, facility: str) -> None:
    """A few containers with a cart, a consignment and a correction."""
    story = bag(WASTE).sealed("2026-07-01 08:00").sealed("2026-07-01 08:05", "BAG-2")
    story.packed("2026-07-01 09:00").stored("2026-07-01 10:00", "CART-1")
    story.dispatched("2026-07-01 11:00", "BAG-2").received("2026-07-01 13:00", "BAG-2")
    story.amended("2026-07-02 08:00", "registered", weight_g=2_900)
    store.append(facility, story.entries)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A database with a record in it and two versions of its set-up, closed."""
    folder = tmp_path_factory.mktemp("whole")
    with closing(on_file(folder)) as store:
        facility = new_facility(store)
        told(store, facility)
        store.set_up(site(facility, name="Renamed"), at("2026-07-03 08:00"), b"")
        list(store.rebuild(facility))
    return (folder / "record.sqlite3").read_bytes()


@pytest.fixture
def database(tmp_path: Path, whole: bytes) -> Path:
    """The same database in a file of the test's own."""
    file = tmp_path / "record.sqlite3"
    file.write_bytes(whole)
    return file


def checks(database: Path) -> list[Check]:
    """All that is looked at in a database at rest."""
    with closing(Database(f"sqlite:///{database}")) as opened, opened.reading() as connection:
        return list(check(connection, lambda _: Keys(), lambda *_: None))


def faults(database: Path) -> dict[str, str]:
    """What does not hold."""
    return {each.name: each.said for each in checks(database) if each.holds is False}


def past_the_triggers(database: Path, *statements: str) -> None:
    """Change rows as one would who has the file: the triggers are put back afterwards."""
    with closing(sqlite3.connect(database)) as connection:
        asked = "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'"
        triggers = connection.execute(asked).fetchall()
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            assert connection.execute(statement).rowcount > 0
        for _, sql in triggers:
            connection.execute(sql)
        connection.commit()


def test_all_holds_of_a_record_that_nobody_touched(database: Path) -> None:
    """Every check has a sentence; what was never signed is said to be unchecked."""
    found = checks(database)

    assert {each.name for each in found if each.holds is None} == {"last signed"}
    assert faults(database) == {}
    assert all(each.said for each in found)


@pytest.mark.parametrize(
    ("statement", "check_", "said"),
    [
        ("UPDATE event SET body = replace(body, '2900', '2901') WHERE kind = 'amended'",
         "leaves", "entry 7 (event "),
        ("UPDATE event SET body = replace(body, ',', ', ') WHERE seq = 2",
         "entries", "column body"),
        ("UPDATE event SET body = '{' WHERE seq = 2", "entries", "entry 1 (event "),
        ("UPDATE event SET kind = 'weighed' WHERE seq = 3", "entries", "column kind"),
        ("UPDATE event SET id = replace(id, '7', '8') WHERE seq = 3", "entries", "column id"),
        ("UPDATE event SET at = '2026-07-01 08:00:00.000001' WHERE seq = 2",
         "entries", "column at"),
        ("UPDATE event SET recorded_at = replace(recorded_at, ' ', 'T') WHERE seq = 2",
         "entries", "column recorded_at"),
        ("UPDATE event SET recorded_at = 'never' WHERE seq = 2",
         "entries", "recorded_at is no time"),
        ("UPDATE event SET clock_offset_s = 60 WHERE seq = 4", "leaves", "entry 3"),
        ("UPDATE event SET supersedes = NULL WHERE kind = 'amended'", "entries", "supersedes"),
        ("DELETE FROM event WHERE seq = 4", "leaves", "entry 3: its leaf is there"),
        ("DELETE FROM leaf WHERE number = 3", "leaves", "it has no leaf"),
        ("DELETE FROM leaf WHERE number = (SELECT max(number) FROM leaf)", "head", "column size"),
        ("UPDATE leaf SET hash = zeroblob(32) WHERE number = 2", "leaves", "entry 2 (event "),
        ("UPDATE leaf SET previous = zeroblob(32) WHERE number = 2", "leaves", "column previous"),
        ("UPDATE node SET hash = zeroblob(32) WHERE level = 2 AND number = 0", "nodes", "node 2/0"),
        ("DELETE FROM node WHERE level = 1 AND number = 1", "nodes", "node 1/1: it is gone"),
        ("UPDATE log SET last = zeroblob(32)", "head", "column last"),
        ("UPDATE log SET size = size - 1", "head", "column size"),
        ("UPDATE log SET peaks = zeroblob(32)", "head", "column peaks"),
        ("UPDATE setup SET document = replace(document, 'Renamed', 'Other') WHERE version = 2",
         "leaves", "set-up 2"),
        ("DELETE FROM setup WHERE version = 1", "set-ups", "a version is gone"),
        ("UPDATE container SET state = 'closed' WHERE container = 'BAG-2'",
         "projections", "container of BAG-2: the row is other"),
        ("DELETE FROM stay", "projections", "stay of CART-1"),
        ("UPDATE violation SET message = message || ' ' WHERE container = 'BAG-1'",
         "projections", "violation of BAG-1"),
        ("DELETE FROM named WHERE container = 'BAG-2'", "projections", "named of BAG-2"),
        ("UPDATE carried SET sent_g = 1", "projections", "carried of C-1 BAG-2"),
        ("UPDATE secret SET facility = 'x'", "facilities", "never set up"),
    ],
)  # fmt: skip
def test_what_was_changed_past_the_triggers_is_named(
    database: Path, statement: str, check_: str, said: str
) -> None:
    """Whoever has the file can drop the triggers; the check names what was changed."""
    assert faults(database) == {}

    past_the_triggers(database, statement)

    assert said in faults(database)[check_]


def test_two_entries_that_changed_places_are_both_named(database: Path) -> None:
    """Each is whole, but not where its leaf is."""
    past_the_triggers(
        database,
        "UPDATE event SET seq = 99 WHERE seq = 2",
        "UPDATE event SET seq = 2 WHERE seq = 3",
        "UPDATE event SET seq = 3 WHERE seq = 99",
    )

    found = faults(database)["leaves"]

    assert "entry 1 (event " in found
    assert "entry 2 (event " in found


def test_a_missing_or_hollowed_trigger_is_named(database: Path) -> None:
    """A trigger of the same name that refuses nothing is no trigger."""
    with closing(sqlite3.connect(database)) as connection:
        connection.execute("DROP TRIGGER event_refuses_update")
        connection.execute("DROP TRIGGER leaf_refuses_delete")
        connection.execute(
            "CREATE TRIGGER leaf_refuses_delete BEFORE DELETE ON leaf BEGIN SELECT 1; END"
        )

    found = faults(database)["schema"]

    assert "the trigger event_refuses_update is missing" in found
    assert "the trigger leaf_refuses_delete is not as it was made" in found


def test_the_check_writes_nothing(database: Path) -> None:
    """The file has the same bytes after it, and no copy is left beside it."""
    before, beside = database.read_bytes(), sorted(database.parent.iterdir())

    checks(database)

    assert database.read_bytes() == before
    assert sorted(database.parent.iterdir()) == beside


# --- triggers


KEPT = {
    "setup": "version = version + 1",
    "event": "kind = 'lost'",
    "leaf": "hash = zeroblob(32)",
    "node": "hash = zeroblob(32)",
    "checkpoint": "note = ''",
}


ACTS = {
    "update": "UPDATE {table} SET {change}",
    "delete": "DELETE FROM {table}",
    "replace": "INSERT OR REPLACE INTO {table} SELECT * FROM {table}",
}


@pytest.mark.parametrize("table", KEPT)
@pytest.mark.parametrize("act", ACTS)
def test_no_statement_changes_what_was_written(database: Path, table: str, act: str) -> None:
    """Whatever program opens the file: changed, deleted and replaced rows are refused."""
    with closing(sqlite3.connect(database)) as connection:
        connection.execute("INSERT INTO checkpoint VALUES ('h', 1, 'k', '2026-07-01', 'n')")
        connection.commit()
        before = connection.execute(f"SELECT * FROM {table}").fetchall()  # noqa: S608
        statement = ACTS[act].format(table=table, change=KEPT[table])

        with pytest.raises(sqlite3.IntegrityError, match="never changed"):
            connection.execute(statement)

        assert before
        assert connection.execute(f"SELECT * FROM {table}").fetchall() == before  # noqa: S608


# --- copies


def nothing(_: object) -> None:
    """Look at nothing."""


def test_a_backup_under_load_holds_all_that_was_acknowledged_before(tmp_path: Path) -> None:
    """Another process writes all the while; the copy is one file, for us alone, and sound."""
    with closing(on_file(tmp_path)) as store:
        facility = new_facility(store)
    program = [sys.executable, "-c", WRITES, str(tmp_path), facility]
    root = Path(__file__).parents[2]
    out = tmp_path / "copy"
    with subprocess.Popen(program, stdout=subprocess.PIPE, text=True, cwd=root) as writer:
        assert writer.stdout is not None
        for _ in range(3):
            acknowledged = 0
            for _ in range(10):
                acknowledged = int(writer.stdout.readline())
            keeping.backup(tmp_path / "record.sqlite3", out, nothing, replace=True)
            with closing(sqlite3.connect(out)) as connection:
                held = connection.execute("SELECT count(*) FROM event").fetchone()[0]
            assert held > acknowledged
            assert faults(out) == {}
        writer.terminate()
    assert out.stat().st_mode & 0o777 == 0o600
    assert [path.name for path in tmp_path.glob("*copy*")] == ["copy"]


def test_a_backup_neither_waits_for_a_writer_nor_holds_one_up(database: Path) -> None:
    """A transaction is open while the copy is made, and commits afterwards."""
    out, began, copied = database.parent / "copy", Event(), Event()

    def write() -> None:
        with closing(Database(f"sqlite:///{database}")) as held, held.writing() as connection:
            connection.exec_driver_sql("INSERT INTO secret VALUES ('f', 'n', x'00')")
            began.set()
            copied.wait(30)

    writer = Thread(target=write)
    writer.start()
    began.wait(30)
    keeping.backup(database, out, nothing)
    copied.set()
    writer.join()

    count = "SELECT count(*) FROM secret WHERE facility = 'f'"
    for path, held_rows in ((out, 0), (database, 1)):
        with closing(sqlite3.connect(path)) as connection:
            assert connection.execute(count).fetchone() == (held_rows,)


def refused(_: object) -> None:
    """Find something wrong with a copy."""
    raise DamagedError("not sound")


@pytest.mark.parametrize("look", [nothing, refused])
def test_what_is_no_database_is_not_copied(database: Path, look: Callable[[object], None]) -> None:
    """Neither one whose pages are gone nor one in which something was found; nothing is left."""
    if look is nothing:
        database.write_bytes(b"no database at all" * 300)

    with pytest.raises(DamagedError):
        keeping.backup(database, database.parent / "copy", look)

    assert list(database.parent.glob("*copy*")) == []


def test_a_backup_does_not_write_over_the_record_itself(database: Path) -> None:
    """Not even when told to replace."""
    for name in ("record.sqlite3", "record.sqlite3-wal"):
        with pytest.raises(KeepingError, match="the database itself"):
            keeping.backup(database, database.parent / name, nothing, replace=True)


def test_a_file_in_use_is_no_backup(database: Path, tmp_path: Path) -> None:
    """Part of it is in its log beside it: to restore the file alone would lose that."""
    with closing(Store(f"sqlite:///{database}")) as store:
        new_facility(store)
        with pytest.raises(KeepingError, match="in use, not a backup"):
            keeping.restore(database, tmp_path / "new.sqlite3", nothing)


# --- from the first version


@pytest.fixture
def first_version(tmp_path: Path) -> Iterator[tuple[Path, str, set[bytes]]]:
    """A database as the first version had it: no log yet, two set-ups; and its leaves."""
    with closing(on_file(tmp_path)) as store:
        facility = new_facility(store)
        store.set_up(site(facility, name="Renamed"), at("2026-06-01 08:00"), b"")
        told(store, facility)
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    with closing(Database(f"sqlite:///{tmp_path / 'record.sqlite3'}")) as database:
        with database.reading() as connection:
            size = head(connection, facility).size
            held = {leaf for _, leaf in leaves(connection, facility, 0, size)}
        with database.writing() as connection:
            # The first version numbered events alone: without the set-ups before them.
            config.attributes["connection"] = connection
            command.downgrade(config, "0001")
            connection.exec_driver_sql("UPDATE event SET seq = seq - 2")
    yield tmp_path / "record.sqlite3", facility, held


def test_a_record_of_the_first_version_gets_its_log(
    first_version: tuple[Path, str, set[bytes]],
) -> None:
    """Every entry and set-up has a leaf, the same as ever; after a rebuild all holds."""
    path, facility, before = first_version
    with closing(Store(f"sqlite:///{path}")) as store:
        list(store.rebuild(facility))
        with store.reading() as connection:
            size = head(connection, facility).size
            after = {leaf for _, leaf in leaves(connection, facility, 0, size)}

    assert after == before
    assert size == len(before)
    assert faults(path) == {}


def test_a_record_of_the_first_version_is_said_to_be_one(
    first_version: tuple[Path, str, set[bytes]],
) -> None:
    """It is not brought up to date by being looked at."""
    path, _, _ = first_version

    assert "it is of version 0001" in faults(path)["schema"]
    assert "it is of version 0001" in faults(path)["schema"]


def test_a_story_told_twice_is_the_same_to_the_check(database: Path) -> None:
    """A log that grew after a check holds again: nothing of the check is left behind."""
    assert faults(database) == {}
    with closing(Store(f"sqlite:///{database}")) as store:
        [facility] = store.facilities()
        store.append(facility, Story(category=WASTE).sealed("2026-07-04 08:00", "BAG-9").entries)
    assert faults(database) == {}
