"""What if: the plan kept to and made anew, and what that avoids."""

from service.planning.free_time import Cause
from service.planning.loads import Load
from service.planning.outcome import breaks
from service.planning.timetable import timetable
from service.planning.what_if import what_if
from tests.planning.hours import at, bag, closed, hour, plan

ROW = [bag(str(n), 8 * n, 8 * n + 48) for n in range(12)]


def test_a_broken_vehicle_planned_for_breaks_nothing() -> None:
    """The first pick-up would leave at 48; the van is down from 45 to 60: fetched at 45 instead."""
    found = what_if(plan(*ROW, until=144), [closed(45, 60, Cause.VEHICLE, "van")])
    assert [at(t) for t in found.usual.pick_ups] == [48, 104]
    assert [at(b.at) for b in found.unchanged] == [48, 56]
    assert at(found.anew.pick_ups[0]) == 45
    assert found.left == ()
    assert (found.avoided, found.further_loads) == (2, len(found.anew.loads) - 2)


def test_with_a_second_vehicle_nothing_changes() -> None:
    """The other goes."""
    situation = plan(*ROW, until=144, vehicles=("van", "lorry"))
    found = what_if(situation, [closed(45, 60, Cause.VEHICLE, "van")])
    assert found.unchanged == ()
    assert found.anew == found.usual


def test_a_closed_plant_moves_pick_ups_before_it() -> None:
    """Collecting goes on, but what is fetched then is treated too late: so before it shuts."""
    found = what_if(plan(*ROW, until=144, onward_h=2), [closed(40, 70, Cause.PLANT)])
    assert at(found.anew.pick_ups[0]) == 38
    assert found.unchanged
    assert found.avoided > 0


def test_a_long_holiday_says_what_cannot_be_avoided() -> None:
    """Five days: bags that come in its first days are over whatever is done; no claim is made."""
    situation = plan(*ROW, until=200)
    holiday = [closed(20, 140, Cause.HOLIDAY)]
    found = what_if(situation, holiday)
    lost = {b.container.container for b in found.left if b.container}
    assert lost == {str(n) for n in range(3, 12)}
    assert lost == {w.container.container for w in found.anew.missed if w.container}
    assert found.avoided == len(found.unchanged) - 9


def test_a_pick_up_that_cannot_be_waits_until_it_can() -> None:
    """The outcome of a timetable in which a closed gate stands in the way."""
    base = plan(bag("a", 0, 10), bag("b", 1, 30))
    loads = timetable(base).loads
    late = plan(bag("a", 0, 10), bag("b", 1, 30), blocked=(closed(9, 12),))
    assert [(at(b.at), b.kind) for b in breaks(late, loads)] == [(10, "holding")]


def test_a_full_store_is_told_once_until_it_has_room_again() -> None:
    """Over-full from 8 on; cleared at 20; over-full again at 32."""
    row = [bag(str(n), t, None) for n, t in enumerate((0, 8, 16, 24, 32))]
    situation = plan(*row, capacity_kg=7)
    found = breaks(situation, [Load(hour(20), tuple(row[:3]))])
    assert [(at(b.at), b.kind, b.over_g) for b in found] == [
        (8, "capacity", 3_000),
        (32, "capacity", 3_000),
    ]
