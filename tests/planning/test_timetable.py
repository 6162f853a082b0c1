"""The timetable: keeps every limit, is the least by exhaustive search, says what it cannot keep."""

from collections.abc import Iterator, Sequence
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.planning.free_time import Blocked, Cause
from service.planning.loads import fewest, stabbed, take_all
from service.planning.outcome import breaks
from service.planning.stock import Situation, Usual, Waiting, expected
from service.planning.timetable import Timetable, timetable
from service.planning.windows import windows
from tests.planning.hours import at, bag, closed, hour, plan

BAGS = st.lists(
    st.tuples(st.integers(-3, 11), st.integers(0, 6), st.integers(1, 6)), min_size=1, max_size=6
)
SHUT = st.lists(
    st.tuples(
        st.integers(0, 11),
        st.integers(1, 5),
        st.sampled_from([Cause.COLLECTION, Cause.PLANT, Cause.HOLIDAY]),
    ),
    max_size=3,
)


def bags(rows: list[tuple[int, int, int]]) -> list[Waiting]:
    """Bags by ready hour, hours they may stand, and weight."""
    return [bag(str(i), r, r + h, kg) for i, (r, h, kg) in enumerate(rows)]


def shut(rows: list[tuple[int, int, Cause]]) -> tuple[Blocked, ...]:
    """Blocked stretches by first hour, length and cause."""
    return tuple(closed(a, a + length, cause) for a, length, cause in rows)


def stops(found: Timetable) -> list[float]:
    """The hours of its pick-ups."""
    return [at(when) for when in found.pick_ups]


def open_hours(rows: list[tuple[int, int, Cause]], causes: set[Cause], last: int) -> list[int]:
    """Whole hours from 0 on when nothing of these causes is blocked, in the test's own reckoning.

    Hour by hour: an hour's stretch is blocked if any row covers it; an instant is blocked if the
    hour before it and the hour after it are.
    """
    blocked = {h for a, n, cause in rows if cause in causes for h in range(a, a + n)}
    return [h for h in range(last + 1) if not (h - 1 in blocked and h in blocked)]


def allowed(
    row: tuple[int, int, int], rows: list[tuple[int, int, Cause]], onward: int, last: int
) -> list[int]:
    """Hours at which a pick-up keeps this bag's limit, tried one by one."""
    ready, held, _ = row
    plant = open_hours(rows, {Cause.PLANT, Cause.HOLIDAY}, last + 40)
    return [
        h
        for h in open_hours(rows, {Cause.COLLECTION, Cause.HOLIDAY}, last)
        if h >= max(ready, 0) and min(p for p in plant if p >= h + onward) <= ready + held
    ]


@given(BAGS, SHUT, st.integers(0, 2))
@settings(max_examples=150, deadline=None)
def test_no_timetable_has_fewer_pick_ups_by_trying_all(
    rows: list[tuple[int, int, int]], blocked: list[tuple[int, int, Cause]], onward: int
) -> None:
    """Every set of whole hours, the smallest first; bags that none can save are left aside."""
    last = 24
    saveable = [row for row in rows if allowed(row, blocked, onward, last)]
    all_of = timetable(plan(*bags(rows), until=last, onward_h=onward, blocked=shut(blocked)))
    assert len(all_of.missed) == len(rows) - len(saveable)
    found = timetable(plan(*bags(saveable), until=last, onward_h=onward, blocked=shut(blocked)))
    hours = [set(allowed(row, blocked, onward, last)) for row in saveable]
    least = next(
        n
        for n in range(len(rows) + 1)
        if any(all(h & set(s) for h in hours) for s in combinations(range(25), n))
    )
    assert len(found.loads) == least
    assert found.proved_least


