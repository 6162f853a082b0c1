"""Evidence of treatment that belongs to no cycle on record: it is kept, and shown until it does.

An indicator may come before its run, so nothing is sent back for it: it is tied when the run comes.
"""

from collections.abc import Container, Iterable, Iterator, Mapping
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from service.custody.cycle_events import IndicatorRead, LoadObserved, SporeTested, TraceAttached
from service.custody.history import Happened

OF_RUN = (TraceAttached, IndicatorRead, LoadObserved)
EVIDENCE = tuple(k.model_fields["kind"].default for k in (*OF_RUN, SporeTested))
"""The kinds of event that are evidence of a cycle or a machine."""


class Untied(NamedTuple):
    """An event that proves nothing yet.

    Attributes:
        because: What it names that is not on record, in a sentence.
        sender: By whose credential it came.
    """

    event: UUID
    kind: str
    at: datetime
    cycle: str | None
    machine: str | None
    because: str
    sender: str


def cycles_named(told: Iterable[Happened]) -> set[str]:
    """Give the numbers of the cycles that evidence names."""
    events = (h.event for h in told if isinstance(h.event, (*OF_RUN, SporeTested)))
    return {event.cycle for event in events if event.cycle is not None}


def untied(
    told: Iterable[Happened], ran_on: Mapping[str, str], machines: Container[str]
) -> Iterator[Untied]:
    """Give the evidence that can be tied to nothing.

    ``ran_on`` has the machine of each cycle whose run is on record, ``machines`` is the register.
    """
    for h in told:
        event = h.event
        if not isinstance(event, (*OF_RUN, SporeTested)):
            continue
        machine = event.machine if isinstance(event, SporeTested) else None
        because = _why(event.cycle, machine, ran_on, machines)
        if because:
            yield Untied(event.id, event.kind, h.at, event.cycle, machine, because, h.entry.sender)


def _why(
    cycle: str | None, machine: str | None, ran_on: Mapping[str, str], machines: Container[str]
) -> str:
    if machine is not None and machine not in machines:
        return f"no machine '{machine}' is in the register of machines"
    if cycle is None:
        return ""
    if cycle not in ran_on:
        return f"no run of cycle {cycle} is on record here"
    if machine is not None and ran_on[cycle] != machine:
        return f"cycle {cycle} ran on {ran_on[cycle]}, not on {machine}"
    return ""
