"""Two services on PostgreSQL are killed in turn, and their server stops, crashes, cuts them off."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.servers import Blow, blows, crashed, cut, killed, restarted
from tests.postgres import Cluster, cluster


@pytest.fixture(scope="module")
def server() -> Iterator[Cluster]:
    """A server as it comes: what it acknowledges is on the disk."""
    with cluster() as made:
        yield made


@pytest.mark.parametrize(
    ("seed", "kinds"),
    [(1, [killed]), (2, [restarted, crashed, cut])],
    ids=["services killed in turn", "the server fails"],
)
def test_nothing_acknowledged_is_lost_and_the_log_is_one(
    server: Cluster, tmp_path: Path, seed: int, kinds: list[Blow], thorough: bool
) -> None:
    """Whoever falls, the other goes on; no gap, no fork, nothing twice, nothing in halves."""
    tally = blows(server, tmp_path, seed, kinds, 20 if thorough else 4)

    assert tally.wrong == []
    assert tally.acknowledged > 0
