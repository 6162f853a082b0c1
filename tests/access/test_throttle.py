"""How long somebody waits after failed attempts."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.access import throttle
from service.access.throttle import (
    ASKEW,
    BY_ACCOUNT,
    BY_BADGE,
    BY_DEVICE,
    BY_ENTRY,
    BY_SOURCE,
    Limit,
    Standing,
    counted,
    next_at,
    source_of,
    subject,
    taken_back,
    wait,
)

NOW = datetime(2026, 7, 1, 12, tzinfo=UTC)
EVERY = [BY_ACCOUNT, BY_BADGE, BY_DEVICE, BY_SOURCE, BY_ENTRY]
LIMITS = st.sampled_from(EVERY)
FAILURES = st.integers(0, 10**9)


def seconds(number: float) -> timedelta:
    """A span."""
    return timedelta(seconds=number)


def test_five_are_free_then_each_doubles_the_wait() -> None:
    """From 2 s up to a minute at a badge, to a quarter of an hour at a password."""
    told = [wait(BY_BADGE, failures).seconds for failures in range(12)]
    assert told == [0, 0, 0, 0, 0, 2, 4, 8, 16, 32, 60, 60]
    assert [wait(BY_ACCOUNT, failures).seconds for failures in (13, 14, 15)] == [512, 900, 900]
    assert wait(BY_DEVICE, 10**6) == seconds(60)


def test_many_desks_behind_one_address_wait_two_seconds_at_most() -> None:
    """Their failures are counted together."""
    assert (wait(BY_SOURCE, 49), wait(BY_SOURCE, 10**6)) == (seconds(0), seconds(2))


@given(LIMITS, FAILURES)
def test_no_wait_is_longer_than_its_bound(limit: Limit, failures: int) -> None:
    """Nobody is ever shut out for good."""
    assert seconds(0) <= wait(limit, failures) <= limit.most


@given(LIMITS, FAILURES, FAILURES)
def test_more_failures_never_shorten_the_wait(limit: Limit, one: int, other: int) -> None:
    """Monotone."""
    fewer, more = sorted((one, other))
    assert wait(limit, fewer) <= wait(limit, more)


@given(LIMITS, st.integers(1, 10**9), st.floats(0, 10**7), st.floats(0, 10**7))
def test_who_waits_gets_nearer(limit: Limit, failures: int, one: float, other: float) -> None:
    """The wait that is left only shrinks as time goes on, and never passes the bound."""
    standing = (failures, NOW)
    sooner, later = (NOW + seconds(each) for each in sorted((one, other)))
    left = [next_at(limit, standing, at) - at for at in (sooner, later)]
    assert limit.most >= left[0] >= left[1] >= seconds(0)


@given(LIMITS, st.integers(1, 10**9), st.floats(-(10**9), 10**9))
def test_a_clock_put_back_holds_nobody(limit: Limit, failures: int, away: float) -> None:
    """Whatever the clock says later, the next attempt is within the bound and five minutes."""
    at = NOW + seconds(away)
    assert at <= next_at(limit, (failures, NOW), at) <= at + limit.most + ASKEW


def test_a_request_that_lay_a_while_is_still_counted() -> None:
    """Of requests that came at once, the later one counted may have come earlier."""
    standing: Standing | None = (8, NOW)
    earlier = NOW - seconds(20)
    assert next_at(BY_BADGE, standing, earlier) == NOW + seconds(16)
    assert counted(BY_BADGE, standing, earlier) == (9, NOW)


@given(LIMITS, st.lists(st.floats(0, 100_000), max_size=60))
def test_pauses_never_gain_guesses(limit: Limit, pauses: list[float]) -> None:
    """Who guesses as soon as it may has guessed as often, at any time, as who pauses."""
    at = NOW
    standing: Standing | None = None
    moments = []
    for pause in pauses:
        at = next_at(limit, standing, at) + seconds(pause)
        standing = counted(limit, standing, at)
        moments.append(at)
    patient_at = NOW
    patient: Standing | None = None
    for moment in moments:
        patient_at = next_at(limit, patient, patient_at)
        patient = counted(limit, patient, patient_at)
        assert patient_at <= moment


@pytest.mark.parametrize("limit", EVERY)
def test_bursts_with_pauses_gain_nothing_in_the_long_run(limit: Limit) -> None:
    """The free ones come back after a pause in which patience would have had more."""
    burst, span = 0, seconds(0)
    while wait(limit, burst) < limit.most:
        burst += 1
        span += wait(limit, burst)
    assert burst * limit.most <= span + limit.forgotten


@given(LIMITS, st.integers(1, 10**6))
def test_after_a_long_quiet_time_it_starts_anew(limit: Limit, failures: int) -> None:
    """One more is the first."""
    later = NOW + limit.forgotten
    assert next_at(limit, (failures, NOW), later) == later
    assert counted(limit, (failures, NOW), later) == (1, later)


def test_one_taken_back_leaves_those_of_others() -> None:
    """And their time; alone it leaves what was before."""
    before, after = (3, NOW), (4, NOW + seconds(9))
    assert taken_back(after, before, after) == before
    assert taken_back((1, NOW), None, (1, NOW)) is None
    others = (6, NOW + seconds(12))
    assert taken_back(others, before, after) == (5, NOW + seconds(12))


def test_a_subject_tells_nothing_and_none_is_like_another() -> None:
    """Kind and names are kept apart, whatever is in the names."""
    told = [subject("a", "b", "c"), subject("a", "bc"), subject("ab", "c"), subject("a", "b\0c")]
    assert len({*told}) == 4
    assert {len(each) for each in told} == {64}
    assert subject("a", "b") == subject("a", "b")
    assert len(subject("a", "\ud800")) == 64


@pytest.mark.parametrize(
    ("address", "source"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2::9", "2001:db8:1:2::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("", ""),
        ("a name", "a name"),
    ],
)
def test_one_network_of_a_customer_is_one_source(address: str, source: str) -> None:
    """RFC 6177 (2011): a site has a /64 at least (addresses of RFC 3849 and RFC 5737)."""
    assert source_of(address) == source


def test_a_day_of_guessing_a_pin_comes_to_next_to_nothing() -> None:
    """One badge, one device, one day: 1 448 guesses, 1.45 in 100 000 against 8 random digits."""
    at, guesses = NOW, 0
    badge: Standing | None = None
    device: Standing | None = None
    while True:
        at = max(next_at(BY_BADGE, badge, at), next_at(BY_DEVICE, device, at))
        if at >= NOW + timedelta(hours=24):
            break
        guesses += 1
        badge, device = counted(BY_BADGE, badge, at), counted(BY_DEVICE, device, at)
    assert guesses == 1448
    assert guesses / 10**8 < 0.000_015


def test_the_pause_of_the_whole_is_the_longest() -> None:
    """What is forgotten sooner is not kept for longer than this."""
    assert max(each.forgotten for each in EVERY) == throttle.FORGOTTEN
    assert max(each.most for each in EVERY) < throttle.FORGOTTEN
