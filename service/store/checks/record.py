"""Check the rows of one facility's record against what they say, and against their leaves.

A byte that means nothing is a fault too: each column must be as it would be written.
"""

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, RowMapping

from service.custody.events import EVENT, Entry, Origin
from service.custody.site import Site
from service.ledger.leaf import SiteVersion, canonical, entry_leaf, setup_leaf, site_kept
from service.ledger.merkle import EMPTY, grow, leaf_hash, root
from service.store.checks.stored import Faults, instant, otherwise, stored
from service.store.entries import to_row
from service.store.log import STREAMED
from service.store.tables import LEAF, LOG, RECORD, SETUP

Told = Callable[[int, int], None]
"""Is told how far it is: (done, in all)."""


@dataclass(slots=True)
class LogFindings:
    """What was found of a facility's record, and the head that its leaves give."""

    entries: Faults = field(default_factory=Faults)
    setups: Faults = field(default_factory=Faults)
    leaves: Faults = field(default_factory=Faults)
    size: int = 0
    last: bytes = EMPTY
    peaks: list[bytes] = field(default_factory=list)
    setup_count: int = 0

    @property
    def root(self) -> bytes:
        """The root over the leaves as they are."""
        return root(self.peaks)


@dataclass(frozen=True, slots=True)
class Written:
    """A row of a log: the number of its leaf, what to call it, and the leaf if it reads."""

    number: int
    name: str
    leaf: bytes | None


def read_log(connection: Connection, facility: str, told: Told) -> LogFindings:
    """Go through entries, set-ups and leaves side by side, once."""
    found = LogFindings()
    through(connection, facility, _written(connection, facility, found), found, told)
    return found


def through(
    connection: Connection, log: str, rows: Iterator[Written], found: LogFindings, told: Told
) -> None:
    """Go through the rows of a log, in order of their numbers, and its leaves side by side."""
    whole = stored_head(connection, log).get("size") or 0
    hashes: list[bytes] = []
    for number, written, leaf in _side_by_side(rows, stored(connection, LEAF, log, "number")):
        if written is None:
            found.leaves.add(f"entry {number}: its leaf is there, the entry itself is gone")
        if leaf is None:
            found.leaves.add(f"{written.name if written else number}: it has no leaf")
            continue
        if number != found.size + len(hashes):
            found.leaves.add(f"leaf {number} follows on {found.size + len(hashes) - 1}: a gap")
        hash_ = leaf["hash"]
        if not isinstance(hash_, bytes) or not isinstance(number, int):
            found.leaves.add(f"leaf {number}: what is there is no hash")
            continue
        if leaf["previous"] != found.last:
            found.leaves.add(f"leaf {number}: its column previous is not the hash before it")
        if written and written.leaf is not None and leaf_hash(written.leaf) != hash_:
            found.leaves.add(f"{written.name}: it is not what its leaf was made of")
        found.last = hash_
        hashes.append(hash_)
        if len(hashes) == STREAMED:
            _grow(found, hashes)
            told(found.size, max(whole, found.size))
    _grow(found, hashes)


def _grow(found: LogFindings, hashes: list[bytes]) -> None:
    _, found.peaks = grow(found.size, found.peaks, hashes)
    found.size += len(hashes)
    hashes.clear()


def _side_by_side(
    written: Iterator[Written], leaves: Iterator[RowMapping]
) -> Iterator[tuple[int, Written | None, RowMapping | None]]:
    """Give what bears the same number together; both come in order."""
    one, other = next(written, None), next(leaves, None)
    while one is not None or other is not None:
        a = one.number if one is not None else None
        b = other["number"] if other is not None else None
        if b is None or (a is not None and a < b):
            assert one is not None and a is not None
            yield a, one, None
            one = next(written, None)
        elif a is None or b < a:
            yield b, None, other
            other = next(leaves, None)
        else:
            yield a, one, other
            one, other = next(written, None), next(leaves, None)


def _written(connection: Connection, facility: str, found: LogFindings) -> Iterator[Written]:
    """Give the rows of the record in order of their numbers, each compared with what it says."""
    setups = sorted(_setups(connection, facility, found), key=lambda w: w.number)
    found.setup_count = len(setups)
    for entry in _entries(connection, facility, found):
        while setups and setups[0].number < entry.number:
            yield setups.pop(0)
        yield entry
    yield from setups


def _entries(connection: Connection, facility: str, found: LogFindings) -> Iterator[Written]:
    for row in stored(connection, RECORD, facility, "seq"):
        name = f"entry {row['seq'] - 1} (event {row['id']})"
        try:
            entry = _entry(row)
            leaf = entry_leaf(entry)
            expected = to_row(facility, row["seq"], entry)
        except (ValueError, TypeError, AttributeError) as error:
            found.entries.add(f"{name}: {_unreadable(row, error)}")
            yield Written(row["seq"] - 1, name, None)
            continue
        for column in otherwise(connection, RECORD, expected, row):
            found.entries.add(f"{name}: its column {column} is not what the entry says")
        yield Written(row["seq"] - 1, name, leaf)


def _entry(row: RowMapping) -> Entry:
    origin = Origin(*json.loads(row["origin"])) if row["origin"] else None
    return Entry(
        EVENT.validate_json(row["body"]),
        instant(row["recorded_at"]),
        row["clock_offset_s"],
        tuple(row["false_codes"].split()),
        origin,
        row["sender"],
    )


def _unreadable(row: RowMapping, error: Exception) -> str:
    try:
        EVENT.validate_json(row["body"])
    except ValueError:
        return "its column body does not read as an event"
    try:
        instant(row["recorded_at"])
    except (ValueError, TypeError):
        return "its column recorded_at is no time"
    return f"one of its columns clock_offset_s, false_codes, origin does not read: {error}"


def _setups(connection: Connection, facility: str, found: LogFindings) -> Iterator[Written]:
    for due, row in enumerate(stored(connection, SETUP, facility, "version"), 1):
        name = f"set-up {row['version']}"
        if row["version"] != due:
            found.setups.add(f"{name}: it follows on {due - 1}, a version is gone")
        leaf = None
        try:
            site = Site.model_validate_json(row["document"])
            at = instant(row["recorded_at"])
            leaf = setup_leaf(SiteVersion(site, row["version"], at))
            expected = {
                "recorded_at": at,
                "document": canonical(site_kept(site)),
            }
        except (ValueError, TypeError) as error:
            found.setups.add(f"{name}: it does not read: {str(error).splitlines()[0]}")
        else:
            for column in otherwise(connection, SETUP, expected, row):
                found.setups.add(f"{name}: its column {column} is not written as it was")
            if site.id != facility:
                found.setups.add(f"{name}: it is that of {site.id}")
        if isinstance(row["number"], int):
            yield Written(row["number"], name, leaf)
        else:
            found.setups.add(f"{name}: its column number is no number")


def stored_head(connection: Connection, log: str) -> Mapping[str, Any]:
    """Give the row of a log's head, or nothing."""
    rows = [dict(row) for row in stored(connection, LOG, log, "size")]  # one, or none
    return rows[0] if rows else {}
