"""Turn entries into rows and rows into entries, and gather the entries a container's fold needs."""

import json
import threading
from collections.abc import Collection, Iterable, Iterator, Mapping
from itertools import islice
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Row, bindparam, select

from service.custody.events import EVENT, Amended, Entry, Event, Origin
from service.ledger.leaf import body
from service.store.rows import Statement, among
from service.store.tables import RECORD

_COLUMNS = ("seq", "body", "recorded_at", "clock_offset_s", "false_codes", "origin", "sender")
ENTRY = select(*(RECORD.c[name] for name in _COLUMNS))
"""Asks for what makes up an entry, and nothing that only serves to find it."""

_HERE = ENTRY.where(RECORD.c.facility == bindparam("facility"))
_BY_SEQ = Statement(_HERE.where(among(RECORD.c.seq, "seqs")))
_BY_ID = Statement(_HERE.where(among(RECORD.c.id, "ids")))
_AMENDING = Statement(_HERE.where(among(RECORD.c.supersedes, "ids")))

CHUNK = 500
"""Values in one IN list, well below every database's limit."""


def chunks(values: Iterable[Any], size: int = CHUNK) -> Iterator[list[Any]]:
    """Cut values into lists that fit an IN list."""
    held = list(values)
    for i in range(0, len(held), size):
        yield held[i : i + size]


def to_row(facility: str, seq: int, entry: Entry) -> dict[str, Any]:
    """Give the row of an entry."""
    event, origin = entry.event, entry.origin
    return {
        "facility": facility,
        "seq": seq,
        "id": str(event.id),
        "kind": event.kind,
        "at": entry.at,
        "recorded_at": entry.recorded_at,
        "clock_offset_s": entry.clock_offset_s,
        "false_codes": " ".join(entry.false_codes),
        "origin": json.dumps([origin.file, origin.line, origin.keeper]) if origin else "",
        "supersedes": str(event.supersedes) if isinstance(event, Amended) else None,
        "body": body(event),
        "sender": entry.sender,
    }


def from_row(row: Row[Any]) -> Entry:
    """Give the entry of a row."""
    return Entry(
        EVENT.validate_json(row.body),
        row.recorded_at,
        row.clock_offset_s,
        tuple(row.false_codes.split()),
        origin_of(row),
        row.sender,
    )


def origin_of(row: Row[Any]) -> Origin | None:
    """Give where an imported entry came from, from its row."""
    return Origin(*json.loads(row.origin)) if row.origin else None


class Recent:
    """The entries last used, parsed. Entries never change, so what is held is never stale.

    Only what is committed may be kept here: a number given in a transaction that fails is given
    again.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: dict[tuple[str, int], Entry] = {}
        self._turn = threading.Lock()

    def get(self, facility: str, seq: int) -> Entry | None:
        """Give an entry if it is held."""
        return self._held.get((facility, seq))

    def keep(self, facility: str, entries: Mapping[int, Entry]) -> None:
        """Hold committed entries; the longest unused make room."""
        with self._turn:
            for seq, entry in entries.items():
                self._held.pop((facility, seq), None)
                self._held[facility, seq] = entry
            for key in list(islice(self._held, max(0, len(self._held) - self._most))):
                del self._held[key]


class Entries:
    """Entries of one facility read within one transaction, each parsed once."""

    def __init__(self, connection: Connection, facility: str, recent: Recent | None = None) -> None:
        self._connection = connection
        self._facility = facility
        self._recent = recent
        self.read: dict[int, Entry] = {}

    def put(self, seq: int, entry: Entry) -> None:
        """Take an entry that was just written."""
        self.read[seq] = entry

    def by_seq(self, seqs: Collection[int]) -> dict[int, Entry]:
        """Give entries by sequence number."""
        lacking = (s for s in seqs if s not in self.read and not self._recall(s))
        for chunk in chunks(sorted(lacking)):  # rows beside each other lie on the same pages
            for row in _BY_SEQ.rows(self._connection, facility=self._facility, seqs=chunk):
                self._of(row)
        return {s: self.read[s] for s in seqs}

    def _recall(self, seq: int) -> bool:
        entry = self._recent.get(self._facility, seq) if self._recent else None
        if entry is not None:
            self.read[seq] = entry
        return entry is not None

    def by_id(self, ids: Iterable[UUID]) -> dict[UUID, tuple[int, Entry]]:
        """Give sequence number and entry by event id, for those that are on record."""
        found: dict[UUID, tuple[int, Entry]] = {}
        for chunk in chunks(str(i) for i in ids):
            for row in _BY_ID.rows(self._connection, facility=self._facility, ids=chunk):
                entry = self._of(row)
                found[entry.event.id] = (row.seq, entry)
        return found

    def amending(self, ids: Iterable[UUID]) -> list[tuple[int, Entry]]:
        """Give the amendments on record that supersede any of the events."""
        found: list[tuple[int, Entry]] = []
        for chunk in chunks(str(i) for i in ids):
            rows = _AMENDING.rows(self._connection, facility=self._facility, ids=chunk)
            found += ((row.seq, self._of(row)) for row in rows)
        return found

    def versions(self, ids: Collection[UUID]) -> dict[UUID, tuple[Event, ...]]:
        """Give what was said of each event by its id: as first told, and by each correction."""
        found: dict[UUID, tuple[Event, ...]] = {
            i: (entry.event,) for i, (_, entry) in self.by_id(ids).items()
        }
        for _, entry in self.amending(ids):
            event = entry.event
            if isinstance(event, Amended) and event.corrected is not None:
                found[event.supersedes] = (*found.get(event.supersedes, ()), event.corrected)
        return found

    def _of(self, row: Row[Any]) -> Entry:
        entry = self.read.get(row.seq)
        if entry is None:
            entry = self.read[row.seq] = from_row(row)
        return entry
