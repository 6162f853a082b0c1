"""Services on PostgreSQL: they are killed, their server fails in every way, another replaces it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.servers import (
    Blow,
    blows,
    crashed,
    cut,
    forgetful,
    killed,
    killed_outright,
    one_killed,
    restarted,
)
from tests.faults.standby import failovers
from tests.postgres import Cluster, cluster


@pytest.fixture(scope="module")
def server() -> Iterator[Cluster]:
    """A server as it comes: what it acknowledges is on the disk."""
    with cluster() as made:
        yield made


@pytest.mark.parametrize(
    ("seed", "kinds"),
    [(1, [killed]), (2, [restarted, crashed, cut]), (3, [killed_outright, one_killed])],
    ids=["services killed in turn", "the server fails", "the server is killed"],
)
def test_nothing_acknowledged_is_lost_and_the_log_is_one(
    server: Cluster, tmp_path: Path, seed: int, kinds: list[Blow], thorough: bool
) -> None:
    """Whoever falls, the other goes on; no gap, no fork, nothing twice, nothing in halves."""
    tally = blows(server, tmp_path, seed, kinds, 20 if thorough else 4)

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
