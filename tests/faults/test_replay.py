"""Devices that send the same again and again, all at once."""

from pathlib import Path

from tests.faults.replay import replays
from tests.faults.world import Blank


def test_concurrent_copies_of_an_event_give_one_row_and_one_answer(
    blank: Blank, tmp_path: Path, thorough: bool
) -> None:
    """Sixteen copies of each event at once: one row each, the same told to every sender."""
    ids = 1_000 if thorough else 100

    tally = replays(blank, tmp_path / "world", seed=3, ids=ids)

    assert tally.wrong == []
    assert tally.tried == ids
