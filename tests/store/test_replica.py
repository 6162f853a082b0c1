"""A replica that streams from a PostgreSQL server: read when it is up to date, passed over if not.

Two real servers of the module's own. What is recorded must be seen by the next reading in any case.
"""

import logging
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from prometheus_client import generate_latest
from prometheus_client.parser import text_string_to_metric_families
from sqlalchemy import Connection, text

from service.api.metrics import Meters
from service.custody.events import Entry
from service.custody.words import Role
from service.duties import administrator, figures, lookup
from service.duties.balance import Days, balance
from service.duties.officer import manifest
from service.duties.watching import watch
from service.store import replica as choice
from service.store.faults import BusyError, UnusableError
from service.store.queries import ContainerFilter, ViolationFilter, entries_after
from service.store.store import Store
from tests.api.client import NOON, ids, sealed
from tests.duties.desk import Desk
from tests.postgres import Cluster, cluster, quick
from tests.store.following import Pair
from tests.store.record import new_facility, on_file
from tests.trade import bag

SEALED = bag("yellow-c").sealed("2026-07-01 10:00").entries
LATER = bag("yellow-c").sealed("2026-07-01 11:00").entries
_numbers = count(1)


@pytest.fixture(scope="module")
def pair() -> Iterator[Pair]:
    """Both, for the module."""
    with cluster({"autovacuum": "off"}, where=quick()) as server:  # nobody writes but the tests
        server.ask("CREATE ROLE plain LOGIN")
        replica = server.copied("replica")
        replica.start()
        try:
            yield Pair(server, replica)
        finally:
            if replica.processes():
                replica.kill(all_at_once=True)


@pytest.fixture
def name(pair: Pair) -> str:
    """A database of a user who is nobody special, on both."""
    made = f"test_{next(_numbers)}"
    pair.server.made(made, "--owner=plain")
    return made


@pytest.fixture
def store(pair: Pair, name: str) -> Iterator[Store]:
    """A store that has a replica, with a clock that stands still."""
    with closing(opened(pair, name)) as kept:
        yield kept


@pytest.fixture
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """A replica on a machine that is busy with other tests is waited for as long as it takes."""
    monkeypatch.setattr(choice, "LOOKS", 4_000)


def address(server: Cluster, name: str) -> str:
    """The address of a database for that user."""
    return server.url(name).replace("custody@", "plain@")


def opened(pair: Pair, name: str) -> Store:
    """One process's store."""
    store = Store(address(pair.server, name), address(pair.replica, name))
    assert store.replica is not None
    store.replica._clock = lambda: 0.0
    return store


def pass_time(store: Store, seconds: float) -> None:
    """Have the clock by which the store chooses go on."""
    assert store.replica is not None
    now = store.replica._clock() + seconds
    store.replica._clock = lambda: now


def recorded(connection: Connection, facility: str) -> list[Entry]:
    """The record in order."""
    return [entry for _, entry in entries_after(connection, facility, 0, 100)]


def seen(store: Store, facility: str) -> list[Entry]:
    """What a page would show."""
    with store.viewing() as connection:
        return recorded(connection, facility)


def used(store: Store) -> tuple[int, int]:
    """How many readings were made at the replica, and at the server."""
    assert store.replica is not None
    return store.replica.at_replica, store.replica.at_server


@pytest.mark.usefixtures("patient")
def test_what_is_shown_is_read_at_the_replica(store: Store, pair: Pair) -> None:
    """All of it: in a transaction of one state, at a server that takes no entries."""
    facility = new_facility(store)
    store.append(facility, SEALED)
    pair.catch_up()
    with store.viewing() as connection:
        assert connection.execute(text("SELECT pg_is_in_recovery()")).scalar() is True
        assert connection.execute(text("SHOW transaction_isolation")).scalar() == "repeatable read"
        assert recorded(connection, facility) == list(SEALED)
    with store.reading() as connection:
        assert connection.execute(text("SELECT pg_is_in_recovery()")).scalar() is False
    assert used(store) == (1, 0)


