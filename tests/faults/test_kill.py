"""The service is killed under load and comes back with all that it acknowledged."""

from pathlib import Path

from tests.faults.kill import kills
from tests.faults.world import Blank


def test_nothing_acknowledged_is_lost_when_the_service_is_killed(
    blank: Blank, tmp_path: Path, thorough: bool
) -> None:
    """Killed at random points under 32 clients, the service loses, doubles and halves nothing."""
    tally = kills(blank, tmp_path / "world", seed=1, times=50 if thorough else 3)

    assert tally.wrong == []
    assert tally.acknowledged > 0
