"""Loads: which containers go with which pick-up, where a vehicle takes at most so much."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from service.planning.search import least_groups
from service.planning.stock import Waiting
from service.planning.windows import Window


@dataclass(frozen=True, slots=True)
class Load:
    """What one vehicle takes at one instant."""

    at: datetime
    containers: tuple[Waiting, ...]

    @property
    def weight_g(self) -> int:
        """The weight of all of it."""
        return sum(c.weight_g for c in self.containers)


def stabbed(row: Iterable[Window]) -> tuple[datetime, ...]:
    """Give the fewest instants of which one lies in each window (proof in ``timetable``)."""
    stops: list[datetime] = []
    for window in sorted(row, key=lambda w: w.until_at):
        if not stops or stops[-1] < window.from_at:
            stops.append(window.until_at)
    return tuple(stops)


def take_all(
    stops: Sequence[datetime],
    waiting: Iterable[Waiting],
    row: Sequence[Window],
    most_g: int | None,
    *,
    everything: bool,
) -> tuple[Load, ...]:
    """Clear the stores at each stop, in as many loads as it takes, the heaviest first.

    At most three times the least number of loads, unless ``everything`` is taken. Proof. At a stop
    with w grams, any two of its n loads weigh over ``most_g`` together (the first container of the
    later one did not fit the earlier), so n is 1 or less than 2 w / most_g. Added up: at most
    2 W / most_g + the number of stops. The least is at least W / most_g, and at least the number
    of stops (proof in ``timetable``).

    Args:
        stops: Instants that stab every window.
        waiting: All containers that may ride.
        row: The windows.
        most_g: What a load can weigh; None is no limit.
        everything: Whether containers without a window are taken too, as a store that would fill
            up needs it; else they ride only where room is left.
    """
    bound = {w.container.container for w in row if w.container}
    ready = sorted(waiting, key=lambda c: c.ready_at)
    left: list[Waiting] = []
    loads: list[Load] = []
    taken = 0
    for stop in stops:
        while taken < len(ready) and ready[taken].ready_at <= stop:
            left.append(ready[taken])
            taken += 1
        must = [c for c in left if everything or c.container in bound]
        groups = _first_fit(sorted(must, key=lambda c: -c.weight_g), most_g)
        gone = set(map(id, must))
        left = [c for c in left if id(c) not in gone]
        left = _ride_along(groups, left, most_g)
        loads += [Load(stop, tuple(group)) for group in groups]
    return tuple(loads)


def load_by_load(
    waiting: Iterable[Waiting], row: Sequence[Window], most_g: int
) -> tuple[Load, ...]:
    """Send one load at the last instant for whoever waits most urgently, filled by urgency.

    Often fewer loads than ``take_all``, for what can wait does; but no store is watched.
    """
    urgent = [w for w in row if w.container]
    riders = _without(waiting, urgent)
    loads: list[Load] = []
    while urgent:
        at = urgent[0].until_at
        group: list[Waiting] = []
        room_g, rest = most_g, []
        for window in urgent:
            c = window.container
            if c is not None and window.from_at <= at and c.weight_g <= room_g:
                group.append(c)
                room_g -= c.weight_g
            else:
                rest.append(window)
        urgent = rest
        here = [c for c in riders if c.ready_at <= at]
        gone = set(map(id, here)) - set(map(id, _ride_along([group], here, most_g)))
        riders = [c for c in riders if id(c) not in gone]
        loads.append(Load(at, tuple(group)))
    return tuple(loads)


def fewest(
    row: Sequence[Window], waiting: Iterable[Waiting], most_g: int
) -> tuple[Load, ...] | None:
    """Give the least number of loads that keeps every window of a container; no store is watched.

    Returns:
        The loads, or None where the search would be too long.
    """
    urgent = sorted((w for w in row if w.container), key=lambda w: w.until_at)
    found = least_groups(urgent, most_g)
    if found is None:
        return None
    riders = _without(waiting, urgent)
    loads = []
    for windows in found:
        group = [w.container for w in windows if w.container]
        at = windows[0].until_at
        here = [c for c in riders if c.ready_at <= at]
        stay = set(map(id, _ride_along([group], here, most_g)))
        riders = [c for c in riders if c.ready_at > at or id(c) in stay]
        loads.append(Load(at, tuple(group)))
    return tuple(loads)


def _first_fit(containers: Iterable[Waiting], most_g: int | None) -> list[list[Waiting]]:
    """Put each into the first load that has room, or a new one."""
    groups: list[list[Waiting]] = []
    rooms_g: list[int] = []
    for c in containers:
        for i, room_g in enumerate(rooms_g):
            if most_g is None or c.weight_g <= room_g:
                groups[i].append(c)
                rooms_g[i] -= c.weight_g
                break
        else:
            groups.append([c])
            rooms_g.append((most_g or 0) - c.weight_g)
    return groups


def _ride_along(
    groups: list[list[Waiting]], riders: Iterable[Waiting], most_g: int | None
) -> list[Waiting]:
    """Put riders where room is left, those due first before others; give those that stay."""
    rooms_g = [None if most_g is None else most_g - sum(c.weight_g for c in g) for g in groups]
    stay = []
    for c in sorted(riders, key=lambda c: (c.due_at is None, c.due_at or c.ready_at)):
        for i, room_g in enumerate(rooms_g):
            if room_g is None or c.weight_g <= room_g:
                groups[i].append(c)
                rooms_g[i] = None if room_g is None else room_g - c.weight_g
                break
        else:
            stay.append(c)
    return stay


def _without(waiting: Iterable[Waiting], urgent: Iterable[Window]) -> list[Waiting]:
    bound = {w.container.container for w in urgent if w.container}
    return [c for c in waiting if c.container not in bound]
