"""What will come at the usual rate, and what is no situation."""

from datetime import datetime

import pytest

from service.planning.free_time import Cause
from service.planning.outcome import first_breaks
from service.planning.stock import Usual, Waiting, expected
from service.planning.windows import latest_safe
from tests.planning.hours import at, bag, closed, hour, plan


def ward(**said: float | None) -> Usual:
    """A ward that makes 12 kg of soiled waste a day in bags of 4 kg: one every 8 hours."""
    usual: dict[str, float | None] = {"held_h": 48.0, "carried_h": 2.0}
    return Usual("ward-1", "soiled", "yard", 12_000, 4_000, **(usual | said))  # type: ignore[arg-type]


def test_bags_come_evenly_at_the_usual_rate() -> None:
    """Sealed at 8, 16, 24; in the store 2 h later; due 48 h after sealing."""
    found = expected([ward()], hour(0), hour(26))
    assert [at(w.ready_at) for w in found] == [10, 18, 26]
    assert [at(w.due_at) for w in found if w.due_at] == [56, 64, 72]
    assert all(w.expected for w in found)


def test_a_rate_that_divides_badly_does_not_drift() -> None:
    """7 kg a day in bags of 3 kg over 70 days: 163 bags, the last to the microsecond."""
    found = expected([Usual("w", "c", "yard", 7_000, 3_000, None)], hour(0), hour(24 * 70))
    assert len(found) == 163
    assert at(found[-1].ready_at) == pytest.approx(163 * 3 / 7 * 24, abs=1e-9)
    assert found[-1].due_at is None


def test_a_unit_that_makes_nothing_brings_nothing() -> None:
    """And does not run for ever."""
    assert expected([Usual("w", "c", "yard", 0, 3_000, None)], hour(0), hour(24)) == ()


def test_when_a_store_breaks_a_limit_or_fills_up_if_nobody_collects() -> None:
    """Bags of 5 kg every 8 h: the limit of the first ends at 48 h, 12 kg are passed at 18 h."""
    row = [bag(str(n), 2 + 8 * n, 48 + 8 * n) for n in range(6)]
    limit = first_breaks(plan(*row))["yard"]
    assert (limit.kind, at(limit.at), limit.container) == ("holding", 48, row[0])
    full = first_breaks(plan(*row, capacity_kg=12))["yard"]
    assert (full.kind, at(full.at), full.over_g) == ("capacity", 18, 3_000)
    assert first_breaks(plan(*row, until=40)) == {}


def test_the_latest_safe_pick_up_looks_back_over_way_plant_and_gate() -> None:
    """Due at 48; the plant is shut 40 to 60, so treated by 40; 6 h on the way; gate shut 30 to 36.

    A pick-up at 30 arrives at 36 and is treated. One at 36 would come at 42 and wait until 60.
    """
    situation = plan(
        bag("b", 1, 48), onward_h=6, blocked=(closed(40, 60, Cause.PLANT), closed(30, 36))
    )
    window = latest_safe(situation)["yard"]
    assert (at(window.until_at), window.missed) == (30, False)


def test_the_latest_safe_pick_up_says_when_it_is_the_room_that_runs_out() -> None:
    """Three bags of 5 kg in a store for 12 kg: before the third comes."""
    row = [bag(str(n), 2 + 8 * n, 48 + 8 * n) for n in range(3)]
    window = latest_safe(plan(*row, capacity_kg=12))["yard"]
    assert (at(window.until_at), window.container) == (18, None)


def test_too_late_already_means_as_soon_as_can_be() -> None:
    """A bag due an hour ago."""
    window = latest_safe(plan(bag("b", -30, -1), blocked=(closed(-1, 3),)))["yard"]
    assert (at(window.until_at), window.missed) == (3, True)


def test_what_is_no_situation_is_refused() -> None:
    """Each with its reason."""
    with pytest.raises(ValueError, match="waits twice: b"):
        plan(bag("b", 0, 1), bag("b", 0, 2))
    with pytest.raises(ValueError, match="no store is called cellar"):
        plan(bag("b", 0, 1, store="cellar"))
    with pytest.raises(ValueError, match="ends before"):
        plan(until=0)
    with pytest.raises(ValueError, match="vehicle that takes nothing"):
        plan(load_kg=0)
    with pytest.raises(ValueError, match="needs a vehicle"):
        plan(vehicles=())
    with pytest.raises(ValueError, match="cannot hold"):
        plan(capacity_kg=-1)
    with pytest.raises(ValueError, match="offset"):
        Waiting("b", "yard", 1, datetime(2026, 7, 6), None)  # noqa: DTZ001
    with pytest.raises(ValueError, match="no weight"):
        bag("b", 0, 1, kg=-1)
    with pytest.raises(ValueError, match="weight of no container"):
        Usual("w", "c", "yard", 1, 0, None)
    with pytest.raises(ValueError, match="hours below"):
        ward(held_h=-1)
