"""A bundle in which one byte was changed does not pass; a good one does."""

from tests.faults.flips import false_alarms, flips


def test_a_changed_byte_anywhere_in_a_bundle_is_found_and_its_file_named(thorough: bool) -> None:
    """Each file in turn, packed again as it should be, and the archive itself."""
    tally = flips(seed=11, times=1_000 if thorough else 150)

    assert tally.wrong == []
    assert min(tally.notes["files"].values()) > 0


def test_good_bundles_raise_no_alarm(thorough: bool) -> None:
    """Records of any length: every check holds."""
    assert false_alarms(seed=12, bundles=10 if thorough else 2).wrong == []
