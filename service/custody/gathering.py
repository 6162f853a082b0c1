"""Which entries a container's history rests on, worked out from a list of numbered entries alone.

These are its own entries, what reached its parents while it was inside, the completed receipts of
its consignments, and to each amendment the event it corrects and the other amendments of that.
"""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from datetime import UTC, datetime
from operator import itemgetter
from uuid import UUID

from service.custody.cycle_events import OF_CYCLE, SporeTested
from service.custody.events import (
    Amended,
    Dispatched,
    Entry,
    Happening,
    Received,
    Unpacked,
)
from service.custody.history import History, fold

END = datetime.max.replace(tzinfo=UTC)
"""The end of what has none yet."""

_Span = tuple[str, datetime, datetime]
"""A parent, and from when until when a container was in it."""


def speaks_of(entry: Entry, original: Entry | None) -> Iterator[tuple[str, datetime, bool]]:
    """Give every container an entry bears on, the time it speaks of, and whether it reaches inside.

    An amendment bears on what the original named, at the original's time, and on what the
    corrected event names, at its own.
    """
    event = entry.event
    yield from _named(event, entry.at)
    if not isinstance(event, Amended):
        return
    for other in (event.corrected, original.event if original else None):
        if other is not None:
            yield from _named(other, other.occurred_at)
            if original is not None:
                yield from _named(other, original.at)


def _named(event: Happening, at: datetime) -> Iterator[tuple[str, datetime, bool]]:
    """What an event names. It reaches what is inside a container that it moves or empties."""
    for container in event.named():
        emptied = isinstance(event, Unpacked) and not event.containers
        yield container, at, emptied or container in event.containers


def receipts_in(entry: Entry, original: Entry | None) -> set[str]:
    """Give the consignments whose completed receipt an entry is, or amends."""
    events: list[Happening | None] = [entry.event]
    if isinstance(entry.event, Amended):
        events = [entry.event.corrected, original.event if original else None]
    return {
        e.consignment for e in events if isinstance(e, Received) and e.complete and e.consignment
    }


def _sent_in(entry: Entry) -> str | None:
    """Give the consignment that an entry sends off, or corrects an event to have sent off."""
    event = entry.event.corrected if isinstance(entry.event, Amended) else entry.event
    return event.consignment if isinstance(event, Dispatched) else None


def bears_on_cycles(event: Happening) -> bool:
    """Say whether an event is about machines and their cycles, or amends one that is."""
    told = event.corrected if isinstance(event, Amended) else event
    return told is None or isinstance(told, (*OF_CYCLE, SporeTested))


def named_in(entries: Iterable[Entry]) -> set[str]:
    """Give every container that an event names, an amendment's corrected event among them."""
    return {container for entry in entries for container in entry.event.named()}


class Gathering:
    """Numbered entries by what they bear on."""

    def __init__(self, entries: Iterable[tuple[int, Entry]]) -> None:
        self.entries = dict(entries)
        self._number = {e.event.id: n for n, e in self.entries.items()}
        self._corrects: dict[int, UUID] = {}
        self._amending: dict[UUID, list[int]] = defaultdict(list)
        self._own: dict[str, set[int]] = defaultdict(set)
        self._sent: dict[int, str] = {}
        self._receipts: dict[str, set[int]] = defaultdict(set)
        reaching: dict[str, set[tuple[datetime, int]]] = defaultdict(set)
        for number, entry in self.entries.items():
            original = self._take(number, entry)
            if (consignment := _sent_in(entry)) is not None:
                self._sent[number] = consignment
            for container, at, reaches in speaks_of(entry, original):
                self._own[container].add(number)
                if reaches:
                    reaching[container].add((at, number))
            for received in receipts_in(entry, original):
                self._receipts[received].add(number)
        self._reaching = {container: sorted(found) for container, found in reaching.items()}

    def _take(self, number: int, entry: Entry) -> Entry | None:
        """Note an amendment; give the entry it corrects, if that is at hand."""
        event = entry.event
        if not isinstance(event, Amended):
            return None
        self._corrects[number] = event.supersedes
        self._amending[event.supersedes].append(number)
        known = self._number.get(event.supersedes)
        return None if known is None else self.entries[known]

    def histories(self, containers: Iterable[str]) -> Iterator[History]:
        """Fold each container from all that bears on it."""
        return (self._gathered(container)[0] for container in containers)

    def bearing_on(self, containers: Iterable[str]) -> set[int]:
        """Give the numbers of the entries that the histories of the containers rest on."""
        gathered = [self._gathered(container) for container in containers]
        numbers = set[int]().union(*(found for _, found in gathered))
        if any(history.cycles for history, _ in gathered):
            numbers |= {n for n, e in self.entries.items() if bears_on_cycles(e.event)}
        return numbers

    def _gathered(self, container: str) -> tuple[History, set[int]]:
        """Fold, fetch what the fold shows to be lacking, and again until nothing is.

        Receipts are fetched before it shows that their consignments held the container: one that
        held it not does no harm, one fetched later would have all folded once more.
        """
        numbers = set(self._own.get(container, ()))
        asked: set[_Span] = set()
        while True:
            numbers |= self._received(numbers)
            numbers |= self._kin(numbers)
            history = fold(container, [self.entries[n] for n in numbers])
            spans = {(s.parent, s.from_at, s.until_at or END) for s in history.stays} - asked
            asked |= spans
            lacking = self._inside(spans) | self._received(numbers)
            if lacking <= numbers:
                return history, numbers
            numbers |= lacking

    def _kin(self, numbers: Collection[int]) -> set[int]:
        """One amendment alone would mislead: its event may be corrected to something else since."""
        found: set[int] = set()
        for event_id in {self._corrects[n] for n in numbers if n in self._corrects}:
            found.update(self._amending[event_id])
            if event_id in self._number:
                found.add(self._number[event_id])
        return found

    def _inside(self, spans: Iterable[_Span]) -> set[int]:
        """What reached the parents meanwhile."""
        found: set[int] = set()
        for parent, from_at, until_at in spans:
            reached = self._reaching.get(parent, ())
            first = bisect_left(reached, from_at, key=itemgetter(0))
            last = bisect_right(reached, until_at, key=itemgetter(0))
            found.update(number for _, number in reached[first:last])
        return found

    def _received(self, numbers: Collection[int]) -> set[int]:
        """The completed receipts of the consignments that left by these entries."""
        left = {self._sent[n] for n in self._sent.keys() & numbers}
        return set[int]().union(*(self._receipts.get(consignment, ()) for consignment in left))
