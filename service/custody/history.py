"""Fold a container's entries into its history: what happened to it, in order, parents included.

The fold is by corrected time of happening, then event id, so that the order of arrival never
matters. A scan of a parent reaches what was inside it at that time.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from typing import NamedTuple
from uuid import UUID

from service.custody.events import (
    Amended,
    Dispatched,
    Disposed,
    DoubleBagged,
    Entry,
    Event,
    Inspected,
    Labelled,
    Lost,
    Packed,
    Received,
    Refused,
    Registered,
    Stored,
    Treated,
    Unpacked,
    Weighed,
)
from service.custody.proof import Proof

_OF_ONE_CONTAINER = frozenset({Labelled, Registered, Weighed, Inspected})
"""Kinds that speak of the named container alone and never reach what is inside it."""

_TAKES_OUT = frozenset({Packed, Stored, Received, Refused, Treated, Lost})
"""Kinds that, naming a container itself, show that it is no longer in its transport container.

What is disposed of is in nothing any more, whichever parent was named: the cart goes on without it.
"""


class Happened(NamedTuple):
    """One event as it holds for a container now.

    Attributes:
        event: The event's content, corrected if it was amended.
        at: When it happened, a wrong device clock put right.
        entry: The record it rests on: the original entry, or the amendment if the original has
            not arrived.
        direct: The event names this container itself, not only a parent.
        amended_by: The amendment that corrected it.
    """

    event: Event
    at: datetime
    entry: Entry
    direct: bool = True
    amended_by: UUID | None = None

    @property
    def order(self) -> tuple[datetime, UUID]:
        """What history is ordered by: the time of happening, then the event's id."""
        return self.at, self.event.id


@dataclass(frozen=True, slots=True)
class Stay:
    """A span of time inside a parent."""

    parent: str
    from_at: datetime
    until_at: datetime | None
    overpack: bool


@dataclass(frozen=True)
class History:
    """A container's folded past.

    Attributes:
        container: Its id.
        happened: What reached it, in order.
        stays: When it was inside which parent, as they ended; those that last, inmost first.
        receipts: Completed receipts of its consignments, whether they name it or not.
        amendments: The amending entries among those read.
        carries: Others were put into it: a transport container or an outer bag.
        proofs: The cycles that it went through, as they stand, by number.
    """

    container: str
    happened: tuple[Happened, ...]
    stays: tuple[Stay, ...] = ()
    receipts: tuple[Happened, ...] = ()
    amendments: tuple[Entry, ...] = ()
    carries: bool = False
    proofs: Mapping[str, Proof] = field(default_factory=dict)

    @property
    def cycles(self) -> tuple[str, ...]:
        """The numbers of the cycles that it went through, in order."""
        named = (h.event.cycle for h in self.happened if isinstance(h.event, Treated))
        return tuple(dict.fromkeys(named))

    def counts(self, h: Happened) -> bool:
        """Say whether something happened to any effect: a failed cycle left its load untreated."""
        if not isinstance(h.event, Treated):
            return True
        proof = self.proofs.get(h.event.cycle)
        return proof is None or not proof.failed

    @cached_property
    def registered(self) -> Happened | None:
        """The first sealing, or None if the container was never registered."""
        return next((h for h in self.happened if isinstance(h.event, Registered)), None)


@dataclass(slots=True)
class _Link:
    parent: str
    overpack: bool
    since: datetime


