"""Intervals: against a numerical library, and by counting every outcome for small numbers."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from service.statistics.intervals import binomial_exact, poisson_exact, wilson
from service.statistics.tails import student_point

CONFIDENCE = st.sampled_from([0.8, 0.9, 0.95, 0.99, 0.999])


@given(st.integers(0, 50_000), CONFIDENCE)
@settings(max_examples=60, deadline=None)
def test_the_exact_poisson_interval_is_the_librarys(count: int, confidence: float) -> None:
    """Garwood's ends are points of chi-square: half of it at 2n and 2n + 2 degrees of freedom."""
    tail = (1 - confidence) / 2
    found = poisson_exact(count, confidence)
    low = stats.chi2.ppf(tail, 2 * count) / 2 if count else 0.0
    assert found.low == pytest.approx(low, rel=1e-9)
    assert found.high == pytest.approx(stats.chi2.ppf(1 - tail, 2 * count + 2) / 2, rel=1e-9)


@given(st.integers(1, 20_000), st.floats(0, 1), CONFIDENCE)
@settings(max_examples=60, deadline=None)
def test_binomial_intervals_are_the_librarys(of: int, part: float, confidence: float) -> None:
    """Clopper and Pearson's, and Wilson's."""
    count = round(part * of)
    result = stats.binomtest(count, of)
    for found, method in ((binomial_exact, "exact"), (wilson, "wilson")):
        theirs = result.proportion_ci(confidence, method)
        ours = found(count, of, confidence)
        assert ours.low == pytest.approx(theirs.low, rel=1e-8, abs=1e-12)
        assert ours.high == pytest.approx(theirs.high, rel=1e-8, abs=1e-12)


@pytest.mark.parametrize("of", [1, 2, 5, 12, 30])
@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_the_exact_binomial_interval_covers_what_it_says(of: int, confidence: float) -> None:
    """For every true share tried, the outcomes whose interval holds it are likely enough."""
    intervals = [binomial_exact(count, of, confidence) for count in range(of + 1)]
    for step in range(1, 200):
        share = step / 200
        covered = sum(
            float(stats.binom.pmf(count, of, share))
            for count, i in enumerate(intervals)
            if i.low <= share <= i.high
        )
        assert covered >= confidence - 1e-12


def test_the_score_interval_covers_about_what_it_says() -> None:
    """Over all true shares Wilson's covers 95 % on the average, and never less than 83 %."""
    of, steps = 40, 400
    intervals = [wilson(count, of) for count in range(of + 1)]
    coverage = [
        sum(
            float(stats.binom.pmf(count, of, step / steps))
            for count, i in enumerate(intervals)
            if i.low <= step / steps <= i.high
        )
        for step in range(1, steps)
    ]
    assert sum(coverage) / len(coverage) == pytest.approx(0.95, abs=0.01)
    assert min(coverage) > 0.83


@pytest.mark.parametrize("mean", [0.05, 0.5, 1.0, 3.7, 12.0])
def test_the_exact_poisson_interval_covers_what_it_says(mean: float) -> None:
    """All counts that can come, up to a chance of 1e-12, are weighed."""
    covered = sum(
        float(stats.poisson.pmf(count, mean))
        for count in range(80)
        if poisson_exact(count).low <= mean <= poisson_exact(count).high
    )
    assert covered >= 0.95 - 1e-12


@pytest.mark.parametrize("freedom", [1, 2, 5, 19, 364])
@pytest.mark.parametrize("tail", [0.1, 0.025, 0.005])
def test_students_points_are_the_librarys(freedom: int, tail: float) -> None:
    """As for the interval of a rate."""
    assert student_point(tail, freedom) == pytest.approx(stats.t.ppf(1 - tail, freedom), rel=1e-9)


def test_nothing_seen_still_leaves_room() -> None:
    """No wrong item in 20 is no proof of none: up to 3.7 by Poisson, the rule of three's kin."""
    assert poisson_exact(0).low == 0
    assert poisson_exact(0).high == pytest.approx(3.6889, abs=1e-4)
    assert binomial_exact(0, 20).high == pytest.approx(0.16843, abs=1e-5)
    assert wilson(0, 20).low == 0
    assert wilson(20, 20).high == 1


@pytest.mark.parametrize(("count", "of"), [(-1, 5), (6, 5), (0, 0)])
def test_what_is_no_share_is_refused(count: int, of: int) -> None:
    """More wrong than seen, or nothing seen."""
    for method in (wilson, binomial_exact):
        with pytest.raises(ValueError, match="is no share"):
            method(count, of)


def test_what_is_no_count_or_confidence_is_refused() -> None:
    """95 is not 0.95."""
    with pytest.raises(ValueError, match="negative"):
        poisson_exact(-1)
    with pytest.raises(ValueError, match="between 0 and 1"):
        wilson(1, 2, 95)
