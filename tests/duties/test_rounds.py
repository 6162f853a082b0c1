"""A handler's rounds: what waits at the units, what stands in a store, what left together."""

from datetime import timedelta
from typing import Any

import pytest

from service.access.caller import Caller, Scope
from service.custody.words import Role
from service.duties import departures, rounds
from service.duties.lookup import NotFoundError
from tests.api.client import NOON, event, ids, sealed
from tests.duties.desk import Desk

BAGS = ids(5, seed=505)
[CART] = ids(1, seed=506)


def hours_ago(hours: float) -> Any:
    """Give a time before noon."""
    return NOON - timedelta(hours=hours)


def fetched(bag: str, at: Any = NOON, store: str = "ambient-store") -> list[dict[str, Any]]:
    """Tell that a bag was picked up in intensive care and put in a store."""
    return [
        event("collected", bag, at=at, from_party="icu", to_party="handlers"),
        event("stored", bag, at=at + timedelta(minutes=1), store=store),
    ]


def test_what_stands_in_a_store_comes_the_soonest_due_first(desk: Desk) -> None:
    """Not what waits at a unit, stands in another store, was treated or has left."""
    early, late, elsewhere, waiting, gone = BAGS
    for bag, hours in ((early, 40), (late, 10), (elsewhere, 5), (waiting, 5), (gone, 5)):
        desk.tell(sealed(bag, at=hours_ago(hours)))
    desk.tell(*fetched(late, hours_ago(9)), *fetched(early, hours_ago(30)))
    desk.tell(*fetched(elsewhere, hours_ago(4), "chilled-store"), *fetched(gone, hours_ago(4)))
    leaving = {"carrier": "carrier-quillow", "consignee": "plant-kiln", "consignment": "F-1"}
    desk.tell(event("dispatched", gone, at=hours_ago(2), **leaving))
    standing = rounds.in_store(desk.store, desk.caller(), "ambient-store")
    assert [one.container for one in standing] == [early, late]
    assert standing[0].due_at == hours_ago(40) + timedelta(hours=48)


def test_a_bag_that_was_double_bagged_or_packed_in_the_store_still_stands_there(desk: Desk) -> None:
    """What is done to it there does not take it away."""
    desk.tell(sealed(BAGS[0]), *fetched(BAGS[0]), sealed(BAGS[1]), *fetched(BAGS[1]))
    later = NOON + timedelta(hours=1)
    desk.tell(
        event("double_bagged", BAGS[0], at=later),
        event("packed", BAGS[1], at=later, parent=CART),
        hours=1,
    )
    standing = rounds.in_store(desk.store, desk.caller(), "ambient-store")
    assert {one.container: one.parent for one in standing} == {BAGS[0]: None, BAGS[1]: CART}


@pytest.mark.parametrize(
    ("hours_left", "past", "near"),
    [(7, 0, 0), (6, 0, 1), (0, 0, 1), (-0.01, 1, 0)],
)
def test_a_wall_counts_what_is_near_its_limit_and_what_is_past_it(
    desk: Desk, hours_left: float, past: int, near: int
) -> None:
    """Warned 6 h before (house policy); at the limit of 48 h (rule 8(7)) is still allowed."""
    desk.tell(sealed(BAGS[0]), *fetched(BAGS[0]))
    now = NOON + timedelta(hours=48 - hours_left)
    room = rounds.store_room(desk.store, desk.caller(), "ambient-store", now)
    assert (room.past, room.near, room.near_hours) == (past, near, 6)


def test_a_wall_has_a_lot_for_each_category_with_its_weight(desk: Desk) -> None:
    """What was not weighed is counted apart, never as nought."""
    desk.tell(sealed(BAGS[0], weight_g=1000), *fetched(BAGS[0]))
    desk.tell(sealed(BAGS[1], weight_g=None), *fetched(BAGS[1]))
    desk.tell(sealed(BAGS[2], category="red"), *fetched(BAGS[2]))
    room = rounds.store_room(desk.store, desk.caller(), "ambient-store", NOON)
    told = [(lot.category.id, lot.containers, lot.weight_g) for lot in room.lots if lot.category]
    assert told == [("yellow-c", 2, 1000), ("red", 1, 3400)]
    assert (room.containers, room.weight_g, room.unweighed) == (3, 4400, 1)


def test_a_store_that_is_not_set_up_is_not_found(desk: Desk) -> None:
    """It is named."""
    with pytest.raises(NotFoundError, match="no store 'attic'"):
        rounds.in_store(desk.store, desk.caller(), "attic")


def test_the_unit_where_a_limit_ends_first_comes_first(desk: Desk) -> None:
    """Units where nothing waits come last; who acts for some units is shown those."""
    desk.tell(sealed(BAGS[0], at=hours_ago(20), unit="dialysis"))
    desk.tell(sealed(BAGS[1], at=hours_ago(30)), sealed(BAGS[2]))
    found = rounds.at_units(desk.store, desk.caller())
    assert [(at.unit.id, at.containers) for at in found[:2]] == [("icu", 2), ("dialysis", 1)]
    assert len(found) == 16
    mine = Caller(desk.facility, "h", Role.HANDLER, Scope(units=frozenset({"dialysis"})))
    assert [at.unit.id for at in rounds.at_units(desk.store, mine)] == ["dialysis"]


def test_a_note_tells_what_left_though_it_has_left_again_since(desk: Desk) -> None:
    """By category, with the weights at departure and what was said of vehicle and seal."""
    first, second = BAGS[:2]
    desk.tell(sealed(first, weight_g=1500), *fetched(first), sealed(second), *fetched(second))
    leaving = {"carrier": "carrier-quillow", "consignee": "plant-kiln", "seal": "S-9"}
    at = NOON + timedelta(hours=2)
    desk.tell(event("dispatched", first, second, at=at, consignment="F-2", **leaving), hours=2)
    desk.tell(
        event("refused", second, at=at + timedelta(hours=1), party="plant-kiln", reason="full"),
        event("dispatched", second, at=at + timedelta(hours=2), consignment="F-3", **leaving),
        hours=5,
    )
    left = departures.left(desk.store, desk.caller(), "F-2", NOON + timedelta(hours=6))
    assert [
        (lot.category and lot.category.id, lot.containers, lot.weight_g) for lot in left.lots
    ] == [("yellow-c", 2, 4900)]
    assert (left.departure.seal, left.departure.actor, left.weight_g) == ("S-9", "badge-1", 4900)
    assert left.carrier is not None
    assert left.carrier.name.startswith("Quillow")
    with pytest.raises(NotFoundError):
        departures.left(desk.store, desk.caller(), "F-9", NOON)
