"""The stream as a reader outside would see it: by container, in order of true time."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from scenario import Quarter

Event = dict[str, Any]


def bare(code: str) -> str:
    """The id in a scanned code."""
    return code.split("/")[3] if "/" in code else code


@dataclass(frozen=True, slots=True)
class Told:
    """An event with its true time, when it reached the service, and the sender's clock error."""

    at: datetime
    recorded_at: datetime
    offset_s: int
    event: Event


@dataclass(repr=False)
class Stream:
    """A quarter's stream sorted by container."""

    quarter: Quarter
    told: list[Told] = field(default_factory=list)
    by_container: dict[str, list[Told]] = field(default_factory=lambda: defaultdict(list))

    def __post_init__(self) -> None:
        seen = set()
        for batch in self.quarter.batches:
            for event in batch.events:
                if event["id"] in seen:
                    continue
                seen.add(event["id"])
                at = datetime.fromisoformat(event["occurred_at"])
                at -= timedelta(seconds=batch.clock_offset_s)
                told = Told(at, batch.recorded_at, batch.clock_offset_s, event)
                self.told.append(told)
                for code in dict.fromkeys([*event["containers"], event.get("parent", "")]):
                    self.by_container[bare(code)].append(told)
        for row in self.by_container.values():
            row.sort(key=lambda told: (told.at, told.event["id"]))

    def of(self, container: str, *kinds: str) -> list[Told]:
        """Give the events that name the container, of some kinds or all, in order."""
        row = self.by_container[container]
        return [told for told in row if not kinds or told.event["kind"] in kinds]

    def departure(self, container: str) -> Event:
        """Give the event with which the cart that holds the container left."""
        packed = self.of(container, "packed")[-1]
        leaving = self.of(packed.event["parent"], "dispatched")
        return next(told.event for told in leaving if told.at > packed.at)
