"""What is on the disk after a power cut: made from the trace of all that was written and synced.

A write is on the disk for certain once its file was synced. Of what was written since, nothing
may have reached it, or any part in any order, the last page torn in two. A deletion counts as done
at once.
"""

import struct
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import IntEnum
from pathlib import Path
from random import Random
from typing import Literal

_HEAD = struct.Struct("=2i3q")
SUFFIXES = {1: "", 2: "-wal", 3: "-journal"}
"""The files of a database by their number in the trace; the shared memory dies with the power."""
SECTOR = 512

Luck = Literal["none", "some", "torn"]
"""What became of writes that were not synced: all gone, some gone, some gone and some in part."""


class Kind(IntEnum):
    """What was done to a file."""

    WRITE = 1
    SYNC_BEGIN = 2
    SYNC_END = 3
    CUT = 4
    UNLINK = 5


@dataclass(frozen=True, slots=True)
class Record:
    """One call that the service made of the disk."""

    kind: Kind
    file: int
    at_ns: int
    offset: int
    content: bytes | None


def read_trace(path: Path) -> list[Record]:
    """Read a trace; a last record that the kill cut off is left out."""
    held = memoryview(path.read_bytes())
    return list(_records(held))


def _records(held: memoryview) -> Iterator[Record]:
    place = 0
    while place + _HEAD.size <= len(held):
        kind, file, at_ns, offset, length = _HEAD.unpack_from(held, place)
        place += _HEAD.size
        content = None
        if kind == Kind.WRITE:
            if place + length > len(held):
                return
            content = bytes(held[place : place + length])
            place += length
        yield Record(Kind(kind), file, at_ns, offset, content)


class Disk:
    """A disk from the moment at which all its files were synced, taking calls one after another."""

    def __init__(self, database: Path) -> None:
        self._synced = {
            number: bytearray(path.read_bytes())
            for number, suffix in SUFFIXES.items()
            if (path := database.with_name(database.name + suffix)).exists()
        }
        self._pending: dict[int, list[Record]] = defaultdict(list)
        self._syncing: dict[int, list[Record]] = {}

    def take(self, record: Record) -> None:
        """Have one more call done."""
        match record.kind:
            case Kind.WRITE | Kind.CUT:
                self._pending[record.file].append(record)
            case Kind.SYNC_BEGIN:
                self._syncing[record.file] = list(self._pending[record.file])
            case Kind.SYNC_END:
                sure = self._syncing.pop(record.file, [])
                _apply(self._synced.setdefault(record.file, bytearray()), sure)
                done = set(map(id, sure))
                left = [r for r in self._pending[record.file] if id(r) not in done]
                self._pending[record.file] = left
            case Kind.UNLINK:
                self._synced.pop(record.file, None)
                self._pending.pop(record.file, None)
                self._syncing.pop(record.file, None)

    @property
    def unsynced(self) -> int:
        """How many writes are not certain to be on the disk."""
        return sum(map(len, self._pending.values()))

    def cut_power(self, database: Path, luck: Luck, random: Random) -> None:
        """Write the files as they are found when the power is back."""
        for number, suffix in SUFFIXES.items():
            path = database.with_name(database.name + suffix)
            found = bytearray(self._synced.get(number, b""))
            lucky = list(_surviving(self._pending.get(number, []), luck, random))
            path.unlink(missing_ok=True)
            if number in self._synced or lucky:
                _apply(found, lucky)
                path.write_bytes(found)


def _surviving(pending: Iterable[Record], luck: Luck, random: Random) -> Iterator[Record]:
    for record in pending:
        if luck == "none" or random.random() < 0.5:
            continue
        content = record.content
        if luck == "torn" and content is not None and random.random() < 0.3:
            sectors = len(content) // SECTOR
            content = content[: SECTOR * random.randrange(sectors + 1)]
        yield Record(record.kind, record.file, record.at_ns, record.offset, content)


def _apply(held: bytearray, records: Iterable[Record]) -> None:
    for record in records:
        end = record.offset + len(record.content or b"")
        if record.content is None:
            del held[record.offset :]
        if len(held) < end:
            held.extend(bytes(end - len(held)))
        if record.content is not None:
            held[record.offset : end] = record.content
