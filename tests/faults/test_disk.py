"""The disk of the power cuts, on traces written by hand: what is sure, and what is luck."""

from collections.abc import Sequence
from pathlib import Path
from random import Random

import pytest

from tests.faults.disk import SECTOR, Disk, Kind, Luck, Record

DATABASE, LOG = 1, 2
PAGE = 4096


def write(offset: int, content: bytes, file: int = DATABASE) -> Record:
    """A write."""
    return Record(Kind.WRITE, file, 0, offset, content)


def sync(file: int = DATABASE) -> list[Record]:
    """A sync that came to its end."""
    return [Record(Kind.SYNC_BEGIN, file, 0, 0, None), Record(Kind.SYNC_END, file, 0, 0, None)]


def found(folder: Path, records: Sequence[Record], luck: Luck = "none", seed: int = 1) -> bytes:
    """The database file after a power cut."""
    path = folder / "record"
    path.unlink(missing_ok=True)
    disk = Disk(path)
    for record in records:
        disk.take(record)
    disk.cut_power(path, luck, Random(seed))
    return path.read_bytes() if path.exists() else b"no file"


def test_what_was_synced_stays_and_what_was_not_is_gone(tmp_path: Path) -> None:
    """A write after the last sync is lost; one before it is not."""
    assert found(tmp_path, [write(0, b"old"), *sync(), write(0, b"new")]) == b"old"


def test_a_sync_that_did_not_come_to_its_end_promises_nothing(tmp_path: Path) -> None:
    """Nor does one promise what was written after it began."""
    begun = [write(0, b"a"), sync()[0]]
    assert found(tmp_path, begun) == b"no file"
    assert found(tmp_path, [*begun, write(1, b"b"), sync()[1]]) == b"a"


def test_the_sync_of_one_file_says_nothing_of_another(tmp_path: Path) -> None:
    """The log's sync does not bring the database's pages to the disk."""
    assert found(tmp_path, [write(0, b"page"), write(0, b"frame", LOG), *sync(LOG)]) == b"no file"


@pytest.mark.parametrize("luck", ["some", "torn"])
def test_with_luck_any_part_of_the_rest_is_there(tmp_path: Path, luck: Luck) -> None:
    """Later pages without earlier ones, and with tearing pages in part, at a sector's edge."""
    pages = [write(n * PAGE, bytes([n + 1]) * PAGE) for n in range(8)]
    outcomes = {found(tmp_path, pages, luck, seed) for seed in range(40)}
    torn = {
        length
        for outcome in outcomes
        for n in range(8)
        if 0 < (length := outcome[n * PAGE : (n + 1) * PAGE].count(n + 1)) < PAGE
    }

    assert len(outcomes) > 10
    assert any(o[:PAGE] == bytes(PAGE) and o[PAGE] == 2 for o in outcomes if len(o) > PAGE)
    assert bool(torn) == (luck == "torn")
    assert all(length % SECTOR == 0 for length in torn)
