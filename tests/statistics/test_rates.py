"""Rates per occupied bed-day: what counts, what is left out and said, how sure they are."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.statistics.rates import Activity, Made, Period, error_rate, level, rates

DAY = date(2026, 7, 6)


def test_grams_per_bed_day_by_unit_and_category() -> None:
    """Two days, 20 bed-days each; a day without waste counts."""
    made = [
        Made(DAY, "ward-1", "soiled", 6_000),
        Made(DAY, "ward-1", "soiled", 2_000),
        Made(DAY, "ward-1", "red", 1_000),
    ]
    activity = [Activity(DAY + timedelta(days=n), "ward-1", 20) for n in range(2)]
    found = {r.category: r for r in rates(made, activity).rates}
    assert found["soiled"].level.rate == 200
    assert found["soiled"].containers == 2
    assert [d.amount for d in found["soiled"].days] == [8_000, 0]
    assert found["red"].level.rate == 25


def test_days_without_activity_are_in_no_rate_and_are_said() -> None:
    """Nobody told the bed-days, or the ward was closed: neither grams nor days count."""
    made = [Made(DAY, "ward-1", "soiled", 8_000), Made(DAY, "ward-2", "soiled", 1)]
    made += [Made(DAY + timedelta(days=1), "ward-1", "soiled", 99_000)]
    found = rates(made, [Activity(DAY, "ward-1", 20), Activity(DAY, "ward-2", 0)])
    assert [(r.unit, r.level.rate) for r in found.rates] == [("ward-1", 400)]
    assert found.without_activity == (
        ("ward-1", DAY + timedelta(days=1)),
        ("ward-2", DAY),
    )


def test_unweighed_containers_are_counted_beside_the_rate() -> None:
    """A rate that is too low says so."""
    made = [Made(DAY, "ward-1", "soiled", None), Made(DAY, "ward-1", "soiled", 500)]
    (found,) = rates(made, [Activity(DAY, "ward-1", 10)]).rates
    assert (found.containers, found.unweighed, found.level.rate) == (2, 1, 50)
    assert found.level.interval() is None


def test_activity_told_twice_is_refused() -> None:
    """Which of the two holds would be a guess."""
    with pytest.raises(ValueError, match="told twice"):
        rates([], [Activity(DAY, "ward-1", 20), Activity(DAY, "ward-1", 21)])
    with pytest.raises(ValueError, match="activity"):
        rates([], [Activity(DAY, "ward-1", -1)])


def test_the_interval_of_a_rate_by_hand() -> None:
    """Exposures 10 and 40, amounts 20 and 30: rate 1, squares 10 + 2.5, spread 12.5 on 1 degree.

    Its standard error is sqrt(12.5 / 50) = 0.5 and Student's t 12.7062 for 95 %: cut off at nought.
    """
    found = level([Period("a", 20, 10), Period("b", 30, 40)])
    assert (found.rate, found.spread) == (1, pytest.approx(12.5))
    interval = found.interval()
    assert interval is not None
    assert (interval.low, interval.high) == (0, pytest.approx(1 + 12.7062 / 2, abs=1e-4))


@given(st.lists(st.tuples(st.integers(0, 10**6), st.floats(0.5, 500)), min_size=2, max_size=40))
def test_the_interval_holds_its_own_rate_and_narrows_with_less_confidence(
    rows: list[tuple[int, float]],
) -> None:
    """Whatever the periods."""
    found = level([Period(str(i), a, x) for i, (a, x) in enumerate(rows)])
    wide, narrow = found.interval(0.99), found.interval(0.8)
    assert wide and narrow
    assert wide.low <= narrow.low <= found.rate <= narrow.high <= wide.high


def test_a_rate_of_sorting_errors() -> None:
    """3 wrong of 120 seen: 2.5 %, and by Wilson 0.85 % to 7.1 %."""
    found = error_rate("ward-1", 3, 120)
    assert found.share == 0.025
    assert (found.interval.low, found.interval.high) == (
        pytest.approx(0.0085, abs=5e-5),
        pytest.approx(0.0709, abs=5e-5),
    )


@pytest.mark.parametrize(("amount", "exposure"), [(-1, 1), (1, 0), (1, float("nan"))])
def test_what_gives_no_rate_is_refused(amount: int, exposure: float) -> None:
    """With the period's name."""
    with pytest.raises(ValueError, match="week 3"):
        Period("week 3", amount, exposure)
    with pytest.raises(ValueError, match="at least one period"):
        level([])
