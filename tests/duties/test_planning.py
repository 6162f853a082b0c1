"""The plan from the record: what waits, what comes, and that following it keeps every limit."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import combinations, count
from typing import Any

import pytest

from scenario.hospital import load_site
from service.access.caller import Caller, Scope
from service.custody.site import PickUps
from service.custody.words import Role
from service.duties import lookup, planning
from service.duties.lookup import ViolationFilter
from service.duties.planning import Asked, PlanError
from service.store.store import Store
from tests.api.client import LABEL_KEY, NOON, event, ids, sealed
from tests.duties.desk import Desk

HOUR = timedelta(hours=1)
_numbers = count(1)


@pytest.fixture
def yard(shared: Store) -> Desk:
    """The hospital with one van of 60 kg that goes from 6 to 20 h, ten hours from the plant."""
    pick_ups = PickUps.model_validate(
        {"vehicles": ["van-1"], "load_kg": 60, "onward_hours": 10, "opens": "06:00",
         "closes": "20:00"}
    )  # fmt: skip
    made = {"id": f"planned-{next(_numbers)}", "pick_ups": pick_ups}
    site = load_site().model_copy(update=made)
    shared.set_up(site, NOON - timedelta(days=100), LABEL_KEY)
    return Desk(shared, site.id)


def in_store(bag: str, at: datetime, weight_g: int = 9_000) -> Iterator[dict[str, Any]]:
    """A bag of soiled waste, sealed, collected and stored in one hour."""
    yield sealed(bag, at=at, weight_g=weight_g)
    yield event("collected", bag, at=at + HOUR / 2, from_party="icu", to_party="handlers")
    yield event("stored", bag, at=at + HOUR, store="ambient-store")


def fill(desk: Desk, hours: list[int], seed: int = 31) -> list[str]:
    """Put bags in store that were sealed so many hours before noon."""
    bags = ids(len(hours), seed=seed)
    raw = (in_store(bag, NOON - h * HOUR) for bag, h in zip(bags, hours, strict=True))
    desk.tell(*(one for each in raw for one in each))
    return bags


def follow(desk: Desk, view: planning.PlanView) -> None:
    """Do what the plan says: each load leaves at its time and is burnt after the way."""
    for number, load in enumerate(view.timetable.loads):
        bags = [w.container for w in load.containers if not w.expected]
        if not bags:
            continue
        name, after = f"C-{number}", (load.at - NOON) / HOUR + 24
        way = {"carrier": "carrier-quillow", "consignee": "plant-kiln", "seal": "S"}
        desk.tell(
            event("dispatched", *bags, at=load.at, consignment=name, **way),
            event("received", *bags, at=load.at + HOUR, party="plant-kiln", consignment=name),
            event("treated", *bags, at=load.at + 10 * HOUR, step="incinerate",
                  party="plant-kiln", cycle=f"K-{number}"),
            hours=after,
        )  # fmt: skip


def overruns(desk: Desk) -> int:
    """How many holding limits were broken within ten days."""
    until = NOON + timedelta(days=10)
    asked = ViolationFilter(until, code="holding.exceeded", standing=False, limit=1_000)
    return len(lookup.violations(desk.store, desk.caller(), asked))


def test_following_the_plan_breaks_no_holding_limit(yard: Desk) -> None:
    """48 h from sealing, ten of them on the way; doing nothing breaks all of them."""
    fill(yard, [30, 28, 20, 12, 6, 3, 2, 1])
    view = planning.plan(yard.store, yard.caller(), Asked(days=3), NOON)
    real = [b for b in view.uncollected if b.container and not b.container.expected]
    assert len(real) == 8
    assert view.timetable.missed == ()
    assert view.left == ()
    follow(yard, view)
    assert overruns(yard) == 0


def test_what_cannot_be_kept_is_said_and_breaks_as_said(yard: Desk) -> None:
    """Sealed 40 h ago with ten hours to go: it is missed, and fetched at once."""
    [late, _] = fill(yard, [40, 3], seed=32)
    view = planning.plan(yard.store, yard.caller(), Asked(days=3), NOON)
    assert [w.container.container for w in view.timetable.missed if w.container] == [late]
    assert view.timetable.loads[0].at == NOON
    follow(yard, view)
    assert overruns(yard) == 1


@pytest.mark.parametrize("hours", [[30, 20, 10, 1], [35, 34, 33, 2], [30, 29, 9, 8]])
def test_the_plan_has_the_fewest_pick_ups_by_trying_all(yard: Desk, hours: list[int]) -> None:
    """Every set of whole hours from noon on, for bags that are light: the smallest that serves.

    By the test's own reckoning: each bag is fetched by 38 h after its sealing, between 6 and 20 h
    in Asia/Kolkata, and what comes besides (at most one a day in these weeks) is as light.
    """
    fill(yard, hours, seed=33)
    view = planning.plan(yard.store, yard.caller(), Asked(days=2, load_kg=Decimal(10_000)), NOON)
    zone = load_site().zone
    due = [(0, 38 - h) for h in hours]
    coming = [
        ((w.ready_at - NOON) / HOUR, (w.due_at - NOON) / HOUR - 10)
        for w in view.situation.waiting
        if w.expected and w.due_at and w.due_at <= NOON + 48 * HOUR
    ]
    free = [
        n / 2
        for n in range(97)
        if 6 * 60
        <= (local := (NOON + n * HOUR / 2).astimezone(zone)).hour * 60 + local.minute
        <= 20 * 60
    ]
    needs = [row for row in (*due, *coming) if row[1] + 10 <= 48]
    fewest = next(
        size
        for size in range(len(needs) + 1)
        for some in combinations(free, size)
        if all(any(a <= at <= b for at in some) for a, b in needs)
    )
    assert view.timetable.proved_least
    assert len(view.timetable.loads) == fewest


def test_what_comes_is_reckoned_from_four_weeks(yard: Desk) -> None:
    """28 bags of 9 kg in four weeks are one a day; none of a unit that made none."""
    fill(yard, [24 * day + 1 for day in range(28)], seed=34)
    view = planning.plan(yard.store, yard.caller(), Asked(days=5), NOON)
    [chilled, ambient] = sorted(view.stores, key=lambda s: s.expected)
    assert (chilled.expected, ambient.expected) == (0, 5)
    assert ambient.store.id == "ambient-store"
    coming = [w for w in view.situation.waiting if w.expected]
    assert {w.weight_g for w in coming} == {9_000}
    assert all(w.due_at == w.ready_at + 48 * HOUR for w in coming)


def test_a_full_store_is_emptied_before_it_overflows(shared: Store) -> None:
    """With room for three bags of 9 kg and five in a row of them to come."""
    site = load_site()
    stores = tuple(
        s.model_copy(update={"capacity_kg": Decimal(30)}) if s.id == "ambient-store" else s
        for s in site.store
    )
    made = {"id": f"planned-{next(_numbers)}", "store": stores, "pick_ups": None}
    shared.set_up(site.model_copy(update=made), NOON - timedelta(days=100), LABEL_KEY)
    desk = Desk(shared, made["id"])
    fill(desk, [24 * day + 1 for day in range(28)], seed=35)
    follow_all = planning.plan(desk.store, desk.caller(), Asked(days=5), NOON)
    ambient = next(s for s in follow_all.stores if s.store.id == "ambient-store")
    assert ambient.first_break is not None
    assert ambient.weight_g > 30_000
    assert "one vehicle, at any hour" in follow_all.assumed[0]
    assert not [b for b in follow_all.left if b.kind == "capacity" and b.at > NOON + HOUR]


def test_a_broken_vehicle_and_a_closed_plant_are_planned_around(yard: Desk) -> None:
    """What planning anew avoids is counted; nothing is collected without a vehicle."""
    fill(yard, [20, 12, 6], seed=36)
    shut = (NOON + timedelta(days=1)).date()
    view = planning.plan(yard.store, yard.caller(), Asked(days=3, plant_closed=(shut,)), NOON)
    assert len(view.what_if.unchanged) >= len(view.what_if.left)
    assert view.what_if.avoided == len(view.what_if.unchanged) - len(view.what_if.left)
    stuck = planning.plan(yard.store, yard.caller(), Asked(days=3, broken=("van-1",)), NOON)
    assert len(stuck.timetable.missed) >= 3
    with pytest.raises(PlanError, match="no vehicle of the fleet is called van-9"):
        planning.plan(yard.store, yard.caller(), Asked(broken=("van-9",)), NOON)


def test_a_plan_is_of_what_the_scope_reaches_and_within_bounds(yard: Desk) -> None:
    """Machine loads need both figures of the chamber."""
    fill(yard, [20, 12], seed=37)
    other = Caller(yard.facility, "reader", Role.OFFICER, Scope(units=frozenset({"imaging"})))
    assert planning.plan(yard.store, other, Asked(), NOON).situation.waiting == ()
    for asked, why in (
        (Asked(days=0), "1 to 31 days"),
        (Asked(chamber_l=Decimal(500)), "both"),
        (Asked(chamber_l=Decimal(500), density_g_per_l=Decimal(0)), "over nought"),
    ):
        with pytest.raises(PlanError, match=why):
            planning.plan(yard.store, yard.caller(), asked, NOON)


def test_autoclave_loads_are_of_what_may_be_autoclaved(yard: Desk) -> None:
    """60 kg of red waste at 100 g a litre in 500 l, three quarters full: 37.5 kg, two loads."""
    bags = ids(6, seed=38)
    for bag in bags:
        yard.tell(
            sealed(bag, at=NOON - 3 * HOUR, weight_g=10_000, category="red"),
            event("collected", bag, at=NOON - 2 * HOUR, from_party="icu", to_party="handlers"),
            event("stored", bag, at=NOON - HOUR, store="ambient-store"),
        )
    asked = Asked(days=1, chamber_l=Decimal(500), density_g_per_l=Decimal(100))
    view = planning.plan(yard.store, yard.caller(), asked, NOON)
    assert (view.autoclave_g, view.autoclave_loads) == (60_000, 2)
