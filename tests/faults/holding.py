"""What must hold after any fault, compared with what the clients were told; and how to tell it."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from tests.faults.clients import Collector, Event

Numbered = Sequence[tuple[int, dict[str, Any]]]


@dataclass
class Tally:
    """How often something was tried, and every case in which it went wrong."""

    what: str
    tried: int = 0
    acknowledged: int = 0
    wrong: list[str] = field(default_factory=list)
    notes: dict[str, Any] = field(default_factory=dict)

    def add(self, other: "Tally") -> None:
        """Put the result of another round to it; of notes, numbers are added up."""
        self.what = other.what
        self.tried += other.tried
        self.acknowledged += other.acknowledged
        self.wrong += other.wrong
        for name, said in other.notes.items():
            if isinstance(said, int | float):
                self.notes[name] = self.notes.get(name, 0) + said

    def bound(self) -> str:
        """The result as a bound and not as a promise (rule of three, 95 %)."""
        if self.wrong:
            return f"{len(self.wrong)} in {self.tried:,}: {self.wrong[0][:200]}"
        return f"0 in {self.tried:,}, upper bound {3 / max(self.tried, 1):.2g}"


def faults_of(
    entries: Numbered, collectors: Iterable[Collector], until_ns: int = 1 << 62
) -> list[str]:
    """Compare the record with what was acknowledged: nothing lost, changed, double or in halves."""
    wrong: list[str] = []
    numbers = [seq for seq, _ in entries]
    if numbers != list(range(2, len(numbers) + 2)):  # the set-up is number 1
        wrong.append("the numbers of the record have a gap or are out of order")
    times = Counter(event["id"] for _, event in entries)
    wrong += [f"{i} is on record {n} times" for i, n in times.items() if n > 1]
    on_record = {event["id"]: event for _, event in entries}
    for collector in collectors:
        for event in collector.acknowledged(until_ns):
            wrong += _kept(event, on_record)
        for one in collector.sent:
            found = sum(event["id"] in on_record for event in one.events)
            if found not in (0, len(one.events)):
                wrong.append(f"{found} of {len(one.events)} events of one request are on record")
    return wrong


def _kept(sent: Event, on_record: dict[str, dict[str, Any]]) -> list[str]:
    kept = on_record.get(sent["id"])
    if kept is None:
        return [f"{sent['id']} was acknowledged and is lost"]
    changed = [name for name, said in sent.items() if kept.get(name) != said]
    return [f"{sent['id']} is on record with another {name}" for name in changed]


def lost(entries: Numbered, collectors: Iterable[Collector], until_ns: int = 1 << 62) -> int:
    """How many acknowledged events are not on record."""
    on_record = {event["id"] for _, event in entries}
    return sum(e["id"] not in on_record for c in collectors for e in c.acknowledged(until_ns))
