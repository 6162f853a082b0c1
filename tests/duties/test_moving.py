"""The record is moved to PostgreSQL and back: all of it is the same there, or nothing is there."""

from collections.abc import Callable
from contextlib import closing
from hashlib import sha256
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import create_engine, select, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import DBAPIError
from sqlmodel import SQLModel

from service.access.caller import WHOLE
from service.custody.words import Role
from service.duties import administrator, moving
from service.duties.keeping import DamagedError, KeepingError
from service.store import moving as copying
from service.store.database import Database
from service.store.keyring import Keyring
from service.store.rows import insert_rows
from service.store.store import Store
from tests.api.client import NOON, event, ids, sealed
from tests.duties.desk import Desk
from tests.machines import PASSING

BAGS = ids(6, 31)
TABLES = {table.name: table for table in SQLModel.metadata.sorted_tables}
_numbers = count(1)


@pytest.fixture
def record(tmp_path: Path) -> str:
    """The address of a record: bags on their way, somebody who works there, a trace."""
    address = f"sqlite:///{tmp_path / 'custody.sqlite3'}"
    desk = Desk.at(Store(address))
    new = administrator.NewPerson("Ila", Role.WARD, WHOLE, "p-ila", None)
    administrator.add_person(desk.store, desk.caller(Role.ADMINISTRATOR), new, NOON)
    desk.tell(
        *(sealed(bag) for bag in BAGS[:4]),
        sealed(BAGS[4], closed=False),
        event("packed", *BAGS[:2], parent=BAGS[5]),
        event("stored", BAGS[2], store="chilled-store", temperature_c="4.50"),
        event("dispatched", BAGS[3], consignment="C-1", carrier="carrier-quillow",
              consignee="plant-kiln"),
    )  # fmt: skip
    desk.store.keep_traces(desk.facility, {sha256(PASSING).hexdigest(): PASSING})
    desk.store.close()
    return address


@pytest.fixture
def empty(postgresql: str) -> str:
    """The address of a new database on the server."""
    name = f"moved_{next(_numbers)}"
    server = create_engine(postgresql, isolation_level="AUTOCOMMIT")
    with server.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    server.dispose()
    return make_url(postgresql).set(database=name).render_as_string(hide_password=False)


@pytest.fixture
def move(tmp_path: Path) -> Callable[[str, str], moving.Moved]:
    """Move a record from one address to another."""
    ring = Keyring(tmp_path / "keys")
    return lambda url, to: moving.move(url, to, ring, lambda *_: None)


def everything(url: str) -> dict[str, list[Any]]:
    """Every row of every table."""
    with closing(Database(url)) as database, database.reading() as connection:
        return {
            name: sorted((tuple(row) for row in connection.execute(select(table))), key=repr)
            for name, table in TABLES.items()
        }


def test_a_record_goes_to_postgresql_and_back_and_is_the_same(
    record: str, empty: str, tmp_path: Path, move: Any
) -> None:
    """Every row of every table, and the root of the log; the old one stays as it was."""
    before = everything(record)
    back = f"sqlite:///{tmp_path / 'back.sqlite3'}"

    there = move(record, empty)
    home = move(empty, back)

    assert everything(record) == everything(empty) == everything(back) == before
    assert there == home
    assert there.rows == {name: len(rows) for name, rows in before.items()}
    assert min(there.rows[name] for name in ("event", "leaf", "container", "person", "trace")) > 0


def test_work_goes_on_where_the_record_was_moved_to(record: str, empty: str, move: Any) -> None:
    """The log grows from its last entry."""
    [held] = move(record, empty).held
    with closing(Store(empty)) as store:
        told = Desk(store, held.facility).tell(event("weighed", BAGS[2], weight_g=3_410))
        assert [one.outcome for one in told] == ["recorded"]
        with store.reading() as connection:
            size = connection.execute(text("SELECT size FROM log WHERE facility = :f"),
                                      {"f": held.facility}).scalar()  # fmt: skip
    assert size == held.entries + 1


def test_a_database_that_holds_something_is_not_written(record: str, empty: str, move: Any) -> None:
    """It may be somebody's record."""
    move(record, empty)
    before = everything(empty)
    with pytest.raises(KeepingError, match="not empty: there are rows in access"):
        move(record, empty)
    assert everything(empty) == before


