"""Quarters: how they are written, and where they begin and end in the facility's own time."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.manifests.quarter import Quarter, QuarterError
from tests.house import house, row
from tests.trade import at

ZONES = ("UTC", "Asia/Kolkata", "America/New_York", "Europe/London", "Pacific/Kiritimati")


def test_a_quarter_is_written_as_year_and_number() -> None:
    """2026-Q3 is read, and written again, as 2026-Q3."""
    assert str(Quarter.parse(" 2026-q3 ")) == "2026-Q3"


@pytest.mark.parametrize("text", ["", "2026", "2026-Q5", "2026-Q0", "Q3 2026", "26-Q3", "٢٠٢٦-Q3"])
def test_what_is_no_quarter_is_refused_with_the_right_way(text: str) -> None:
    """The refusal says how a quarter is written."""
    with pytest.raises(QuarterError, match="2026-Q3"):
        Quarter.parse(text)


def test_a_year_out_of_reach_is_refused() -> None:
    """A year that no facility can mean is refused in words, not by a traceback later."""
    with pytest.raises(QuarterError, match="there is no quarter 1 of 9999"):
        Quarter.parse("9999-Q1")


def test_an_instant_without_an_offset_has_no_quarter() -> None:
    """Only an instant that says its offset can be placed in a quarter."""
    with pytest.raises(QuarterError, match="no offset"):
        Quarter.of(datetime(2026, 7, 1), ZoneInfo("UTC"))  # noqa: DTZ001


@pytest.mark.parametrize(
    ("zone", "last_second", "first_second"),
    [
        ("UTC", "2026-09-30 23:59:59", "2026-10-01 00:00:00"),
        ("Asia/Kolkata", "2026-09-30 18:29:59", "2026-09-30 18:30:00"),
        ("America/New_York", "2026-10-01 03:59:59", "2026-10-01 04:00:00"),
        ("Europe/London", "2026-09-30 22:59:59", "2026-09-30 23:00:00"),
    ],
)
def test_the_quarter_turns_at_local_midnight(
    zone: str, last_second: str, first_second: str
) -> None:
    """East and west of Greenwich, and in summer time, the facility's own midnight counts."""
    here = ZoneInfo(zone)
    assert Quarter.of(at(last_second), here) == Quarter(2026, 3)
    assert Quarter.of(at(first_second), here) == Quarter(2026, 4)
    assert Quarter(2026, 3).end(here) == Quarter(2026, 4).start(here) == at(first_second)


def test_summer_time_makes_the_first_quarter_an_hour_shorter() -> None:
    """London's clocks go forward in March and back in October."""
    london = ZoneInfo("Europe/London")
    quarters = [Quarter(2026, n) for n in (1, 4)]
    first, last = (q.end(london) - q.start(london) for q in quarters)
    assert (first, last) == (timedelta(days=90, hours=-1), timedelta(days=92, hours=1))


@given(
    st.datetimes(datetime(1901, 1, 1), datetime(2998, 1, 1), timezones=st.timezones()),  # noqa: DTZ001
    st.sampled_from(ZONES),
)
def test_every_instant_lies_in_its_own_quarter(moment: datetime, zone: str) -> None:
    """The quarter of an instant holds it: its start is not later, its end is later."""
    here = ZoneInfo(zone)
    quarter = Quarter.of(moment, here)
    assert quarter.start(here) <= moment < quarter.end(here)


def test_a_return_without_a_day_is_named_last() -> None:
    """A text that asks for a return and names no day is told as it is."""
    undated = row("r. 2", id="b", title="Undated", period="quarter")
    dated = row("r. 1", id="c", title="Dated", period="quarter", due_day="02-29")
    due = Quarter(2027, 4).due_on(house(returns=[undated, dated]))
    assert [(r.rule.id, str(r.due_on)) for r in due] == [("c", "2028-02-29"), ("b", "None")]


def test_a_day_that_the_year_lacks_is_the_months_last() -> None:
    """29 February of a common year falls on the 28th."""
    leap = row("r. 1", id="c", title="Leap", period="year", due_day="02-29")
    (due,) = Quarter(2026, 4).due_on(house(returns=[leap]))
    assert str(due.due_on) == "2027-02-28"


def test_a_return_no_longer_in_force_is_not_due() -> None:
    """The rows in force on the quarter's last day hold."""
    old = row("r. 1", id="o", title="Old", period="quarter", due_months_after=1) | {
        "until": "2026-09-30"
    }
    assert Quarter(2026, 3).due_on(house(returns=[old])) == ()
    assert len(Quarter(2026, 2).due_on(house(returns=[old]))) == 1
