"""Holding limits of the shipped regimes against worked cases: allowed at the limit, not after."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from service.custody.rules import Rules
from service.regimes.load import assemble
from tests.house import hospital
from tests.trade import Story, at, bag, sharps_box

SECOND = timedelta(seconds=1)
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
T0 = at("2026-07-06 10:00")  # a Monday


def shipped(regime: str, **site: Any) -> Rules:
    """A regime as shipped, at the invented hospital."""
    return Rules(assemble(regime), hospital(regime=regime, **site))


WARM = {
    "climate": "warm",
    "season": [{"name": "hot", "from": "03-01"}, {"name": "cool", "from": "11-01"}],
}
TEMPERATE = {
    "climate": "temperate",
    "season": [{"name": "summer", "from": "04-01"}, {"name": "winter", "from": "10-01"}],
}


@pytest.mark.parametrize(
    ("site", "sealed", "hours"),
    [
        # WHO, Safe management of wastes from health-care activities, 2nd ed., 2014, ch. 7 (from
        # memory): warm 24 h hot / 48 h cool season; temperate 48 h summer / 72 h winter.
        (WARM, "2026-05-04 08:00", 24),
        (WARM, "2026-12-07 08:00", 48),
        (WARM, "2026-01-05 08:00", 48),
        (TEMPERATE, "2026-07-06 08:00", 48),
        (TEMPERATE, "2026-12-07 08:00", 72),
        (TEMPERATE, "2026-02-02 08:00", 72),
    ],
)
def test_who_limit_by_climate_and_season(site: dict[str, Any], sealed: str, hours: int) -> None:
    """A second before the limit and at it are allowed; a second after is an overrun."""
    story, text, limit = bag("infectious").sealed(sealed), shipped("who-2014", **site), hours * HOUR
    assert not story.over(text, at(sealed) + limit - SECOND)
    assert not story.over(text, at(sealed) + limit)
    assert story.over(text, at(sealed) + limit + SECOND)


def test_who_gives_no_limit_in_a_cold_room_at_3_to_8_degrees() -> None:
    """WHO 2014 ch. 7 (read): refrigerated waste has no ceiling in days; taken out, it has."""
    story = bag("infectious").sealed(T0).collected(T0 + HOUR)
    story.stored(T0 + 2 * HOUR, store="cold-room", temperature_c="5")
    text = shipped("who-2014", **TEMPERATE)
    assert not story.over(text, T0 + 30 * DAY)
    story.stored(T0 + 10 * DAY)
    assert story.over(text, T0 + 10 * DAY)


@pytest.mark.parametrize("temperature_c", ["2.9", "8.1"])
def test_who_counts_a_cold_room_outside_3_to_8_degrees_as_not_cooled(temperature_c: str) -> None:
    """WHO 2014 ch. 7 (read): chilled is 3 to 8 °C; out of it the limit goes on."""
    story = bag("infectious").sealed(T0).collected(T0 + HOUR)
    story.stored(T0 + 2 * HOUR, store="cold-room", temperature_c=temperature_c)
    text = shipped("who-2014", **TEMPERATE)
    assert story.over(text, T0 + 48 * HOUR + SECOND)
    assert story.only("holding.warm_store", text).opened_at == T0 + 2 * HOUR


def test_who_sets_no_time_for_sharps() -> None:
    """WHO 2014 ch. 7 (read): sharps can be stored; a box is no overrun at 30 days or a year."""
    box, text = sharps_box().sealed(T0, hub_cut=True), shipped("who-2014", **WARM)
    assert not box.over(text, T0 + 30 * DAY)
    assert not box.over(text, T0 + 365 * DAY)


@pytest.mark.parametrize("category", ["yellow-a", "yellow-b", "yellow-c", "yellow-h"])
def test_india_48_hours(category: str) -> None:
    """BMW Management Rules 2016, rule 8(7): 48 h 0 min is allowed, 48 h 1 min is not."""
    story, text = bag(category).sealed(T0), shipped("india-2016", time_zone="Asia/Kolkata")
    assert not story.over(text, T0 + 48 * HOUR)
    assert story.over(text, T0 + 48 * HOUR + timedelta(minutes=1))
    assert "8(7)" in story.only("holding.exceeded", text).clause


def test_india_overrun_told_with_reasons_is_a_notified_overrun() -> None:
    """Rule 8(7) proviso (from memory): the notice marks the overrun and does not erase it."""
    text = shipped("india-2016", time_zone="Asia/Kolkata")
    story = bag("yellow-c").sealed(T0)
    assert not story.only("holding.exceeded", text).notified_at
    story.notified(T0 + 50 * HOUR, reason="the incinerator is under repair")
    told = story.only("holding.exceeded", text)
    assert told.notified_at
    assert told.closed_at is None


@pytest.mark.parametrize("category", ["red", "white", "blue-a", "blue-b"])
def test_india_sets_no_hours_for_red_white_and_blue(category: str) -> None:
    """Rule 8(7) names none of them: at 60 h there is no overrun, and nothing is due."""
    kind = sharps_box(category) if category == "white" else bag(category)
    story, text = kind.sealed(T0), shipped("india-2016", time_zone="Asia/Kolkata")
    assert not story.over(text, T0 + 60 * HOUR)
    assert story.standing(text).due_at is None


def test_florida_counts_a_sharps_box_from_its_seal() -> None:
    """64E-16.004 (read): 30 days from sealing, although the first needle went in long before."""
    box = sharps_box().sealed(T0, in_use_since=T0 - 60 * DAY, hub_cut=True)
    text = shipped("us-florida")
    assert not box.over(text, T0 + 30 * DAY)
    assert box.over(text, T0 + 31 * DAY)


def test_florida_counts_a_bag_from_its_first_item() -> None:
    """64E-16.004 (read): 30 days from the first item that is no sharp."""
    story = bag("regulated").sealed(T0, in_use_since=T0 - 2 * DAY)
    text = shipped("us-florida")
    assert not story.over(text, T0 + 28 * DAY)
    assert story.over(text, T0 + 28 * DAY + SECOND)


def test_florida_counts_anew_away_from_the_generator() -> None:
    """64E-16.004 (read): off site 30 days from the day of collection."""
    story = bag("regulated").sealed(T0).collected(T0 + 20 * DAY).dispatched(T0 + 20 * DAY + HOUR)
    text = shipped("us-florida")
    assert not story.over(text, T0 + 50 * DAY)
    assert story.over(text, T0 + 50 * DAY + SECOND)


@pytest.mark.parametrize(
    ("temperature_f", "flagged"), [(40, False), (35, False), (45, False), (46, True), (34, True)]
)
def test_north_carolina_eight_days_from_shipment(temperature_f: int, flagged: bool) -> None:
    """15A NCAC 13B .1206 (read): 7 calendar days from shipment but at 35 to 45 °F."""
    celsius = f"{(temperature_f - 32) / 1.8:.2f}"
    story = bag("regulated").sealed(T0 - DAY).collected(T0 - HOUR).dispatched(T0, consignee="hub")
    story.received(T0 + HOUR, party="hub")
    story.stored(T0 + 2 * HOUR, store="hub-cold", temperature_c=celsius)
    text = shipped("us-north-carolina")
    assert not story.over(text, T0 + 7 * DAY)
    assert story.over(text, T0 + 8 * DAY) is flagged


def test_north_carolina_day_7_lasts_until_local_midnight() -> None:
    """Calendar days end with the local day: shipped at 23:30 in New York, the day is that one."""
    shipped_at = at("2026-07-06 23:30-04:00")
    story = bag("regulated").sealed(shipped_at - DAY).collected(shipped_at - HOUR)
    story.dispatched(shipped_at)
    text = shipped("us-north-carolina", time_zone="America/New_York")
    midnight = at("2026-07-14 00:00-04:00")
    assert not story.over(text, midnight)
    assert story.over(text, midnight + SECOND)


def in_transfer(category: str, arrived: datetime, store: str = "hub-floor", **said: Any) -> Story:
    """A bag that came to a transfer station and was put in a store there."""
    story = bag(category).sealed(arrived - DAY).collected(arrived - 2 * HOUR)
    story.dispatched(arrived - HOUR, consignee="hub").received(arrived, party="hub")
    return story.stored(arrived, store=store, **said)


WEDNESDAY_10, FRIDAY_18 = at("2026-07-08 10:00"), at("2026-07-10 18:00")


@pytest.mark.parametrize(
    ("category", "arrived", "store", "last_allowed"),
    [
        # Environment Agency, storage limits at transfer stations (read): anatomical not cooled
        # 24 h, 72 h over a weekend (the reading that 24 h end on a Saturday or Sunday);
        # cooled 14 days; infectious 14 days.
        ("anatomical", WEDNESDAY_10, "hub-floor", at("2026-07-09 10:00")),
        ("anatomical", FRIDAY_18, "hub-floor", at("2026-07-13 18:00")),
        ("anatomical", WEDNESDAY_10, "hub-cold", WEDNESDAY_10 + 14 * DAY),
        ("orange", WEDNESDAY_10, "hub-floor", WEDNESDAY_10 + 14 * DAY),
        ("offensive", WEDNESDAY_10, "hub-floor", WEDNESDAY_10 + 14 * DAY),
        ("offensive", WEDNESDAY_10, "hub-apron", WEDNESDAY_10 + 7 * DAY),
        # Drugs 6 months, as calendar months: 31 August to the last of February.
        ("medicines", at("2026-08-31 12:00"), "hub-floor", at("2027-02-28 12:00")),
        ("medicines", at("2027-08-31 12:00"), "hub-floor", at("2028-02-29 12:00")),
    ],
)
def test_english_transfer_stations(
    category: str, arrived: datetime, store: str, last_allowed: datetime
) -> None:
    """The clock starts at arrival; the last instant is allowed, a second later is an overrun."""
    text = shipped("england-htm-07-01")
    story = in_transfer(category, arrived, store)
    assert story.standing(text).due_at == last_allowed
    assert not story.over(text, last_allowed)
    assert story.over(text, last_allowed + SECOND)


def test_english_limits_hold_at_the_transfer_station_only() -> None:
    """No limit runs at the hospital or on the road: the text has none there."""
    text = shipped("england-htm-07-01")
    story = bag("anatomical").sealed(T0).collected(T0 + 20 * DAY).dispatched(T0 + 20 * DAY)
    assert not story.over(text, T0 + 21 * DAY)
    assert story.standing(text).due_at is None


def test_english_offensive_moved_outside_on_day_8_is_over_at_once() -> None:
    """Strictest reading (house policy): all time since arrival counts under the new condition."""
    text = shipped("england-htm-07-01")
    moved_at = WEDNESDAY_10 + 8 * DAY
    story = in_transfer("offensive", WEDNESDAY_10).stored(moved_at, store="hub-apron")
    assert not story.over(text, moved_at - SECOND)
    assert story.over(text, moved_at)
