"""PostgreSQL: what is seen to before anything is recorded, who waits for whom, what is tried anew.

Each on a real server of the module's own, which is set wrongly on purpose.
"""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from itertools import count

import psycopg
import pytest
from sqlalchemy import text
from sqlmodel import SQLModel

from service.access.entries import access_log
from service.store import server as postgresql
from service.store.faults import BusyError, TakenBackError, UnusableError
from service.store.store import Store
from service.store.writer import TRIES
from tests.postgres import Cluster, cluster, quick
from tests.store.record import LABEL_KEY, SET_UP_AT, new_facility, record, site
from tests.trade import bag

SOON_S = 30
_numbers = count(1)
SEALED = bag("yellow-c").sealed("2026-07-01 10:00").entries


@pytest.fixture(scope="module")
def cluster_() -> Iterator[Cluster]:
    """A server that runs for the module."""
    with cluster(where=quick()) as made:
        yield made


@pytest.fixture
def url(cluster_: Cluster) -> str:
    """The address of an empty database."""
    return cluster_.made(f"test_{next(_numbers)}")


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    """A store on a database of its own."""
    with closing(Store(url)) as kept:
        yield kept


def name_of(url: str) -> str:
    """The database that an address names."""
    return url.rsplit("/", 1)[1]


@contextmanager
def outside(url: str) -> Iterator[psycopg.Connection]:
    """A connection that is none of the service's."""
    with psycopg.connect(url.replace("+psycopg", "")) as plain:
        yield plain


@contextmanager
def restarted(server: Cluster, **settings: str) -> Iterator[None]:
    """The server started with other settings, and as it was afterwards."""
    as_it_was = server.settings

    def start(said: dict[str, str]) -> None:
        server.stop()
        server.settings = said
        server.start()

    start(as_it_was | settings)
    try:
        yield
    finally:
        start(as_it_was)


# --- what is relied on


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("fsync", "off"),
        ("full_page_writes", "off"),
        ("synchronous_commit", "off"),
        ("session_replication_role", "replica"),
    ],
)
def test_a_server_that_does_not_keep_what_it_says_is_refused(
    cluster_: Cluster, url: str, name: str, value: str
) -> None:
    """The sentence names the setting; not one table is made."""
    with restarted(cluster_, **{name: value}):
        with pytest.raises(UnusableError, match=f"setting {name} is {value}: .*; it must be o"):
            Store(url)
        assert (
            cluster_.ask("SELECT * FROM pg_tables WHERE schemaname = 'public'", name_of(url)) == []
        )
    Store(url).close()


def test_a_database_that_does_not_keep_every_text_is_refused(cluster_: Cluster) -> None:
    """Latin 1 has no Devanagari."""
    options = ("--template=template0", "--encoding=LATIN1", "--locale-provider=libc", "--locale=C")
    with pytest.raises(UnusableError, match="server_encoding is LATIN1"):
        Store(cluster_.made("latin", *options))


