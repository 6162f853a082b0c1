"""Free time: ends that belong, stretches that touch, vehicles that are down together, nights."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.planning.free_time import (
    Blocked,
    Cause,
    Closed,
    closed_plant,
    closed_to_pick_ups,
    outside_hours,
)
from tests.planning.hours import closed, hour


def test_both_ends_of_a_blocked_stretch_are_free() -> None:
    """Until 10 and from 14 on."""
    stretch = Closed([(hour(10), hour(14))])
    for free in (9, 10, 14, 15):
        assert not stretch.covers(hour(free))
    assert stretch.last_free(hour(13.9)) == hour(10)
    assert stretch.first_free(hour(10.1)) == hour(14)


def test_stretches_that_touch_are_one() -> None:
    """A holiday that follows a night leaves no instant between them."""
    stretch = Closed([(hour(14), hour(20)), (hour(10), hour(14)), (hour(12), hour(13))])
    assert stretch.stretches == ((hour(10), hour(20)),)
    assert stretch.covers(hour(14))


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(1, 8)), max_size=6), st.integers(0, 40))
def test_the_nearest_free_instants_are_free_and_nothing_between_is(
    rows: list[tuple[int, int]], n: int
) -> None:
    """Against every quarter of an hour in between."""
    stretch = Closed((hour(a), hour(a + length)) for a, length in rows)
    before, after = stretch.last_free(hour(n)), stretch.first_free(hour(n))
    assert before <= hour(n) <= after
    assert not stretch.covers(before)
    assert not stretch.covers(after)
    for quarter in range(160):
        between = hour(quarter / 4)
        if before < between < after:
            assert stretch.covers(between)


def test_pick_ups_stop_when_all_vehicles_are_down_at_once() -> None:
    """One is down 10 to 20, the other 15 to 30: no pick-up from 15 to 20."""
    blocked = [closed(10, 20, Cause.VEHICLE, "van"), closed(15, 30, Cause.VEHICLE, "lorry")]
    assert closed_to_pick_ups(blocked, ["van", "lorry"]).stretches == ((hour(15), hour(20)),)
    assert closed_to_pick_ups(blocked[:1], ["van", "lorry"]).stretches == ()


def test_what_each_cause_stops() -> None:
    """A holiday stops both, the plant's closing only the plant, a closed gate only pick-ups."""
    blocked = [closed(1, 2, Cause.HOLIDAY), closed(3, 4, Cause.PLANT), closed(5, 6)]
    roads = closed_to_pick_ups(blocked, ["van"])
    assert roads.stretches == ((hour(1), hour(2)), (hour(5), hour(6)))
    assert closed_plant(blocked).stretches == ((hour(1), hour(2)), (hour(3), hour(4)))


def test_nights_follow_the_sites_own_clock() -> None:
    """From 18:00 to 07:00 in Oslo, on the night when clocks go back: 14 hours."""
    nights = outside_hours(
        date(2026, 10, 24), date(2026, 10, 25), time(7), time(18), ZoneInfo("Europe/Oslo"),
        Cause.COLLECTION,
    )  # fmt: skip
    assert len(nights) == 3
    assert (nights[1].from_at, nights[1].until_at) == (
        datetime(2026, 10, 24, 16, tzinfo=UTC),
        datetime(2026, 10, 25, 6, tzinfo=UTC),
    )


def test_what_is_no_stretch_is_refused() -> None:
    """Backwards, without offset, a vehicle without name or a name without vehicle, a stranger."""
    with pytest.raises(ValueError, match="before it begins"):
        closed(5, 5)
    with pytest.raises(ValueError, match="offset"):
        Blocked(datetime(2026, 7, 6), hour(1), Cause.HOLIDAY)  # noqa: DTZ001
    with pytest.raises(ValueError, match="vehicle is named"):
        closed(1, 2, Cause.VEHICLE)
    with pytest.raises(ValueError, match="vehicle is named"):
        closed(1, 2, Cause.HOLIDAY, "van")
    with pytest.raises(ValueError, match="called boat"):
        closed_to_pick_ups([closed(1, 2, Cause.VEHICLE, "boat")], ["van"])
    with pytest.raises(ValueError, match="open before they close"):
        outside_hours(date(2026, 7, 6), date(2026, 7, 6), time(8), time(8), ZoneInfo("UTC"),
                      Cause.PLANT)  # fmt: skip
