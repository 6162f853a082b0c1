"""Sends the lines to the service in batches, as devices do: late from dead spots, some twice."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from random import Random

from scenario.activity import DAY_S
from scenario.writing import Event, Line

BATCH = 900
"""Most events in a batch."""

BATCHES_A_DAY = 2
"""Fewest on a day, so that nothing waits long in a small hospital."""

_AGAIN = 40
"""Events that a device sends again when it did not see the answer."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Events that reach the service together.

    Attributes:
        recorded_at: When they reach it, by its own clock, UTC.
        clock_offset_s: How far the sending device's clock is ahead, in seconds.
        events: The events as JSON.
    """

    recorded_at: datetime
    clock_offset_s: int
    events: list[Event]


def post(rng: Random, lines: list[Line], start: datetime, last_s: int) -> list[Batch]:
    """Give all batches in order of arrival."""
    sendings: list[tuple[int, int, list[Line]]] = []
    wrong_clocks: dict[tuple[int, int], list[Line]] = defaultdict(list)
    right: list[Line] = []
    for line in lines:
        if line.offset_s:
            wrong_clocks[line.offset_s, line.sent_s // DAY_S].append(line)
        else:
            right.append(line)
    for (offset_s, _), group in wrong_clocks.items():
        sendings.append((_arrival(rng, group, 0, last_s), offset_s, group))
    arrived_s = 0
    for group in _cut(right):
        arrived_s = _arrival(rng, group, arrived_s, last_s)
        sendings.append((arrived_s, 0, group))
        if rng.random() < 0.03:
            again_s = min(arrived_s + rng.randint(20, 60), last_s)
            sendings.append((again_s, 0, group[-_AGAIN:]))
    sendings.sort(key=lambda sending: sending[:2])
    return [
        Batch(start + timedelta(seconds=at_s), offset_s, [line.event for line in group])
        for at_s, offset_s, group in sendings
    ]


def _arrival(rng: Random, group: list[Line], before_s: int, last_s: int) -> int:
    """Soon after the last line is sent, on the same day, and after what was sent before."""
    sent_s = max(line.sent_s for line in group)
    midnight_s = (sent_s // DAY_S + 1) * DAY_S
    soon_s = min(sent_s + rng.randint(20, 120), midnight_s - 1)
    return min(max(soon_s, before_s + 1), last_s)


def _cut(lines: list[Line]) -> list[list[Line]]:
    """Cut each day's lines, in order of sending, into batches of like size."""
    lines.sort(key=lambda line: line[:2])
    batches: list[list[Line]] = []
    for _, day in groupby(lines, key=lambda line: line.sent_s // DAY_S):
        rows = list(day)
        count = max(-(-len(rows) // BATCH), BATCHES_A_DAY)
        size = -(-len(rows) // count)
        batches.extend(rows[i : i + size] for i in range(0, len(rows), size))
    return batches
