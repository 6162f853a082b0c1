"""Windows: stretches of time in each of which some pick-up must come.

A holding limit gives one for each container: from when it is ready to the last pick-up that still
has it treated in time. A full store gives them too: when the containers i..j together no longer
fit, some pick-up must come from i's arrival to j's, or all of them stand there at once.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.planning.free_time import closed_plant, closed_to_pick_ups
from service.planning.stock import Situation, Waiting


@dataclass(frozen=True, slots=True)
class Window:
    """A pick-up must come from ``from_at`` to ``until_at``, both included; ``until_at`` is free.

    Attributes:
        store: The store it is needed at.
        container: The container with the limit, or None where the store would be over-full.
        missed: No pick-up could come in time; then this is the first instant after.
    """

    from_at: datetime
    until_at: datetime
    store: str
    container: Waiting | None
    missed: bool = False


def windows(situation: Situation) -> tuple[Window, ...]:
    """Give every window that ends within the horizon, the earliest end first.

    A limit within it that is missed is among them though its pick-up can only come after.
    """
    found = [*_of_limits(situation), *_of_capacities(situation)]
    horizon = situation.until_at
    within = (
        w
        for w in found
        if w.until_at <= horizon
        or (w.missed and w.container and w.container.due_at and w.container.due_at <= horizon)
    )
    return tuple(sorted(within, key=lambda w: (w.until_at, w.from_at, w.store)))


def latest_safe(situation: Situation) -> dict[str, Window]:
    """Give each store's first window to end: its end is the latest safe pick-up, and it says why.

    A store that needs no pick-up within the horizon is not named.
    """
    first: dict[str, Window] = {}
    for window in windows(situation):
        first.setdefault(window.store, window)
    return first


def _of_limits(situation: Situation) -> Iterator[Window]:
    roads = closed_to_pick_ups(situation.blocked, situation.vehicles)
    plant = closed_plant(situation.blocked)
    onward = timedelta(hours=situation.onward_h)
    for w in situation.waiting:
        if w.due_at is None:
            continue
        ready = max(w.ready_at, situation.from_at)
        # Treated at the first instant the plant is free once the way is done: in time if and only
        # if the way is done by the last free instant of the plant up to the due time.
        until_at = roads.last_free(plant.last_free(w.due_at) - onward)
        if until_at >= ready:
            yield Window(ready, until_at, w.store, w)
        else:
            first = roads.first_free(ready)
            yield Window(first, first, w.store, w, missed=True)


def _of_capacities(situation: Situation) -> Iterator[Window]:
    roads = closed_to_pick_ups(situation.blocked, situation.vehicles)
    by_store: dict[str, list[Waiting]] = defaultdict(list)
    for w in situation.waiting:
        by_store[w.store].append(w)
    for store in situation.stores:
        if store.capacity_g is None:
            continue
        row = sorted(by_store[store.id], key=lambda w: w.ready_at)
        ready = [max(w.ready_at, situation.from_at) for w in row]
        held_g = [0]
        for w in row:
            held_g.append(held_g[-1] + w.weight_g)
        for i in range(len(row)):
            j = bisect_left(held_g, held_g[i] + store.capacity_g + 1) - 1
            if j >= len(row):
                break
            until_at = roads.last_free(ready[j])
            if until_at >= ready[i]:
                yield Window(ready[i], until_at, store.id, None)
            else:
                first = roads.first_free(ready[i])
                yield Window(first, first, store.id, None, missed=True)
