"""Services on PostgreSQL: they are killed, their server fails in every way, another replaces it."""

import os
import signal
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from service.store.faults import BusyError
from service.store.store import Store
from tests.faults.servers import (
    Blow,
    at_once,
    blows,
    crashed,
    cut,
    forgetful,
    killed,
    killed_outright,
    one_killed,
    restarted,
)
from tests.faults.standby import failovers, hold_up, pair, wait_for_standby
from tests.postgres import Cluster, cluster
from tests.store.record import new_facility, record
from tests.trade import bag

SOON_S = 30


@pytest.fixture(scope="module")
def server() -> Iterator[Cluster]:
    """A server as it comes: what it acknowledges is on the disk."""
    with cluster() as made:
        yield made


@pytest.mark.parametrize(
    ("seed", "kinds", "times"),
    [
        (1, [killed], 2),
        (2, [restarted, crashed, cut], 3),
        (3, [killed_outright, one_killed, at_once], 3),
    ],
    ids=["services killed in turn", "the server fails", "the server is killed"],
)
def test_nothing_acknowledged_is_lost_and_the_log_is_one(
    server: Cluster, tmp_path: Path, seed: int, kinds: list[Blow], times: int, thorough: bool
) -> None:
    """Whoever falls, the other goes on; no gap, no fork, nothing twice, nothing in halves."""
    tally = blows(server, tmp_path, seed, kinds, 20 if thorough else times)

    assert tally.wrong == []
    assert tally.acknowledged > 0


def test_a_server_that_waits_for_no_disk_loses_what_it_acknowledged(tmp_path: Path) -> None:
    """The control: killed in the same way, without the setting that the service insists on."""
    tally = forgetful(tmp_path, 4, 1)

    assert tally.notes["lost"] > 0


def test_a_standby_that_commits_wait_for_takes_over_without_loss(
    tmp_path: Path, thorough: bool
) -> None:
    """The service finds it by itself; all that was acknowledged is there, in one log."""
    tally = failovers(tmp_path, 5, 5 if thorough else 1, waits=True)

    assert tally.wrong == []
    assert tally.acknowledged > 0


def test_a_standby_that_nothing_waits_for_lacks_what_was_acknowledged(tmp_path: Path) -> None:
    """The control: the same failover loses, so the test above can see a loss."""
    tally = failovers(tmp_path, 6, 1, waits=False)

    assert tally.notes["lost"] > 0


def until(enough: Callable[[], bool]) -> None:
    """Wait until something is so."""
    end = time.monotonic() + SOON_S
    while not enough():
        assert time.monotonic() < end, "it never came to that"


def test_a_commit_whose_wait_for_the_standby_is_cut_short_is_not_acknowledged(
    tmp_path: Path,
) -> None:
    """The server only warns of it (manual, "Synchronous Replication"); the sender is told.

    The same sent again finds it on record, and is answered only when the standby has it too.
    """
    entries = bag("yellow-c").sealed("2026-07-01 10:00").entries
    with (
        pair(waits=True) as (first, second, url),
        closing(Store(url)) as store,
        ThreadPoolExecutor(1) as pool,
    ):
        facility = new_facility(store)
        sender = hold_up(first)
        told = pool.submit(store.append, facility, entries)
        until(lambda: wait_for_standby(first) or told.done())
        first.ask(
            "SELECT pg_cancel_backend(pid) FROM pg_stat_activity WHERE wait_event = 'SyncRep'"
        )
        with pytest.raises(BusyError, match=r"synchronous replication .* send the same again"):
            told.result(SOON_S)

        again = pool.submit(store.append, facility, entries)
        until(lambda: wait_for_standby(first) or again.done())
        assert not again.done()
        os.kill(sender, signal.SIGCONT)
        assert [o.outcome for o in again.result(SOON_S)] == ["repeated"]

        first.kill(all_at_once=True)
        second.promote()
        assert [row.seq for row in record(store, facility)] == [2]
