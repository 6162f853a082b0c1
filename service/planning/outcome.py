"""What comes of a timetable, played through forwards: limits broken, stores over-full.

It is reckoned apart from the planner, which looks back from the due times: a check on it.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from service.planning.free_time import closed_plant, closed_to_pick_ups
from service.planning.loads import Load
from service.planning.stock import Situation, StoreRoom, Waiting


@dataclass(frozen=True, slots=True)
class Break:
    """A limit that is not kept, or a store from the instant it holds too much.

    Attributes:
        kind: ``holding`` at the last allowed instant of a container that is treated later, or
            ``capacity``.
        over_g: How much the store then holds above its capacity.
    """

    kind: Literal["holding", "capacity"]
    store: str
    at: datetime
    container: Waiting | None = None
    over_g: int = 0


def breaks(situation: Situation, loads: Iterable[Load] = ()) -> tuple[Break, ...]:
    """Play the loads through and give all that breaks within the horizon, the earliest first.

    Without loads: what comes if nobody collects. A load at an instant when no pick-up can be
    leaves at the first free one after it.
    """
    roads = closed_to_pick_ups(situation.blocked, situation.vehicles)
    leaves: dict[str, datetime] = {}
    for load in loads:
        for c in load.containers:
            leaves[c.container] = roads.first_free(load.at)
    found = [*_holding(situation, leaves)]
    for store in situation.stores:
        if store.capacity_g is not None:
            found += _capacity(situation, store, leaves)
    return tuple(sorted(found, key=lambda b: (b.at, b.store, b.kind)))


def first_breaks(situation: Situation) -> dict[str, Break]:
    """Give each store's first break if nobody collects; a store without one is not named."""
    first: dict[str, Break] = {}
    for found in breaks(situation):
        first.setdefault(found.store, found)
    return first


def _holding(situation: Situation, leaves: dict[str, datetime]) -> Iterator[Break]:
    plant = closed_plant(situation.blocked)
    onward = timedelta(hours=situation.onward_h)
    for w in situation.waiting:
        if w.due_at is None or w.due_at > situation.until_at:
            continue
        left_at = leaves.get(w.container)
        if left_at is None or plant.first_free(left_at + onward) > w.due_at:
            yield Break("holding", w.store, w.due_at, w)


def _capacity(
    situation: Situation, store: StoreRoom, leaves: dict[str, datetime]
) -> Iterator[Break]:
    capacity_g = store.capacity_g or 0
    moved_g: dict[datetime, int] = defaultdict(int)
    for w in situation.waiting:
        if w.store != store.id:
            continue
        moved_g[max(w.ready_at, situation.from_at)] += w.weight_g
        if w.container in leaves:
            moved_g[leaves[w.container]] -= w.weight_g
    held_g, full = 0, False
    for at in sorted(moved_g):
        if at > situation.until_at:
            return
        held_g += moved_g[at]
        if held_g > capacity_g and not full:
            yield Break("capacity", store.id, at, over_g=held_g - capacity_g)
        full = held_g > capacity_g