def test_a_version_that_nothing_was_tried_on_is_refused(
    url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its number is in the sentence."""
    monkeypatch.setattr(postgresql, "TESTED", 1_000)
    with pytest.raises(UnusableError, match=r"PostgreSQL's version is .* 1000 and newer"):
        Store(url)


def test_a_server_set_wrongly_under_a_running_service_is_found_out(
    cluster_: Cluster, store: Store, url: str
) -> None:
    """The next entry is not recorded, rather than recorded on nothing; later it is."""
    facility = new_facility(store)
    with restarted(cluster_, fsync="off"):
        with pytest.raises(UnusableError, match="fsync is off"):
            store.append(facility, SEALED)
        assert record(store, facility) == []  # who only reads may
    assert [o.outcome for o in store.append(facility, SEALED)] == ["recorded"]


@pytest.mark.parametrize("value", ["local", "remote_write", "remote_apply"])
def test_what_waits_for_the_servers_own_disk_is_enough(
    cluster_: Cluster, url: str, value: str
) -> None:
    """What it waits for at a standby is the operator's to choose."""
    cluster_.ask(f"ALTER DATABASE {name_of(url)} SET synchronous_commit = {value}")
    with closing(Store(url)) as store:
        assert [o.outcome for o in store.append(new_facility(store), SEALED)] == ["recorded"]


def test_defaults_of_the_user_change_nothing(cluster_: Cluster, url: str) -> None:
    """How far transactions see each other, and how long a commit may wait, the service says."""
    names = ("transaction_isolation", "statement_timeout", "lock_timeout")
    for name, value in zip(names, ("serializable", "1h", "1h"), strict=True):
        default = name.replace("transaction", "default_transaction")
        cluster_.ask(f"ALTER DATABASE {name_of(url)} SET {default} = '{value}'")
    with closing(Store(url)) as store:
        with store.database.writing("a test") as connection:
            shown = [connection.exec_driver_sql(f"SHOW {name}").scalar() for name in names]
        with store.database.reading() as connection:
            read = connection.exec_driver_sql("SHOW transaction_isolation").scalar()

    assert [cluster_.ask(f"SHOW {name}", name_of(url)) for name in names] == [
        [("serializable",)],
        [("1h",)],
        [("1h",)],
    ]
    assert shown == ["read committed", "0", "30s"]
    assert read == "repeatable read"


def test_texts_sort_by_their_bytes_in_a_database_that_sorts_as_a_dictionary(
    store: Store, facility: str
) -> None:
    """As Python sorts them, in every column of ours; the database itself does not."""
    words = ["a-b", "ab", "B", "a.c", "é", "z", "_", "1"]
    with store.database.writing("a test") as connection:
        as_it_is = text("SELECT x FROM unnest(CAST(:words AS text[])) AS t (x) ORDER BY x")
        dictionary = connection.execute(as_it_is, {"words": words}).scalars()
        assert list(dictionary) != sorted(words)
        for word in words:
            connection.execute(
                text("INSERT INTO secret VALUES ('sorting', :word, '')"), {"word": word}
            )
        by_name = text("SELECT name FROM secret WHERE facility = 'sorting' ORDER BY name")
        assert list(connection.execute(by_name).scalars()) == sorted(words)
        otherwise = connection.execute(
            text(
                "SELECT table_name, column_name FROM information_schema.columns "
                "WHERE table_schema = 'public' AND table_name = ANY(:ours) "
                "AND data_type IN ('text', 'character varying') "
                "AND collation_name IS DISTINCT FROM 'C'"
            ),
            {"ours": list(SQLModel.metadata.tables)},
        )
        assert otherwise.all() == []


# --- who waits for whom


def test_a_writer_holds_the_heads_of_its_logs_and_no_others(store: Store, url: str) -> None:
    """A row of each, and no name: that lock would be the whole server's."""
    ours, theirs = new_facility(store), new_facility(store)
    free = "SELECT facility FROM log ORDER BY facility FOR UPDATE SKIP LOCKED"
    with store.database.writing(ours), outside(url) as plain:
        assert plain.execute(free).fetchall() == [(theirs,)]
        held = plain.execute("SELECT count(*) FROM pg_locks WHERE locktype = 'advisory'")
        assert held.fetchall() == [(0,)]
    with outside(url) as plain:
        assert plain.execute(free).fetchall() == sorted([(ours,), (theirs,)])


def test_many_make_the_same_logs_at_once_and_none_is_made_twice(store: Store, url: str) -> None:
    """Eight processes' worth set up the same three facilities, in as many orders."""
    facilities = ["house-x", "house-y", "house-z"]
    stores = [Store(url) for _ in range(8)]
    try:

        def make(number: int) -> list[int]:
            turn = number % 3
            names = facilities[turn:] + facilities[:turn]
            return [stores[number].set_up(site(n), SET_UP_AT, LABEL_KEY) for n in names]

        def append_to_all(number: int) -> list[str]:
            with stores[number].database.writing(*facilities, access_log("house-y")):
                pass
            entries = bag("yellow-c", f"BAG-{number}").sealed("2026-07-01 10:00").entries
            return [stores[number].append(f, entries)[0].outcome for f in facilities]

        with ThreadPoolExecutor(8) as pool:
            versions = list(pool.map(make, range(8)))
            outcomes = list(pool.map(append_to_all, range(8)))
    finally:
        for each in stores:
            each.close()

    assert sorted(v for told in versions for v in told) == sorted(list(range(1, 9)) * 3)
    assert outcomes == [["recorded"] * 3] * 8
    for facility in facilities:
        assert [row.seq for row in record(store, facility)] == list(range(9, 17))


# --- what the database takes back


def faulty(cluster_: Cluster, url: str, times: int) -> None:
    """Have the server take back so many transactions that write entries, as it does its own."""
    cluster_.ask(
        "CREATE SEQUENCE tries;"
        "CREATE FUNCTION fail() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN"
        f" IF nextval('tries') <= {times} THEN RAISE serialization_failure; END IF;"
        " RETURN NEW; END $$;"
        "CREATE TRIGGER fail BEFORE UPDATE ON log FOR EACH ROW EXECUTE FUNCTION fail()",
        name_of(url),
    )


def test_what_was_taken_back_is_recorded_anew_and_once(
    cluster_: Cluster, store: Store, url: str
) -> None:
    """SQLSTATE 40001 (manual, appendix A): the whole transaction again, and it holds."""
    facility = new_facility(store)
    faulty(cluster_, url, TRIES - 1)
    outcomes = store.append(facility, SEALED)
    assert [o.outcome for o in outcomes] == ["recorded"]
    assert [row.seq for row in record(store, facility)] == [2]
    assert cluster_.ask("SELECT last_value FROM tries", name_of(url)) == [(TRIES,)]


def test_what_is_taken_back_again_and_again_is_told_and_may_be_sent_again(
    cluster_: Cluster, store: Store, url: str
) -> None:
    """Not for ever: after some tries the sender is told to come again, and nothing is on record."""
    facility = new_facility(store)
    faulty(cluster_, url, TRIES)
    with pytest.raises(BusyError, match="send the same again"):
        store.append(facility, SEALED)
    assert record(store, facility) == []
    assert cluster_.ask("SELECT last_value FROM tries", name_of(url)) == [(TRIES,)]
    assert [o.outcome for o in store.append(facility, SEALED)] == ["recorded"]


def test_who_waits_in_a_circle_is_let_go_and_records_anew(store: Store, url: str) -> None:
    """SQLSTATE 40P01, from the server's own detector: somebody outside takes heads out of order."""
    first, second = sorted(new_facility(store) for _ in range(2))
    lock = "SELECT 1 FROM log WHERE facility = %s FOR UPDATE"
    waiting = (
        "SELECT count(*) FROM pg_locks WHERE NOT granted AND locktype IN ('transactionid', 'tuple')"
    )
    with (
        outside(url) as plain,
        ThreadPoolExecutor(2) as pool,
        psycopg.connect(url.replace("+psycopg", ""), autocommit=True) as watch,
    ):
        plain.execute("SET deadlock_timeout = '60s'")  # so that the service is the one let go
        plain.execute(lock, [second])

        def both() -> None:
            with store.database.writing(first, second):
                pass

        ours = pool.submit(both)
        while watch.execute(waiting).fetchone() == (0,) and not ours.done():
            pass
        theirs = pool.submit(plain.execute, lock, [first])
        with pytest.raises(TakenBackError):
            ours.result(SOON_S)
        theirs.result(SOON_S)
        plain.rollback()
        both()


def test_a_user_without_the_rights_is_told_what_is_missing(
    cluster_: Cluster, store: Store, url: str
) -> None:
    """SQLSTATE 42501: which table, and what the operator is to do; nothing else ails."""
    facility = new_facility(store)
    cluster_.ask(
        "DROP ROLE IF EXISTS clerk; CREATE ROLE clerk LOGIN;"
        "GRANT SELECT, UPDATE ON ALL TABLES IN SCHEMA public TO clerk",
        name_of(url),
    )
    with closing(Store(url.replace("custody@", "clerk@"))) as lesser:
        with pytest.raises(UnusableError, match=r"permission denied for table .* owner"):
            lesser.append(facility, SEALED)
        assert record(lesser, facility) == []
    cluster_.ask("DROP OWNED BY clerk", name_of(url))
