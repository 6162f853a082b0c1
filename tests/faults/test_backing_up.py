"""Backups of a service at work."""

from pathlib import Path

from tests.faults.backing_up import backups
from tests.faults.world import Blank


def test_a_backup_taken_under_load_holds_all_that_was_acknowledged_before(
    blank: Blank, tmp_path: Path, thorough: bool
) -> None:
    """It opens, the check holds, and it is a beginning of the record."""
    tally = backups(blank, tmp_path, times=5 if thorough else 2)

    assert tally.wrong == []
    assert tally.acknowledged > 0
