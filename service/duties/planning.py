"""The plan of pick-ups, from what stands in the stores, the usual rates and the set-up.

A plan rests on usual rates; tomorrow need not be usual. Local codes and the carrier's authorisation
come first.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID

from sqlalchemy import Connection

from service.custody.acts import Step
from service.custody.events import Collected, Entry, Registered, Stored
from service.custody.history import fold
from service.custody.rules import CategoryRules, Rules
from service.custody.site import Store as Room
from service.custody.standing import stand
from service.custody.words import ContainerKind
from service.duties.access import Caller, demand
from service.planning.free_time import Blocked, Cause, outside_hours
from service.planning.outcome import Break, breaks
from service.planning.stock import Situation, StoreRoom, Usual, Waiting, expected
from service.planning.timetable import Timetable
from service.planning.volumes import Chamber
from service.planning.what_if import WhatIf, what_if
from service.planning.windows import Window, latest_safe
from service.store import stock
from service.store.store import Store

DAYS, DAYS_MAX = 7, 31
WEEKS = timedelta(weeks=4)
"""How much of the past the usual rate is taken from."""
ONWARD_H, VEHICLES = Decimal(12), ("vehicle",)
"""What is taken where the set-up says nothing of pick-ups: stated in ``assumed``."""
FILL = Fraction(3, 4)
STEAM = (Step.AUTOCLAVE, Step.HYDROCLAVE, Step.MICROWAVE)


class PlanError(ValueError):
    """A plan that cannot be made; the message says why."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What the plan is for; None is for what the set-up says.

    Attributes:
        days: How far it looks ahead.
        load_kg, onward_h: Instead of the set-up's.
        broken: Vehicles that stand still throughout.
        holidays: Days without pick-up and treatment.
        plant_closed: Days without treatment.
        chamber_l, density_g_per_l: Of an autoclave, to reckon its loads.
    """

    days: int = DAYS
    load_kg: Decimal | None = None
    onward_h: Decimal | None = None
    broken: tuple[str, ...] = ()
    holidays: tuple[date, ...] = ()
    plant_closed: tuple[date, ...] = ()
    chamber_l: Decimal | None = None
    density_g_per_l: Decimal | None = None


@dataclass(frozen=True, slots=True)
class StorePlan:
    """One store: what it holds, when it breaks something, by when it must be emptied.

    Attributes:
        expected: Containers that will come within the horizon.
        first_break: What breaks first if nobody collects.
        latest_safe: The window whose end is the latest safe pick-up.
    """

    store: Room
    containers: int
    weight_g: int
    expected: int
    first_break: Break | None
    latest_safe: Window | None


@dataclass(frozen=True, slots=True)
class PlanView:
    """A plan.

    Attributes:
        timetable: Made knowing of what is blocked.
        uncollected: What breaks if nobody collects.
        left: What breaks all the same; holding limits that no pick-up could keep among them.
        what_if: The plan without what was asked about, against the one with it.
        autoclave_loads: Loads of the machine that was asked about, for what may be autoclaved.
        assumed: What the set-up does not say and was taken instead.
        unweighed: Containers whose weight is taken as usual.
    """

    situation: Situation
    stores: tuple[StorePlan, ...]
    timetable: Timetable
    uncollected: tuple[Break, ...]
    left: tuple[Break, ...]
    what_if: WhatIf
    autoclave_g: int
    autoclave_loads: int | None
    assumed: tuple[str, ...]
    unweighed: int

    @property
    def avoided(self) -> int:
        """How many breaks the timetable avoids."""
        return len(self.uncollected) - len(self.left)


def plan(store: Store, caller: Caller, asked: Asked, now: datetime) -> PlanView:
    """Plan the pick-ups of the coming days.

    Raises:
        PlanError: no store is set up, a vehicle is none of the fleet, or a figure is out of bounds.
    """
    demand(caller, "plan_pick_ups")
    if not 1 <= asked.days <= DAYS_MAX:
        raise PlanError(f"a plan looks 1 to {DAYS_MAX} days ahead")
    with store.viewing() as connection:
        rules = store.rules_in(connection, caller.facility)
        if not rules.site.store:
            raise PlanError("no store is set up: there is nothing to collect from")
        ground = _ground(connection, caller, rules, now)
    try:
        usual, extra = _situation(ground, rules, asked, now)
        return _planned(ground, rules, asked, usual, extra)
    except ValueError as error:
        raise PlanError(str(error)) from error


@dataclass
class _Ground:
    """What is read of the record."""

    rows: Sequence[Any]
    made: list[stock.Made]
    unweighed: int = 0
    category: dict[str, str] = field(default_factory=dict)


def _ground(connection: Connection, caller: Caller, rules: Rules, now: datetime) -> _Ground:
    facility, scope = caller.facility, caller.scope
    parties = {s.party for s in rules.site.store}
    rows = stock.standing(connection, facility, parties, rules.site.stores, scope)
    return _Ground(rows, stock.made(connection, facility, (now - WEEKS, now), scope))


def _situation(
    ground: _Ground, rules: Rules, asked: Asked, now: datetime
) -> tuple[Situation, tuple[Blocked, ...]]:
    """Give the usual situation, and what is blocked besides by what was asked about."""
    site, set_up = rules.site, rules.site.pick_ups
    until = now + timedelta(days=asked.days)
    waiting = [*_standing(ground, rules, now), *_coming(ground, rules, now, until)]
    blocked: tuple[Blocked, ...] = ()
    if set_up:
        first, last = site.local_day(now), site.local_day(until)
        hours = (set_up.opens, set_up.closes)
        blocked = outside_hours(first, last, *hours, site.zone, Cause.COLLECTION)
    load_kg = asked.load_kg or (set_up.load_kg if set_up else None)
    onward_h = asked.onward_h
    if onward_h is None:
        onward_h = set_up.onward_hours if set_up else ONWARD_H
    rooms = tuple(
        StoreRoom(s.id, None if s.capacity_kg is None else int(s.capacity_kg * 1000))
        for s in site.store
    )
    situation = Situation(
        now,
        until,
        tuple(waiting),
        rooms,
        set_up.vehicles if set_up else VEHICLES,
        None if load_kg is None else int(load_kg * 1000),
        float(onward_h),
        blocked,
    )
    return situation, tuple(_asked_about(asked, rules, now, until))


def _asked_about(asked: Asked, rules: Rules, now: datetime, until: datetime) -> Iterator[Blocked]:
    for vehicle in dict.fromkeys(asked.broken):
        # The ends of a stretch are free, and a broken vehicle is broken now.
        since = now - timedelta.resolution
        yield Blocked(since, until + timedelta(days=1), Cause.VEHICLE, vehicle, "broken")
    for days, cause in ((asked.holidays, Cause.HOLIDAY), (asked.plant_closed, Cause.PLANT)):
        for day in days:
            start = datetime.combine(day, time(), rules.site.zone).astimezone(UTC)
            end = datetime.combine(day + timedelta(days=1), time(), rules.site.zone)
            yield Blocked(start, end.astimezone(UTC), cause)


def _standing(ground: _Ground, rules: Rules, now: datetime) -> Iterator[Waiting]:
    """What stands in a store, and what waits at its unit for the store of its category."""
    mean_g = {(m.unit, m.category): m.weight_g // m.weighed for m in ground.made if m.weighed}
    for row in ground.rows:
        room = row.place if row.place in rules.site.stores else _room(rules, row.category)
        if row.weight_g is None:
            ground.unweighed += 1
        weight_g = row.weight_g or mean_g.get((row.unit, row.category), 0)
        ground.category[row.container] = row.category
        yield Waiting(row.container, room, weight_g, now, row.due_at)


def _room(rules: Rules, category: str) -> str:
    """The store that names the category, else the first that is for all, else the first."""
    rooms = rules.site.store
    named = [s.id for s in rooms if category in s.categories]
    return (named or [s.id for s in rooms if not s.categories] or [rooms[0].id])[0]


def _coming(ground: _Ground, rules: Rules, now: datetime, until: datetime) -> Iterator[Waiting]:
    days = WEEKS.days
    held: dict[tuple[str, str], float | None] = {}
    for m in ground.made:
        if not m.weighed or m.weight_g < m.weighed:
            continue
        key = (m.category, _room(rules, m.category))
        if key not in held:
            held[key] = _held_h(rules, *key, now)
        container_g = m.weight_g // m.weighed
        per_day = m.containers * container_g // days
        usual = Usual(m.unit, m.category, key[1], per_day, container_g, held[key])
        for waiting in expected([usual], now, until):
            ground.category[waiting.container] = m.category
            yield waiting


_NOBODY = "plan"


def _held_h(rules: Rules, category: str, room: str, now: datetime) -> float | None:
    """Give the hours that waste sealed and stored now may be kept, as the rules judge it."""
    text = rules.on(category, rules.site.local_day(now))
    if text is None:
        return None
    told = {"occurred_at": now, "actor": _NOBODY, "containers": (_NOBODY,)}
    unit, party = rules.site.unit[0].id, rules.site.stores[room].party
    kind = _kind(text)
    events = (
        Registered(id=UUID(int=1), category=category, unit=unit, container_kind=kind, **told),
        Collected(id=UUID(int=2), from_party=unit, to_party=party, **told),
        Stored(id=UUID(int=3), store=room, **told),
    )
    standing = stand(fold(_NOBODY, [Entry(event, now) for event in events]), rules)
    return None if standing.due_at is None else (standing.due_at - now) / timedelta(hours=1)


def _kind(text: CategoryRules) -> ContainerKind:
    return text.containers[0].kinds[0] if text.containers else ContainerKind.BAG


def _planned(
    ground: _Ground,
    rules: Rules,
    asked: Asked,
    usual: Situation,
    extra: tuple[Blocked, ...],
) -> PlanView:
    found = what_if(usual, extra)
    situation = replace(usual, blocked=(*usual.blocked, *extra))
    uncollected = breaks(situation)
    first: dict[str, Break] = {}
    for one in uncollected:
        first.setdefault(one.store, one)
    safe = latest_safe(situation)
    stores = tuple(
        _of_store(room, situation, first.get(room.id), safe.get(room.id))
        for room in rules.site.store
    )
    steam_g = sum(w.weight_g for w in situation.waiting if _steamed(ground, rules, w, usual))
    chamber = _chamber(asked)
    return PlanView(
        situation,
        stores,
        found.anew,
        uncollected,
        found.left,
        found,
        steam_g,
        chamber.fillings(steam_g) if chamber else None,
        tuple(_assumed(rules, asked)),
        ground.unweighed,
    )


def _of_store(
    room: Room, situation: Situation, first: Break | None, safe: Window | None
) -> StorePlan:
    mine = [w for w in situation.waiting if w.store == room.id]
    here = [w for w in mine if not w.expected]
    weight_g = sum(w.weight_g for w in here)
    return StorePlan(room, len(here), weight_g, len(mine) - len(here), first, safe)


def _steamed(ground: _Ground, rules: Rules, w: Waiting, situation: Situation) -> bool:
    """Whether a permitted route of the category begins in an autoclave or its like."""
    day = rules.site.local_day(situation.from_at)
    text = rules.on(ground.category[w.container], day)
    routes = text.routes if text else ()
    return any(step in route.stages[0] for route in routes for step in STEAM)


def _chamber(asked: Asked) -> Chamber | None:
    if asked.chamber_l is None and asked.density_g_per_l is None:
        return None
    if asked.chamber_l is None or asked.density_g_per_l is None:
        raise PlanError("machine loads need both the chamber's litres and the bulk density")
    return Chamber(asked.chamber_l, FILL, asked.density_g_per_l)


def _assumed(rules: Rules, asked: Asked) -> Iterable[str]:
    if rules.site.pick_ups is None:
        yield "The set-up says nothing of pick-ups: one vehicle, at any hour, is taken."
        if asked.onward_h is None:
            yield f"{ONWARD_H} h are taken from pick-up to treatment."
    if any(s.capacity_kg is None for s in rules.site.store):
        yield "A store without a capacity is taken as never full."
