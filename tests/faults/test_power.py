"""The power goes under load; the service comes back on the disk as it is found then."""

from pathlib import Path

import pytest

from tests.faults.power import Plan, cuts
from tests.faults.world import Blank


@pytest.mark.parametrize("seed", [2, 3])
def test_nothing_acknowledged_is_lost_when_the_power_is_cut(
    blank: Blank, tmp_path: Path, library: Path, thorough: bool, seed: int
) -> None:
    """Whatever of the unsynced writes reached the disk, all that was acknowledged is there."""
    plan = Plan(seed, cycles=10, moments=30) if thorough else Plan(seed, cycles=2, moments=8)

    tally = cuts(blank, tmp_path, library, plan)

    assert tally.wrong == []
    assert tally.notes["lost"] == 0
    assert tally.notes["in_flight"] > plan.cycles * plan.moments / 4


def test_commits_that_are_not_synced_are_caught_out(
    blank: Blank, tmp_path: Path, library: Path
) -> None:
    """The same cuts with synchronous=NORMAL do lose what was acknowledged, so the test can tell."""
    tally = cuts(blank, tmp_path, library, Plan(seed=2, cycles=8, moments=0, weaker=True))

    assert tally.notes["lost"] > 0