def test_what_was_just_recorded_is_seen_though_the_replica_is_behind(
    store: Store, pair: Pair
) -> None:
    """Then the server is read; and the replica again once it has caught up."""
    facility = new_facility(store)
    store.append(facility, SEALED)
    with pair.paused():
        assert seen(store, facility) == list(SEALED)
        assert used(store) == (1, 0)
        store.append(facility, LATER)
        assert seen(store, facility) == [*SEALED, *LATER]
        assert used(store) == (1, 1)
        assert store.replica and store.replica.behind_bytes
    pair.catch_up()
    assert seen(store, facility) == [*SEALED, *LATER]
    assert used(store) == (2, 1)
    assert store.replica.behind_bytes == 0


def test_a_monitoring_program_is_told_where_readings_were_made(store: Store, pair: Pair) -> None:
    """And how far the replica was behind, once it was asked."""
    facility, meters = new_facility(store), Meters(store)

    def told() -> dict[tuple[str, str], float]:
        text_form = generate_latest(meters.registry).decode()
        return {
            (sample.name, sample.labels.get("at", "")): sample.value
            for family in text_string_to_metric_families(text_form)
            for sample in family.samples
        }

    assert ("custody_replica_behind_bytes", "") not in told()
    pair.catch_up()
    seen(store, facility)
    with pair.paused():
        store.append(facility, SEALED)
        seen(store, facility)
        figures_told = told()
    assert figures_told["custody_readings_total", "replica"] == 1
    assert figures_told["custody_readings_total", "server"] == 1
    assert figures_told["custody_replica_behind_bytes", ""] > 0


def test_no_reading_is_of_an_older_state_than_the_one_before(
    store: Store, pair: Pair, name: str
) -> None:
    """What another process recorded, once it was seen at the server, is not unseen again.

    The replica has then what this process recorded, and not yet what the other did.
    """
    facility = new_facility(store)
    with closing(opened(pair, name)) as other, pair.paused():
        store.append(facility, SEALED)
        assert seen(store, facility) == list(SEALED)
        ours = pair.received()
        with pair.held_up():
            other.append(facility, LATER)
            assert seen(store, facility) == [*SEALED, *LATER]
            pair.replica.ask("SELECT pg_wal_replay_resume()")
            pair.wait(f"pg_last_wal_replay_lsn() >= '{ours}'::pg_lsn")
            assert seen(store, facility) == [*SEALED, *LATER]
    assert used(store) == (0, 3)


def test_what_other_processes_recorded_is_seen_within_a_second(
    store: Store, pair: Pair, name: str
) -> None:
    """Until then the replica may be read as it is; then the server is asked how far it is."""
    facility = new_facility(store)
    with closing(opened(pair, name)) as other:
        pair.catch_up()
        assert seen(other, facility) == []
        with pair.paused():
            store.append(facility, SEALED)
            assert seen(other, facility) == []
            pass_time(other, choice.ASKED_EVERY_S)
            assert seen(other, facility) == list(SEALED)
        assert used(other) == (2, 1)


def test_a_process_that_begins_sees_all_that_was_recorded_before(
    store: Store, pair: Pair, name: str
) -> None:
    """A command that is called after an answer of the service."""
    facility = new_facility(store)
    with pair.paused():
        store.append(facility, SEALED)
        with closing(opened(pair, name)) as command:
            assert seen(command, facility) == list(SEALED)
            assert used(command) == (0, 1)


def test_a_replica_that_is_dead_is_done_without(
    store: Store, pair: Pair, caplog: pytest.LogCaptureFixture
) -> None:
    """Said once; tried again after a rest, and read once it is back."""
    facility = new_facility(store)
    pair.catch_up()
    assert seen(store, facility) == []
    pair.replica.kill(all_at_once=True)
    try:
        with caplog.at_level(logging.WARNING, "custody"):
            store.append(facility, SEALED)
            for _ in range(3):
                assert seen(store, facility) == list(SEALED)
        assert used(store) == (1, 3)
        assert [r.message for r in caplog.records if "the server is in its place" in r.message] == [
            caplog.records[0].message
        ]
    finally:
        pair.replica.start()
    pair.catch_up()
    assert seen(store, facility) == list(SEALED)
    assert used(store) == (1, 4)
    pass_time(store, choice.REST_S)
    assert seen(store, facility) == list(SEALED)
    assert used(store) == (2, 4)


