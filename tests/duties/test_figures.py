"""Figures of segregation from the record: rates, shares, errors, charts, drops; and whose."""

from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import event as listening

from service.access.caller import WHOLE, Caller, Scope
from service.custody.words import Role
from service.duties import figures, signals
from service.duties.balance import Days
from tests.api.client import event, ids, sealed
from tests.duties.desk import Desk
from tests.duties.test_activity import count

MONDAY = date(2026, 3, 30)
LATER = timedelta(hours=24 * 100)
WEEKS = 12
PERIOD = Days(MONDAY, MONDAY + timedelta(days=7 * WEEKS - 1))


def noon(day: int) -> datetime:
    """Noon of the n-th day, in Asia/Kolkata."""
    return datetime.combine(MONDAY + timedelta(days=day), time(6, 30), UTC)


def told(desk: Desk, *raw: dict[str, Any]) -> None:
    """Record what happened long before."""
    desk.tell(*raw, hours=24)


def reader(desk: Desk, scope: Scope = WHOLE) -> Caller:
    """Somebody who reads figures."""
    return Caller(desk.facility, "reader", Role.OFFICER, scope)


@pytest.fixture
def quarter(desk: Desk) -> Desk:
    """Twelve weeks of the ICU: 20 beds, 1 kg of soiled and 200 g of sharps a day, then fewer.

    In the last two weeks no sharps come at all. The theatres are measured by procedures.
    """
    raw: list[dict[str, Any]] = []
    bags = iter(ids(400, seed=9))
    for day in range(7 * WEEKS):
        written = (MONDAY + timedelta(days=day)).isoformat()
        raw.append(count("icu", written, occupied_bed_days="20", at=noon(day)))
        grams = 1_000 + 40 * (day % 5)
        raw.append(sealed(next(bags), at=noon(day), weight_g=grams))
        if day < 7 * (WEEKS - 2):
            white = {"category": "white", "container_kind": "sharps_container", "hub_cut": True}
            raw.append(sealed(next(bags), at=noon(day), weight_g=200 + 5 * (day % 3), **white))
    raw.append(
        count("theatres", MONDAY.isoformat(), occupied_bed_days=None, procedures=8, at=noon(0))
    )
    raw.append(sealed(next(bags), at=noon(0), unit="theatres", weight_g=4_000))
    raw.append(sealed(next(bags), at=noon(1), unit="theatres", weight_g=4_000))
    told(desk, *raw)
    return desk


def test_rates_are_by_bed_day_or_by_procedure_and_never_mixed(quarter: Desk) -> None:
    """1000, 1040 … 1160 g on days of 20 beds: 84 days add up to 84 x 1080 g less what is cut off.

    16 rounds of five days are 86 400 g, and four days more 1000 + 1040 + 1080 + 1120 = 4 240 g.
    """
    view = figures.rates(quarter.store, reader(quarter), PERIOD)
    found = {(r.unit, r.category): r for r in view.rates}
    soiled = found["icu", "yellow-c"]
    assert (soiled.per, soiled.weight_g, soiled.exposure) == (
        "occupied_bed_days", 86_400 + 4_240, 84 * 20,
    )  # fmt: skip
    assert soiled.rate_g == pytest.approx(90_640 / 1_680)
    assert len(soiled.weeks) == WEEKS
    assert sum(w.weight_g for w in soiled.weeks) == soiled.weight_g
    theatres = found["theatres", "yellow-c"]
    assert (theatres.per, theatres.rate_g) == ("procedures", 500)
    assert [(g.unit, g.day) for g in view.without_activity] == [
        ("theatres", MONDAY + timedelta(days=1))
    ]


def test_days_are_the_facilitys_own_and_asked_at_once(desk: Desk) -> None:
    """A bag of the last second of a day is that day's, one of midnight the next's; clocks going
    back make a day of 25 hours (London, 25 October 2026). One question, however many days.
    """
    last, first, long_day, after = ids(4, seed=77)
    kolkata, london = ZoneInfo("Asia/Kolkata"), ZoneInfo("Europe/London")
    told(
        desk,
        sealed(last, at=datetime(2026, 3, 30, 23, 59, 59, tzinfo=kolkata), weight_g=1),
        sealed(first, at=datetime(2026, 3, 31, tzinfo=kolkata), weight_g=2),
    )
    desk.tell(
        sealed(long_day, at=datetime(2026, 10, 25, 23, 30, tzinfo=london), weight_g=4),
        sealed(after, at=datetime(2026, 10, 26, tzinfo=london), weight_g=8),
        hours=24 * 200,
    )
    with desk.store.reading() as connection:
        ask = partial(figures.gather, connection, desk.facility, scope=WHOLE)
        sent: list[str] = []
        listening.listen(connection, "before_cursor_execute", lambda *told: sent.append(told[2]))
        spring = ask(days=Days(date(2026, 3, 1), date(2026, 4, 30)), zone=kolkata)
        spring_sent = sent.copy()
        autumn = ask(days=Days(date(2026, 10, 24), date(2026, 10, 26)), zone=london)
    assert [(m.day, m.weight_g) for m in spring.made] == [
        (date(2026, 3, 30), 1), (date(2026, 3, 31), 2),
    ]  # fmt: skip
    assert [(m.day, m.weight_g) for m in autumn.made] == [
        (date(2026, 10, 25), 4), (date(2026, 10, 26), 8),
    ]  # fmt: skip
    assert sum("container.sealed_at" in text for text in spring_sent) == 1


