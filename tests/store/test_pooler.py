"""Behind a pooler (PgBouncer) that gives each transaction whichever session is free."""

import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace

import psycopg
import pytest

from service.store.store import Store
from tests.faults.world import free_port
from tests.needs import without
from tests.postgres import OWNER, Cluster, cluster, quick
from tests.store.record import new_facility, record
from tests.trade import bag

SESSIONS = 2
READY_S = 20
SAID = """
[databases]
* = host=127.0.0.1 port={port} user=custody
[pgbouncer]
listen_addr = 127.0.0.1
listen_port = {own}
unix_socket_dir =
auth_type = any
pool_mode = transaction
default_pool_size = {sessions}
"""


def program() -> str:
    """Give the pooler, or skip the test and say why."""
    found = shutil.which("pgbouncer") or shutil.which("pgbouncer", path="/usr/sbin")
    if found is None:
        without("PgBouncer is not installed: apt-get install pgbouncer")
    return found


@pytest.fixture(scope="module")
def server() -> Iterator[Cluster]:
    """A server that runs for the module."""
    with cluster(where=quick()) as made:
        yield made


@pytest.fixture
def pooler(server: Cluster) -> Iterator[Cluster]:
    """The same server as it is reached through a pooler in transaction mode."""
    found, port = program(), free_port()
    said = server.folder / "pgbouncer.ini"
    said.write_text(SAID.format(port=server.port, own=port, sessions=SESSIONS))
    root = os.geteuid() == 0
    with subprocess.Popen(
        [found, "-q", str(said)],
        user=OWNER if root else None,
        group=OWNER if root else None,
        extra_groups=[] if root else None,
        stderr=subprocess.DEVNULL,
    ) as running:
        try:
            behind, end = replace(server, port=port), time.monotonic() + READY_S
            while not answers(behind):
                assert time.monotonic() < end, "the pooler does not come up"
                time.sleep(0.02)  # between two looks
            yield behind
        finally:
            running.terminate()


def answers(server: Cluster) -> bool:
    """Say whether a server, or a pooler, is there."""
    try:
        return server.ask("SELECT 1") == [(1,)]
    except psycopg.OperationalError:
        return False


def test_two_services_share_fewer_sessions_than_they_open(server: Cluster, pooler: Cluster) -> None:
    """All is recorded once and in one order; nothing is left behind in a session."""
    server.made("pooled")
    url = pooler.url("pooled")
    with closing(Store(url)) as one, closing(Store(url)) as two:
        facilities = [new_facility(one) for _ in range(3)]

        def work(number: int) -> list[str]:
            entries = bag("yellow-c", f"BAG-{number}").sealed("2026-07-01 10:00").entries
            store = (one, two)[number % 2]
            outcomes = [store.append(f, entries)[0].outcome for f in facilities]
            return outcomes + [store.append(f, entries)[0].outcome for f in facilities]

        with ThreadPoolExecutor(12) as pool:
            told = list(pool.map(work, range(24)))
        list(one.rebuild(facilities[0]))
        for facility in facilities:
            assert [row.seq for row in record(two, facility)] == list(range(2, 26))
        sessions = server.ask("SELECT count(*) FROM pg_stat_activity WHERE datname = 'pooled'")
        left = [
            pooler.ask(asked, "pooled")
            for _ in range(SESSIONS)
            for asked in (
                "SELECT name FROM pg_prepared_statements",
                "SELECT relname FROM pg_class WHERE relpersistence = 't'",
                "SELECT objid FROM pg_locks WHERE locktype = 'advisory'",
                "SELECT setting FROM pg_settings WHERE name = 'lock_timeout' AND setting <> '0'",
            )
        ]

    assert told == [["recorded"] * 3 + ["repeated"] * 3] * 24
    assert sessions == [(SESSIONS,)]
    assert [found for found in left if found] == []