def test_a_reading_that_the_replica_breaks_off_is_made_at_the_server_next(
    store: Store, pair: Pair
) -> None:
    """As when what it reads must give way to what the server cleaned up: the sender asks again."""
    facility = new_facility(store)
    pair.catch_up()
    with pytest.raises(BusyError), store.viewing() as connection:
        pid = connection.execute(text("SELECT pg_backend_pid()")).scalar()
        pair.replica.ask(f"SELECT pg_terminate_backend({pid}, 10000)")
        connection.execute(text("SELECT 1"))
    assert seen(store, facility) == []
    assert used(store) == (1, 1)


def test_what_follows_nobody_or_another_is_not_read(
    pair: Pair, name: str, caplog: pytest.LogCaptureFixture
) -> None:
    """A server that takes entries itself, and a database of another name, hold another record."""
    server = address(pair.server, name)
    pair.server.made(f"{name}_other", "--owner=plain")
    pair.catch_up()
    for wrong, why in (
        (server, "it follows no server"),
        (address(pair.replica, f"{name}_other"), "it follows another"),
    ):
        caplog.clear()
        with closing(Store(server, wrong)) as store:
            facility = new_facility(store)
            store.append(facility, SEALED)
            pair.catch_up()
            assert seen(store, facility) == list(SEALED)
            assert used(store) == (0, 1)
        assert why in caplog.text


def test_a_replica_of_a_line_that_the_server_left_is_not_read(store: Store, pair: Pair) -> None:
    """After a standby took over, the same position is another state."""
    facility = new_facility(store)
    store.append(facility, SEALED)
    pair.catch_up()
    assert store.replica is not None
    mark = store.replica._asked()
    system, database, line = mark.where
    assert line == 1
    store.replica._mark = replace(mark, where=(system, database, 2))
    assert seen(store, facility) == list(SEALED)
    assert used(store) == (0, 1)


@pytest.mark.usefixtures("patient")
def test_what_is_shown_and_handed_out_is_the_same_from_either(
    store: Store, pair: Pair, name: str
) -> None:
    """Lists, figures, returns, plans, manifest and export: a word of each, by the same question."""
    desk = Desk.at(store)
    desk.tell(*(sealed(each) for each in ids(3)))
    officer, days = desk.caller(), Days(NOON.date(), NOON.date())
    asked: dict[str, Callable[[Store], Any]] = {
        "container": lambda s: lookup.container(s, officer, ids(3)[0], NOON),
        "containers": lambda s: lookup.containers(s, officer, ContainerFilter()),
        "violations": lambda s: lookup.violations(s, officer, ViolationFilter(at=NOON)),
        "entries": lambda s: lookup.entries_after(s, officer, 0, 100),
        "figures": lambda s: figures.rates(s, officer, days),
        "balance": lambda s: balance(s, officer, days, 1, NOON),
        "condition": lambda s: watch(s, officer, NOON),
        "manifest": lambda s: manifest(s, officer, "2026-Q3", NOON),
    }
    with closing(Store(address(pair.server, name))) as without:
        for number, (what, ask) in enumerate(asked.items(), 1):
            pair.catch_up()
            assert ask(store) == ask(without), what
            assert used(store) == (number, 0), what


def test_who_may_come_in_is_asked_of_the_server(store: Store, pair: Pair) -> None:
    """Nobody who was shut out by another process is let in by a replica that is behind."""
    desk = Desk.at(store)
    desk.take_on("p-ila")
    with pair.paused():
        assert [p.id for p in administrator.people(store, desk.caller(Role.ADMINISTRATOR))]
        desk.tell(sealed(ids(1)[0]))
    assert used(store) == (0, 0)


def test_a_file_has_no_replica(pair: Pair, name: str, tmp_path: Path) -> None:
    """Nor is a file one: both settings are named."""
    file = f"sqlite:///{tmp_path / 'record.sqlite3'}"
    for url, read_url in ((file, address(pair.replica, name)), (address(pair.server, name), file)):
        with pytest.raises(UnusableError, match="CUSTODY_READ_DATABASE_URL names a replica"):
            Store(url, read_url)
    with closing(on_file(tmp_path)) as store:
        assert store.replica is None
