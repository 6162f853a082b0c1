"""Clients that hang up spoil nothing for others."""

from pathlib import Path

from tests.faults.hanging_up import hang_ups
from tests.faults.world import Blank


def test_a_client_that_hangs_up_spoils_nothing(
    blank: Blank, tmp_path: Path, thorough: bool
) -> None:
    """Others get their answers; what the client sent is on record whole or not at all."""
    times = 300 if thorough else 40

    tally = hang_ups(blank, tmp_path / "world", seed=6, times=times)

    assert tally.wrong == []
    assert 0 < tally.notes["whole"] < times