def test_a_ward_sees_its_own_figures(quarter: Desk) -> None:
    """Of another unit neither waste nor activity, nor that there is any."""
    mine = reader(quarter, Scope(units=frozenset({"theatres"})))
    assert {r.unit for r in figures.rates(quarter.store, mine, PERIOD).rates} == {"theatres"}
    assert figures.shares(quarter.store, mine, PERIOD).weight_g == 8_000
    drawn = signals.charts(quarter.store, mine, PERIOD)
    assert drawn.charts == ()
    nobody = reader(quarter, Scope(units=frozenset({"imaging"})))
    assert figures.rates(quarter.store, nobody, PERIOD).rates == ()
    assert signals.drops(quarter.store, nobody, PERIOD.last).changes == ()


def test_shares_add_up_and_say_what_they_can_be_set_beside(quarter: Desk) -> None:
    """Without general waste no share of all waste is compared; a rate by beds is."""
    view = figures.shares(quarter.store, reader(quarter), PERIOD)
    assert sum(s.share for s in view.shares) == pytest.approx(1)
    assert {s.category: s.material for s in view.shares} == {
        "yellow-c": "infectious", "white": "sharps",
    }  # fmt: skip
    assert "No general waste" in view.not_compared[0]
    measures = {c.published.measure.value for c in view.comparisons}
    assert "kg of biomedical waste per bed and day" in measures
    assert not any("share" in m for m in measures)
    assert all("no target and no limit" in c.said for c in view.comparisons)


def test_two_counts_that_differ_are_shown(quarter: Desk) -> None:
    """The later one is reckoned with."""
    told(quarter, count("icu", MONDAY.isoformat(), occupied_bed_days="40", at=noon(0)))
    view = figures.rates(quarter.store, reader(quarter), PERIOD)
    assert [c.count.occupied_bed_days for c in view.conflicts] == [40]
    assert next(r for r in view.rates if r.unit == "icu").exposure == 84 * 20 + 20


def test_sorting_errors_come_with_their_interval(quarter: Desk) -> None:
    """None wrong in 20 seen: up to 16.1 % by Wilson's interval (z = 1.96: z²/(20 + z²))."""
    [bag] = ids(1, seed=9)
    told(
        quarter,
        event("inspected", bag, at=noon(3), items_seen=12, items_wrong=0),
        event("inspected", bag, at=noon(4), items_seen=8),
        event("inspected", bag, at=noon(5), wrong_items=["glove"]),
    )
    view = figures.sorting_errors(quarter.store, reader(quarter), PERIOD)
    [icu] = view.rates
    assert (icu.unit, icu.wrong, icu.seen, view.uncounted) == ("icu", 0, 20, 1)
    assert icu.interval.high == pytest.approx(1.96**2 / (20 + 1.96**2), abs=1e-4)


def test_a_drop_of_sharps_is_told_with_its_standard_errors_and_accuses_nobody(
    quarter: Desk,
) -> None:
    """Two weeks without any, where some 2.9 kg were to be expected."""
    view = signals.drops(quarter.store, reader(quarter), PERIOD.last, before=10)
    assert (view.first, view.last) == (MONDAY + timedelta(days=70), PERIOD.last)
    [drop] = view.changes
    assert (drop.unit, drop.material, drop.change.seen) == ("icu", "sharps", 0)
    assert drop.change.unusual_drop
    assert drop.change.expected == pytest.approx(14 * 205, rel=0.01)
    assert "nothing about any person" in drop.change.said
    assert 0 < view.by_chance < 0.01
    calm = signals.drops(quarter.store, reader(quarter), MONDAY + timedelta(days=69), before=8)
    assert not calm.changes[0].change.unusual_drop


def test_a_drop_needs_days_before(quarter: Desk) -> None:
    """What cannot be looked at is named."""
    view = signals.drops(quarter.store, reader(quarter), MONDAY + timedelta(days=13), weeks=1)
    assert view.changes == ()
    assert "7 days with activity before" in view.too_few[0]


def test_charts_are_of_whole_weeks_and_say_their_signals_in_words(quarter: Desk) -> None:
    """The weeks without sharps lie under the limits of all three charts."""
    drawn = signals.charts(quarter.store, reader(quarter), PERIOD, "icu", "white")
    assert [d.chart.kind for d in drawn.charts] == ["individuals", "ewma", "u"]
    for each in drawn.charts:
        assert len(each.chart.points) == WEEKS
        assert each.chart.points[-1].label == (MONDAY + timedelta(days=77)).isoformat()
    assert drawn.charts[0].signals
    assert "look for what changed" in drawn.charts[0].signals[0].said
    few = signals.charts(quarter.store, reader(quarter), Days(MONDAY, MONDAY + timedelta(days=20)))
    assert few.charts == ()
    assert "icu, white: 3 whole weeks" in few.too_few[0] + few.too_few[1]
