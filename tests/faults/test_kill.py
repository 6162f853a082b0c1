"""The service is killed under load and comes back with all that it acknowledged."""

from pathlib import Path

import pytest

from tests.faults.kill import kills
from tests.faults.world import Blank


@pytest.mark.parametrize("seed", range(1, 6))
def test_nothing_acknowledged_is_lost_when_the_service_is_killed(
    blank: Blank, tmp_path: Path, thorough: bool, seed: int
) -> None:
    """Killed at random points under 32 clients, the service loses, doubles and halves nothing."""
    tally = kills(blank, tmp_path / "world", seed, 10 if thorough else 1)

    assert tally.wrong == []
    assert tally.acknowledged > 0