@dataclass(slots=True)
class _Folding:
    container: str
    chain: list[_Link] = field(default_factory=list)
    happened: list[Happened] = field(default_factory=list)
    stays: list[Stay] = field(default_factory=list)
    receipts: list[Happened] = field(default_factory=list)
    consignment: str | None = None
    carries: bool = False

    def take(self, h: Happened) -> None:
        event = h.event
        if isinstance(event, (Packed, Unpacked)):
            self.carries |= event.parent == self.container
        elif isinstance(event, DoubleBagged):
            self.carries |= event.outer == self.container
        if isinstance(event, Unpacked):
            self._unpack(h, event)
            return
        depth = self._depth(event.containers)
        if (
            isinstance(event, Received)
            and event.complete
            and event.consignment is not None
            and event.consignment == self.consignment
        ):
            self.receipts.append(h)
        if depth is None or (depth > 0 and type(event) in _OF_ONE_CONTAINER):
            return
        self.happened.append(h if depth == 0 else _indirect(h))
        if isinstance(event, Dispatched):
            self.consignment = event.consignment
        self._leave(event, depth, h.at)
        if isinstance(event, Packed):
            self.chain.append(_Link(event.parent, False, h.at))
        elif isinstance(event, DoubleBagged) and event.outer is not None:
            self.chain.insert(self._overpacked(depth), _Link(event.outer, True, h.at))

    def _depth(self, named: tuple[str, ...]) -> int | None:
        """0 if the container itself is named, 1 for its parent, 2 for the parent's, else None."""
        if self.container in named:
            return 0
        for depth, link in enumerate(self.chain, 1):
            if link.parent in named:
                return depth
        return None

    def _overpacked(self, depth: int) -> int:
        """The place in the chain after the outer bags around what is at ``depth``."""
        while depth < len(self.chain) and self.chain[depth].overpack:
            depth += 1
        return depth

    def _leave(self, event: Event, depth: int, at: datetime) -> None:
        if not self.chain:
            return
        if isinstance(event, Disposed):
            self._cut(0, at)
        elif type(event) in _TAKES_OUT:
            self._cut(self._overpacked(depth), at)

    def _cut(self, keep: int, at: datetime | None) -> None:
        for link in self.chain[keep:]:
            self.stays.append(Stay(link.parent, link.since, at, link.overpack))
        del self.chain[keep:]

    def _unpack(self, h: Happened, event: Unpacked) -> None:
        """Take out what is named, or all; who names what was never in it still saw it there."""
        parents = [link.parent for link in self.chain]
        named = self.container in event.containers
        if event.parent in parents:
            index = parents.index(event.parent)
            if not event.containers or {self.container, *parents[:index]} & {*event.containers}:
                self.happened.append(h if named else _indirect(h))
                self._cut(index, h.at)
        elif named:
            self.happened.append(h)

    def done(self, amendments: tuple[Entry, ...]) -> History:
        self._cut(0, None)
        return History(
            self.container,
            tuple(self.happened),
            tuple(self.stays),
            tuple(self.receipts),
            amendments,
            self.carries,
        )


def _indirect(h: Happened) -> Happened:
    return Happened(h.event, h.at, h.entry, False, h.amended_by)


def fold(container: str, entries: Iterable[Entry]) -> History:
    """Give the history of a container from entries in any order.

    Args:
        container: The container's id.
        entries: Its own entries, those of every parent it was ever in, those of its consignments'
            receipts, and the amendments to any of them; entries that do not concern it do no harm.
    """
    unique = {entry.event.id: entry for entry in entries}
    amendments = [e for e in unique.values() if type(e.event) is Amended]
    folding = _Folding(container)
    for h in effective(unique.values()) if amendments else _as_told(unique.values()):
        folding.take(h)
    return folding.done(tuple(sorted(amendments, key=lambda e: (e.at, e.event.id))))


def with_proofs(history: History, proofs: Mapping[str, Proof]) -> History:
    """Give a history with those of the cycles that it went through."""
    found = {cycle: proofs[cycle] for cycle in history.cycles if cycle in proofs}
    return replace(history, proofs=found) if found else history


def effective(entries: Iterable[Entry]) -> list[Happened]:
    """Give what holds after amendments, ordered by time of happening, then event id.

    The latest amendment of an event holds; one without a corrected event strikes it out.
    """
    originals: dict[UUID, Entry] = {}
    amendments: dict[UUID, tuple[Entry, Amended]] = {}
    for entry in entries:
        event = entry.event
        if not isinstance(event, Amended):
            originals[event.id] = entry
            continue
        earlier = amendments.get(event.supersedes)
        if earlier is None or (earlier[0].at, earlier[1].id) < (entry.at, event.id):
            amendments[event.supersedes] = entry, event
    holds = _as_told(e for i, e in originals.items() if i not in amendments)
    for superseded, (entry, amendment) in amendments.items():
        if amendment.corrected is not None:
            original = originals.get(superseded)
            at = _corrected_at(amendment.corrected, original)
            holds.append(Happened(amendment.corrected, at, original or entry, True, amendment.id))
    return sorted(holds, key=_order)


def _as_told(entries: Iterable[Entry]) -> list[Happened]:
    """Give entries that nobody amended, in order."""
    return sorted([Happened(e.event, e.at, e) for e in entries], key=_order)


def _order(h: Happened) -> tuple[datetime, UUID]:
    return h.at, h.event.id


def _corrected_at(corrected: Event, original: Entry | None) -> datetime:
    """A time left as it was keeps its clock correction; a time put right is taken as true."""
    if original is not None and original.event.occurred_at == corrected.occurred_at:
        return original.at
    return corrected.occurred_at
