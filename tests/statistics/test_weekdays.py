"""Weekdays: what is usual on one is taken out, what is not stays."""

from datetime import date, timedelta

import pytest

from service.statistics.charts import Reading, individuals
from service.statistics.signals import signals
from service.statistics.weekdays import without_weekdays

MONDAY = date(2026, 7, 6)
WEEK = (120.0, 110.0, 115.0, 118.0, 108.0, 40.0, 30.0)


def days(weeks: int) -> list[tuple[date, float]]:
    """Weeks of theatre waste, a little up and down from week to week."""
    return [
        (MONDAY + timedelta(days=n), WEEK[n % 7] + 2 * (-1) ** (n // 7 + n))
        for n in range(7 * weeks)
    ]


def test_a_quiet_sunday_is_no_signal_and_a_quiet_monday_is() -> None:
    """The same 35 kg: usual on a Sunday, far out on a Monday."""
    row = days(8)
    row[49] = (row[49][0], 35.0)
    left = without_weekdays(row, basis=range(42))
    chart = individuals(
        [Reading(str(d), v) for (d, _), v in zip(row, left, strict=True)], "kg", range(42)
    )
    beyond = [s.first for s in signals(chart) if s.rule.id == "beyond"]
    assert beyond == [49]


def test_the_mean_of_the_basis_stays() -> None:
    """Only the pattern goes."""
    row = days(4)
    left = without_weekdays(row)
    assert sum(left) == pytest.approx(sum(v for _, v in row))
    assert max(left) - min(left) < 5


def test_the_usual_of_a_weekday_needs_three() -> None:
    """Two Mondays tell too little."""
    with pytest.raises(ValueError, match="needs 3 of it, not 2"):
        without_weekdays(days(2))
