"""A handler's rounds: what waits at the units, what stands in a store."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Row

from service.custody.regime import Category
from service.custody.rules import Rules
from service.custody.site import Store, Unit
from service.duties import lookup
from service.duties.access import Caller
from service.duties.lookup import PAGE_MAX, ContainerFilter, NotFoundError
from service.store.store import Store as Record

_STILL_THERE = ("stored", "double_bagged", "found")
"""What may last have happened to a container that still stands where it was put."""
_NOT_FETCHED = ("registered", "double_bagged")


@dataclass(frozen=True, slots=True)
class Standing:
    """A container that stands somewhere; ``due_at`` is the last allowed instant, if any runs."""

    container: str
    category: Category | None
    weight_g: int | None
    due_at: datetime | None
    parent: str | None


@dataclass(frozen=True, slots=True)
class Lot:
    """What is of one category and stands in one place.

    Attributes:
        weight_g: What those weigh that were weighed.
        unweighed: How many were not.
        due_at: The limit that ends first.
    """

    category: Category | None
    containers: int
    weight_g: int
    unweighed: int
    due_at: datetime | None
    past: int
    near: int


@dataclass(frozen=True, slots=True)
class StoreRoom:
    """A store with what stands in it, the lot that must leave first at its head.

    Attributes:
        near_hours: From how long before its limit a container counts as near it; None if no rule
            says so.
    """

    store: Store
    lots: tuple[Lot, ...]
    containers: int
    weight_g: int
    unweighed: int
    past: int
    near: int
    near_hours: int | None


@dataclass(frozen=True, slots=True)
class AtUnit:
    """How many containers wait at a unit to be fetched, and which limit ends first."""

    unit: Unit
    containers: int
    due_at: datetime | None


def in_store(record: Record, caller: Caller, store_id: str) -> list[Standing]:
    """Give what stands in a store, the limit that ends first at its head.

    Raises:
        NotFoundError: there is no such store.
    """
    rules = lookup.rules(record, caller)
    store = _store(rules, store_id)
    rows = _held(record, caller, store.party, _STILL_THERE)
    found = [standing_of(rules, row) for row in rows if row.place == store.id]
    return sorted(found, key=lambda one: _soonest(one.due_at, one.container))


def store_room(record: Record, caller: Caller, store_id: str, now: datetime) -> StoreRoom:
    """Give a store as its wall shows it.

    Raises:
        NotFoundError: there is no such store.
    """
    rules = lookup.rules(record, caller)
    rule = rules.hours("holding_near", "", rules.site.local_day(now))
    near_hours = rule[0] if rule else None
    standing = in_store(record, caller, store_id)
    lots = lots_of(standing, now, timedelta(hours=near_hours or 0))
    return StoreRoom(
        store=_store(rules, store_id),
        lots=lots,
        containers=len(standing),
        weight_g=sum(lot.weight_g for lot in lots),
        unweighed=sum(lot.unweighed for lot in lots),
        past=sum(lot.past for lot in lots),
        near=sum(lot.near for lot in lots),
        near_hours=near_hours,
    )


def at_units(record: Record, caller: Caller) -> list[AtUnit]:
    """Give what waits at each unit within the caller's scope, the soonest due first."""
    scope = caller.scope
    found = []
    for unit in lookup.rules(record, caller).site.unit:
        if scope.units and unit.id not in scope.units:
            continue
        rows = list(_held(record, caller, unit.id, _NOT_FETCHED))
        due_at = min((row.due_at for row in rows if row.due_at), default=None)
        found.append(AtUnit(unit, len(rows), due_at))
    return sorted(found, key=lambda one: (not one.containers, *_soonest(one.due_at, one.unit.name)))


def categories(record: Record, caller: Caller, now: datetime) -> tuple[Category, ...]:
    """Give the categories that the facility's regime has today."""
    rules = lookup.rules(record, caller)
    return rules.regime.categories_on(rules.site.local_day(now))


def _store(rules: Rules, store_id: str) -> Store:
    store = rules.site.stores.get(store_id)
    if store is None:
        raise NotFoundError(f"there is no store '{store_id}'")
    return store


def _held(
    record: Record, caller: Caller, custodian: str, states: Iterable[str]
) -> Iterator[Row[Any]]:
    """Give all that a party holds in one of the states, page by page."""
    for state in states:
        asked = ContainerFilter(custodian=custodian, state=state, open_only=True, limit=PAGE_MAX)
        page = lookup.containers(record, caller, asked)
        yield from page
        while len(page) == PAGE_MAX:
            page = lookup.containers(record, caller, replace(asked, after=page[-1].container))
            yield from page


def standing_of(rules: Rules, row: Row[Any]) -> Standing:
    """Give a row of the list as a container that stands somewhere."""
    category = category_of(rules, row.category, row.sealed_at)
    return Standing(row.container, category, row.weight_g, row.due_at, row.parent)


def category_of(
    rules: Rules, category_id: str | None, sealed_at: datetime | None
) -> Category | None:
    """Give the category as it was on the day of sealing; None of what was not registered."""
    if category_id is None or sealed_at is None:
        return None
    return rules.regime.category_on(category_id, rules.site.local_day(sealed_at))


def lots_of(standing: Iterable[Standing], now: datetime, near: timedelta) -> tuple[Lot, ...]:
    """Put together what is of one category, the limit that ends first at the head."""
    by_category: dict[str, list[Standing]] = {}
    for one in standing:
        by_category.setdefault(one.category.id if one.category else "", []).append(one)
    lots = [_lot(group, now, near) for group in by_category.values()]
    return tuple(
        sorted(
            lots, key=lambda lot: _soonest(lot.due_at, lot.category.name if lot.category else "")
        )
    )


def _lot(group: list[Standing], now: datetime, near: timedelta) -> Lot:
    due = [one.due_at for one in group if one.due_at is not None]
    return Lot(
        category=group[0].category,
        containers=len(group),
        weight_g=sum(one.weight_g or 0 for one in group),
        unweighed=sum(one.weight_g is None for one in group),
        due_at=min(due, default=None),
        past=sum(at < now for at in due),
        near=sum(now <= at <= now + near for at in due),
    )


def _soonest(due_at: datetime | None, name: str) -> tuple[bool, float, str]:
    """Order by the limit that ends first, what has none at the end."""
    return due_at is None, due_at.timestamp() if due_at else 0.0, name
