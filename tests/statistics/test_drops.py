"""An unusual drop: standard errors by hand, false alarms by a die, and words that accuse nobody."""

import re
from random import Random

import pytest

from service.statistics.drops import change
from service.statistics.rates import Period

# Twenty weeks of 10 procedures and 90 or 110 g: rate 10 g, squares 20 x 10^2/10, spread 200/19.
BEFORE = [Period(f"week {i}", 100 + 10 * (-1) ** i, 10) for i in range(20)]


def now(amount: int, exposure: float = 10) -> list[Period]:
    """The week in question."""
    return [Period("this week", amount, exposure)]


def test_standard_errors_by_hand() -> None:
    """The error is sqrt(200/19 x 10 x (1 + 10/200)) = 10.513 g; 60 g are 3.80 of it too few."""
    found = change(BEFORE, now(60), "sharps of theatre 2")
    assert found.expected == pytest.approx(100)
    assert found.standard_errors == pytest.approx(-40 / 10.5131, abs=1e-3)
    assert found.unusual_drop


def test_the_boundary_is_three() -> None:
    """68 g are 3.04 below, 69 g 2.95."""
    assert change(BEFORE, now(68), "sharps").unusual_drop
    assert not change(BEFORE, now(69), "sharps").unusual_drop


def test_less_work_is_no_drop() -> None:
    """Half the procedures, half the sharps."""
    found = change(BEFORE, now(50, exposure=5), "sharps")
    assert found.standard_errors == pytest.approx(0)


def test_a_rise_is_no_drop() -> None:
    """However large."""
    assert not change(BEFORE, now(500), "sharps").unusual_drop


def test_the_words_say_figures_and_usual_reasons_and_accuse_nobody() -> None:
    """What is seen, how far off, what it does not say, what to look at first."""
    said = change(BEFORE, now(60), "sharps of theatre 2").said
    assert "60 g came where 100 g were to be expected: 3.8 standard errors below" in said
    assert "not why, and nothing about any person" in said
    assert said.index("Look first for") < said.index("check the path of the containers")
    assert not re.search(r"theft|thief|stol|steal|divert|diversion|fraud|guilt|suspect|blame", said)


def test_where_nothing_varied_no_standard_error_is_made_up() -> None:
    """Twenty equal weeks."""
    flat = [Period(str(i), 100, 10) for i in range(20)]
    found = change(flat, now(0), "sharps")
    assert found.standard_errors is None
    assert not found.unusual_drop
    assert "no standard error can be given" in found.said


def test_too_few_weeks_are_refused() -> None:
    """Nineteen tell too little."""
    with pytest.raises(ValueError, match="not 19 and 1"):
        change(BEFORE[1:], now(60), "sharps")
    with pytest.raises(ValueError, match="not 20 and 0"):
        change(BEFORE, [], "sharps")


def test_a_steady_unit_is_seldom_called_unusual() -> None:
    """Scatter twice that of Poisson, unequal activity, 2,000 tries: 0.1 to 0.4 % fall below 3.

    With 19 degrees of freedom Student's t goes below -3 in 0.37 %.
    """
    die, called = Random(7), 0
    for _ in range(2_000):
        weeks = []
        for i in range(21):
            exposure = die.uniform(20, 60)
            amount = round(die.gauss(5 * exposure, (10 * exposure) ** 0.5))
            weeks.append(Period(str(i), max(amount, 0), exposure))
        called += change(weeks[:20], weeks[20:], "sharps").unusual_drop
    assert 2 <= called <= 16