@given(BAGS, SHUT, st.integers(0, 2), st.none() | st.integers(6, 12), st.none() | st.integers(6, 9))
@settings(max_examples=300, deadline=None)
def test_every_limit_that_can_be_kept_is_kept(
    rows: list[tuple[int, int, int]],
    blocked: list[tuple[int, int, Cause]],
    onward: int,
    capacity_kg: int | None,
    load_kg: int | None,
) -> None:
    """Played forwards: only what the timetable says it misses breaks; all leave when they can."""
    situation = plan(
        *bags(rows),
        until=24,
        onward_h=onward,
        blocked=shut(blocked),
        capacity_kg=capacity_kg,
        load_kg=load_kg,
    )
    found = timetable(situation)
    broken = breaks(situation, found.loads)
    missed = {w.container.container for w in found.missed if w.container}
    assert {b.container.container for b in broken if b.container} == missed
    if not any(w.container is None for w in found.missed):
        assert not any(b.kind == "capacity" for b in broken)
    gates = open_hours(blocked, {Cause.COLLECTION, Cause.HOLIDAY}, 60)
    for load in found.loads:
        assert at(load.at) in gates
        assert all(c.ready_at <= load.at for c in load.containers)
        assert load_kg is None or load.weight_g <= load_kg * 1000
    taken = [c.container for load in found.loads for c in load.containers]
    assert len(taken) == len(set(taken))


def partitions(items: list[int]) -> Iterator[list[list[int]]]:
    """Every way to put items into groups."""
    if not items:
        yield []
        return
    first, *rest = items
    for groups in partitions(rest):
        yield [[first], *groups]
        for i in range(len(groups)):
            yield [*groups[:i], [first, *groups[i]], *groups[i + 1 :]]


@given(BAGS, SHUT, st.integers(6, 10))
@settings(max_examples=150, deadline=None)
def test_no_timetable_has_fewer_loads_by_trying_all(
    rows: list[tuple[int, int, int]], blocked: list[tuple[int, int, Cause]], load_kg: int
) -> None:
    """Every way to put the bags into loads, every hour for each load."""
    rows = [row for row in rows if allowed(row, blocked, 0, 24)]
    found = timetable(plan(*bags(rows), until=24, load_kg=load_kg, blocked=shut(blocked)))
    hours = [set(allowed(row, blocked, 0, 24)) for row in rows]
    least = min(
        len(groups)
        for groups in partitions(list(range(len(rows))))
        if all(
            sum(rows[i][2] for i in group) <= load_kg
            and set.intersection(*(hours[i] for i in group))
            for group in groups
        )
    )
    assert len(found.loads) == least
    assert found.at_least == least


def full_store_least(rows: Sequence[tuple[int, int, int]], capacity_kg: int) -> int:
    """The fewest pick-ups that clear the store and keep limits and room, by trying all.

    Played hour by hour: what comes, then what leaves, then what stands.
    """
    hours = range(18)
    for n in range(len(rows) + 1):
        for chosen in combinations(hours, n):
            standing: list[tuple[int, int, int]] = []
            good = True
            for h in hours:
                standing += [r for r in rows if max(r[0], 0) == h]
                if h in chosen:
                    standing = []
                good &= sum(r[2] for r in standing) <= capacity_kg
                good &= all(h < r[0] + r[1] for r in standing)
            if good:
                return n
    raise AssertionError("no timetable at all")


@given(
    st.lists(
        st.tuples(st.integers(0, 9), st.integers(0, 6), st.integers(1, 6)), min_size=1, max_size=6
    ),
    st.integers(1, 12),
)
@settings(max_examples=100, deadline=None)
def test_no_timetable_has_fewer_pick_ups_that_keep_the_store_from_filling(
    rows: list[tuple[int, int, int]], capacity_kg: int
) -> None:
    """Limits and room together."""
    found = timetable(plan(*bags(rows), until=18, capacity_kg=capacity_kg))
    assert len(found.loads) == full_store_least(rows, capacity_kg)


def test_the_search_tries_every_load_with_another_room() -> None:
    """2, 3, 7 and 8 kg in loads of 10 kg: 7 must go with 3 though it fits with 2."""
    row = [bag(str(kg), 0, 10, kg) for kg in (2, 3, 7, 8)]
    situation = plan(*row, load_kg=10)
    loads = fewest(windows(situation), row, 10_000)
    assert loads is not None
    assert sorted(sorted(c.container for c in load.containers) for load in loads) == [
        ["2", "8"],
        ["3", "7"],
    ]


