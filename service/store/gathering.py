"""Gather what a container's fold needs: its own entries, its parents', its consignments' receipts.

What the last projection knew of stays and journeys is read ahead, so that one fold is enough as a
rule; whatever the fold shows beyond that is fetched and folded again until nothing is lacking.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Column, Connection, and_, bindparam, or_, select

from service.custody.events import Amended, Dispatched
from service.custody.gathering import END
from service.custody.history import History, fold, with_proofs
from service.store import cycles
from service.store.cycle_grounds import bearing_on
from service.store.entries import Entries, chunks
from service.store.rows import Statement, among
from service.store.tables import CARRIED, CONSIGNED, CONTAINER, NAMED, STAY

RANGES = 100
"""Parents asked for in one query."""

Span = tuple[datetime, datetime]


def _of(key: Column[Any], *columns: Column[Any]) -> Statement:
    """Key and columns of the rows of a table whose key is one of the values."""
    wanted = and_(key.table.c.facility == bindparam("facility"), among(key, "keys"))
    return Statement(select(key, *columns).where(wanted))


_NAMED = _of(NAMED.c.container, NAMED.c.seq)
_STAYS = _of(STAY.c.child, STAY.c.parent, STAY.c.from_at, STAY.c.until_at)
_CARRIED = _of(CARRIED.c.container, CARRIED.c.consignment)
_CONSIGNED = _of(CONSIGNED.c.consignment, CONSIGNED.c.seq)
_KNOWN = _of(CONTAINER.c.container, CONTAINER.c.state)


@dataclass
class Older:
    """Of the entries that something rests on, those among the first ``until`` of the log."""

    until: int
    seqs: set[int] = field(default_factory=set)

    def add(self, seqs: Iterable[int]) -> None:
        """Note those that are older."""
        self.seqs.update(seq for seq in seqs if seq <= self.until)

    @property
    def numbers(self) -> set[int]:
        """The numbers of their leaves."""
        return {seq - 1 for seq in self.seqs}


def histories(
    connection: Connection,
    facility: str,
    reader: Entries,
    containers: Collection[str],
    older: Older | None = None,
) -> dict[str, History]:
    """Fold each container from all that bears on it; note the older entries among that."""
    gathering = _Gathering(connection, facility, reader, containers)
    folded: dict[str, History] = {}
    waiting = set(containers)
    while waiting:
        gathering.add_kin(waiting)
        for container in waiting:
            entries = reader.by_seq(gathering.seqs[container])
            folded[container] = fold(container, entries.values())
        waiting = gathering.lacking([folded[container] for container in waiting])
    named = {cycle for history in folded.values() for cycle in history.cycles}
    if named:
        proofs = cycles.proofs(connection, facility, named)
        folded = {c: with_proofs(h, proofs) for c, h in folded.items()}
    if older is not None and older.until:
        for seqs in gathering.seqs.values():
            older.add(seqs)
        older.add(bearing_on(connection, facility, named, older.until))
    return folded


def older_bearing_on(
    connection: Connection, facility: str, until: int, containers: Collection[str]
) -> set[int]:
    """Give the leaf numbers below ``until`` of the entries that the containers' histories rest on.

    Of a cart's old trips one is enough: that it carries is all there is to say of it.
    """
    reader = Entries(connection, facility)
    carrying = known(connection, facility, containers, state="carrying")
    older = Older(until)
    for chunk in chunks(sorted(set(containers) - carrying) if until else ()):
        histories(connection, facility, Entries(connection, facility), chunk, older)
    for chunk in chunks(sorted(carrying)):
        trips = select(NAMED.c.container, NAMED.c.seq).where(
            NAMED.c.facility == facility,
            NAMED.c.container.in_(chunk),
            NAMED.c.seq <= until,
            NAMED.c.reaches.is_(False),
        )
        older.add(_one_each(reader, connection.execute(trips.order_by(NAMED.c.seq.desc()))))
    return older.numbers


def known(
    connection: Connection, facility: str, containers: Iterable[str], state: str | None = None
) -> set[str]:
    """Give those of the containers that have a row, in that state if one is given."""
    found: set[str] = set()
    for chunk in chunks(containers):
        rows = _KNOWN.rows(connection, facility=facility, keys=chunk)
        found |= {row.container for row in rows if state is None or row.state == state}
    return found


def _one_each(reader: Entries, trips: Iterable[Any]) -> set[int]:
    """The latest trip of each cart that nobody took back."""
    found: dict[str, int] = {}
    for row in trips:
        if row.container in found:
            continue
        [entry] = reader.by_seq([row.seq]).values()
        if not isinstance(entry.event, Amended) and not reader.amending([entry.event.id]):
            found[row.container] = row.seq
    return set(found.values())


class _Gathering:
    """The numbers of the entries gathered for each container, and what was already asked for."""

    def __init__(
        self, connection: Connection, facility: str, reader: Entries, containers: Collection[str]
    ) -> None:
        self._connection = connection
        self._facility = facility
        self._reader = reader
        self._asked: set[tuple[str, str, Span]] = set()
        self._consigned: set[tuple[str, str]] = set()
        self.seqs: dict[str, set[int]] = {c: set() for c in containers}
        for row in self._rows(_NAMED, containers):
            self.seqs[row.container].add(row.seq)
        self._add_parents(
            (row.child, row.parent, (row.from_at, row.until_at or END))
            for row in self._rows(_STAYS, containers)
        )
        self._add_receipts(
            (row.container, row.consignment) for row in self._rows(_CARRIED, containers)
        )

    def add_kin(self, containers: Iterable[str]) -> None:
        """Add to each amendment the event it corrects and the other amendments of that event.

        One of them alone would mislead: the event may have been corrected to something else since.
        """
        mine = [self.seqs[container] for container in containers]
        corrects = {
            seq: entry.event.supersedes
            for seq, entry in self._reader.by_seq(set[int]().union(*mine)).items()
            if isinstance(entry.event, Amended)
        }
        kin: dict[UUID, set[int]] = defaultdict(set)
        ids = set(corrects.values())
        for seq, entry in (*self._reader.by_id(ids).values(), *self._reader.amending(ids)):
            event = entry.event
            kin[event.supersedes if isinstance(event, Amended) else event.id].add(seq)
        for seqs in mine:
            for seq in corrects.keys() & seqs:
                seqs |= kin[corrects[seq]]

    def lacking(self, folded: Iterable[History]) -> set[str]:
        """Fetch what the folds show to be lacking; give the containers that got more entries."""
        held = list(folded)
        grown = self._add_parents(
            (h.container, stay.parent, (stay.from_at, stay.until_at or END))
            for h in held
            for stay in h.stays
        )
        return grown | self._add_receipts(
            (h.container, happened.event.consignment)
            for h in held
            for happened in h.happened
            if isinstance(happened.event, Dispatched)
        )

    def _rows(self, asked: Statement, keys: Iterable[str]) -> Iterable[Any]:
        for chunk in chunks(keys):
            yield from asked.rows(self._connection, facility=self._facility, keys=chunk)

    def _add_parents(self, stays: Iterable[tuple[str, str, Span]]) -> set[str]:
        """Add what reached the parents while the containers were inside."""
        inside: dict[str, list[tuple[str, Span]]] = defaultdict(list)
        for stay in stays:
            if not self._known(stay):
                self._asked.add(stay)
                inside[stay[1]].append((stay[0], stay[2]))
        grown = set()
        for row in self._reaching(inside):
            for container, (from_at, until_at) in inside[row.container]:
                if from_at <= row.at <= until_at and row.seq not in self.seqs[container]:
                    self.seqs[container].add(row.seq)
                    grown.add(container)
        return grown

    def _known(self, stay: tuple[str, str, Span]) -> bool:
        """Whether this stay, or an open-ended one from the same instant, was asked for."""
        container, parent, (from_at, _) = stay
        return stay in self._asked or (container, parent, (from_at, END)) in self._asked

    def _reaching(self, inside: dict[str, list[tuple[str, Span]]]) -> Iterable[Any]:
        for parents in chunks(inside, RANGES):
            ranges = (
                and_(
                    NAMED.c.facility == self._facility,
                    NAMED.c.container == parent,
                    NAMED.c.reaches,
                    NAMED.c.at >= min(from_at for _, (from_at, _) in inside[parent]),
                    NAMED.c.at <= max(until_at for _, (_, until_at) in inside[parent]),
                )
                for parent in parents
            )
            asked = select(NAMED.c.container, NAMED.c.at, NAMED.c.seq).where(or_(*ranges))
            yield from self._connection.execute(asked)

    def _add_receipts(self, journeys: Iterable[tuple[str, str]]) -> set[str]:
        """Add the completed receipts of the containers' consignments."""
        members: dict[str, list[str]] = defaultdict(list)
        for journey in journeys:
            if journey not in self._consigned:
                self._consigned.add(journey)
                members[journey[1]].append(journey[0])
        grown = set()
        for row in self._rows(_CONSIGNED, members):
            for container in members[row.consignment]:
                if row.seq not in self.seqs[container]:
                    self.seqs[container].add(row.seq)
                    grown.add(container)
        return grown