def test_a_move_that_breaks_off_leaves_nothing(
    record: str, empty: str, tmp_path: Path, move: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither rows on the server nor a file; the record is as it was."""

    def broken(connection: Any, table: Any, rows: Any) -> None:
        insert_rows(connection, table, rows)
        if table.name == "event":
            raise OSError("the cable was pulled")

    before = everything(record)
    monkeypatch.setattr(copying, "insert_rows", broken)
    for to in (empty, f"sqlite:///{tmp_path / 'new.sqlite3'}"):
        with pytest.raises(OSError, match="cable"):
            move(record, to)
    assert not any(everything(empty).values())
    assert not list(tmp_path.glob("new.sqlite3*"))
    assert everything(record) == before


@pytest.mark.parametrize(
    ("name", "column", "value"), [("event", "body", "{}"), ("violation", "message", "other")]
)
def test_what_became_another_on_the_way_is_named_by_its_key(
    record: str, empty: str, move: Any, monkeypatch: pytest.MonkeyPatch,
    name: str, column: str, value: str,
) -> None:  # fmt: skip
    """And nothing is left of the copy."""

    def careless(connection: Any, table: Any, rows: Any) -> None:
        if table.name == name:
            rows = [rows[0] | {column: value}, *rows[1:]]
        insert_rows(connection, table, rows)

    monkeypatch.setattr(copying, "insert_rows", careless)
    with pytest.raises(DamagedError, match=f"{name} differs after the copy: the row of facility"):
        move(record, empty)
    assert not any(everything(empty).values())


def test_a_copy_that_the_check_finds_wrong_is_thrown_away(
    record: str, empty: str, tmp_path: Path, move: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Though each value were the same as before: the check has the last word, then all goes."""

    def careless(connection: Any, table: Any, rows: Any) -> None:
        if table.name == "leaf":
            rows = [rows[0], rows[1] | {"hash": bytes(32)}, *rows[2:]]
        insert_rows(connection, table, rows)

    monkeypatch.setattr(copying, "insert_rows", careless)
    monkeypatch.setattr(copying, "compare", lambda *_: None)
    for to in (empty, f"sqlite:///{tmp_path / 'new.sqlite3'}"):
        with pytest.raises(DamagedError, match=r"the copy is not sound, .*: .*leaves"):
            move(record, to)
    assert not any(everything(empty).values())
    assert not list(tmp_path.glob("new.sqlite3*"))


def test_a_record_on_postgresql_is_not_written_while_it_is_moved(
    record: str, empty: str, tmp_path: Path, move: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever would record meanwhile waits, and is not in the copy by halves."""
    move(record, empty)
    waited: list[object] = []

    def meanwhile(connection: Any, table: Any, rows: Any) -> None:
        if not waited:
            with closing(Database(empty)) as other, other.reading() as beside:
                beside.exec_driver_sql("SET LOCAL lock_timeout = '50ms'")
                with pytest.raises(DBAPIError, match="lock timeout") as told:
                    beside.exec_driver_sql("INSERT INTO secret VALUES ('hospital', 'late', '')")
                waited.append(told)
        insert_rows(connection, table, rows)

    monkeypatch.setattr(copying, "insert_rows", meanwhile)
    move(empty, f"sqlite:///{tmp_path / 'back.sqlite3'}")
    assert waited


def test_what_was_lost_on_the_way_is_named(
    record: str, empty: str, move: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A row too few is found as well as a row that differs."""

    def losing(connection: Any, table: Any, rows: Any) -> None:
        insert_rows(connection, table, rows[:-1] if table.name == "leaf" else rows)

    monkeypatch.setattr(copying, "insert_rows", losing)
    with pytest.raises(DamagedError, match="leaf differs after the copy"):
        move(record, empty)


def test_a_record_that_is_not_sound_is_not_moved(record: str, empty: str, move: Any) -> None:
    """What is wrong is said, as 'custody check' says it."""
    with closing(Database(record)) as database, database.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER leaf_refuses_delete")
        connection.exec_driver_sql("DELETE FROM leaf WHERE number = 3")
    with pytest.raises(DamagedError, match="the record is not sound: "):
        move(record, empty)


def test_there_must_be_a_record_and_a_place(record: str, tmp_path: Path, move: Any) -> None:
    """No file is made in passing."""
    with pytest.raises(KeepingError, match="there is no database"):
        move(f"sqlite:///{tmp_path / 'none.sqlite3'}", f"sqlite:///{tmp_path / 'new.sqlite3'}")
    with pytest.raises(KeepingError, match="there is no folder"):
        move(record, f"sqlite:///{tmp_path / 'nowhere' / 'new.sqlite3'}")
    assert {path.name for path in tmp_path.glob("n*")} == set()