def test_a_search_that_would_be_too_long_is_given_up() -> None:
    """Two hundred and one bags, and forty of awkward weights: no answer, no wait."""
    many = [bag(str(n), 0, 10, 1) for n in range(201)]
    awkward = [bag(str(n), 0, 10, 11 + n % 9) for n in range(40)]
    for row, load_kg in ((many, 10), (awkward, 40)):
        assert fewest(windows(plan(*row)), row, load_kg * 1000) is None


def test_one_pick_up_serves_all_whose_windows_meet() -> None:
    """At the first end; a later bag needs another."""
    found = timetable(plan(bag("a", 0, 10), bag("b", 4, 30), bag("c", 10, 40), bag("d", 11, 50)))
    assert stops(found) == [10, 50]
    assert [[c.container for c in load.containers] for load in found.loads] == [
        ["a", "b", "c"],
        ["d"],
    ]


def test_what_has_no_limit_rides_where_there_is_room_and_asks_for_no_load() -> None:
    """Sharps beside soiled waste: one load more would be for nothing."""
    found = timetable(
        plan(bag("soiled", 0, 10, 5), bag("s1", 0, None, 4), bag("s2", 0, None, 4), load_kg=10)
    )
    assert [sorted(c.container for c in load.containers) for load in found.loads] == [
        ["s1", "soiled"]
    ]


def test_what_cannot_be_saved_is_said_and_fetched_first_thing() -> None:
    """The van is down from 2 to 30."""
    found = timetable(
        plan(bag("a", 3, 20), bag("b", 4, 40), blocked=(closed(2, 30, Cause.VEHICLE, "van"),))
    )
    assert [w.container.container for w in found.missed if w.container] == ["a"]
    assert stops(found) == [30]


def test_a_container_heavier_than_a_load_is_said() -> None:
    """It is in no load, and the others are."""
    found = timetable(plan(bag("pallet", 0, 10, 700), bag("a", 0, 10, 5), load_kg=600))
    assert [c.container for c in found.too_heavy] == ["pallet"]
    assert [c.container for load in found.loads for c in load.containers] == ["a"]


def test_nothing_waits_nothing_goes() -> None:
    """An empty store."""
    found = timetable(plan())
    assert found.loads == ()
    assert found.at_most_times == 1


WARDS = [
    Usual(f"ward-{n}", "soiled", "yard", 20_000 + 1_700 * n, 3_500 + 100 * n, 48.0, 1.0)
    for n in range(12)
]


@pytest.mark.parametrize("load_kg", [60, 150, 400])
def test_a_month_of_a_hospital_stays_within_the_stated_bound(load_kg: int) -> None:
    """Some 2,300 bags: no limit breaks, and at most three times the least by its lower bound."""
    row = expected(WARDS, hour(0), hour(24 * 30))
    situation = Situation(
        hour(0), hour(24 * 30), row, plan().stores, load_g=load_kg * 1000, onward_h=8
    )
    found = timetable(situation)
    assert found.missed == ()
    assert breaks(situation, found.loads) == ()
    assert 1 <= found.at_most_times <= 3


@given(
    st.lists(
        st.tuples(st.integers(0, 100), st.integers(0, 40), st.integers(1, 10)),
        min_size=10,
        max_size=60,
    ),
    st.integers(10, 25),
)
@settings(max_examples=60, deadline=None)
def test_clearing_the_store_never_takes_more_than_three_times_the_lower_bound(
    rows: list[tuple[int, int, int]], load_kg: int
) -> None:
    """The part that the proof is about, by itself."""
    situation = plan(*bags(rows), load_kg=load_kg)
    row = windows(situation)
    halts = stabbed(row)
    loads = take_all(halts, situation.waiting, row, load_kg * 1000, everything=False)
    kg = sum(r[2] for r in rows)
    assert len(loads) <= len(halts) + 2 * kg / load_kg
    assert len(loads) <= 3 * max(len(halts), -(-kg // load_kg))


def test_the_search_of_this_check_tries_all() -> None:
    """Five things fall into groups in 52 ways, Bell's number."""
    assert sum(1 for _ in partitions(list(range(5)))) == 52
