"""Copies of the database that are damaged or were made in the wrong way."""

from pathlib import Path

from tests.faults.corrupt import by_the_engine_alone, damages, without_its_log
from tests.faults.world import Blank


def test_a_damaged_copy_never_passes_with_changed_content(
    blank: Blank, tmp_path: Path, thorough: bool
) -> None:
    """Bits flipped, pages zeroed, the end cut off: the check says so, or no row was changed."""
    tally = damages(blank, tmp_path, seed=13, flips=200 if thorough else 24)

    assert tally.wrong == []
    assert tally.notes["harmless"] < tally.tried / 2


def test_the_engines_own_check_alone_is_caught_out(blank: Blank, tmp_path: Path) -> None:
    """The same damage under SQLite's integrity check alone does pass, so the test can tell."""
    tally = damages(blank, tmp_path, seed=13, flips=40, checked=by_the_engine_alone)

    assert any("all is said to be well, but changed" in said for said in tally.wrong)


def test_a_copy_without_its_log_is_at_most_a_beginning(blank: Blank, tmp_path: Path) -> None:
    """The file alone, copied while in use: the check fails, or it is an earlier state, whole."""
    assert without_its_log(blank, tmp_path, seed=14) == []
