"""The disk fails or is full; the service says so, loses nothing, and goes on when it can."""

from pathlib import Path

import pytest

from tests.faults.failing import failures, fillings
from tests.faults.power import EAGER
from tests.faults.world import SERVE, Blank


def test_a_full_disk_is_told_and_work_goes_on_when_there_is_room(
    blank: Blank, tmp_path: Path, library: Path, thorough: bool
) -> None:
    """A full disk is told as such, reading goes on, and room is enough to record again."""
    tally = fillings(blank, tmp_path / "full", library, times=20 if thorough else 3)

    assert tally.wrong == []
    assert tally.notes["refused"] > 0


@pytest.mark.parametrize("command", [SERVE, EAGER], ids=["as it is", "eager"])
def test_a_failing_disk_never_makes_a_false_acknowledgement(
    blank: Blank, tmp_path: Path, library: Path, thorough: bool, command: tuple[str, ...]
) -> None:
    """Whichever write or sync fails, the answer says so, and what was acknowledged is there."""
    tally = failures(blank, tmp_path / "failing", library, 120 if thorough else 40, command)

    assert tally.wrong == []
    assert tally.notes["refused"] > 0
