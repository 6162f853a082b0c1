"""When a limit's clock starts and its last allowed instant: hours, days, calendar days, months."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from service.custody.holding import due, spans, treated_at
from service.custody.regime import HoldingLimit
from service.custody.words import Condition, Whereabouts
from tests.house import holding, rules
from tests.trade import Story, at, bag

T0, HOUR, DAY = at("2026-07-06 10:00"), timedelta(hours=1), timedelta(days=1)
HOUSE = rules()


def limit(**said: object) -> HoldingLimit:
    """A limit of the invented text."""
    return HoldingLimit.model_validate(holding(**said))


@pytest.mark.parametrize(
    ("said", "zone", "start", "last_allowed"),
    [
        ({"hours": 48}, "UTC", "2026-07-06 10:00", "2026-07-08 10:00"),
        ({"days": 30}, "UTC", "2026-07-06 10:00", "2026-08-05 10:00"),
        # Hours and days are elapsed time: the night the clocks go forward has 23 h.
        ({"hours": 48}, "Europe/London", "2026-03-28 10:00+00:00", "2026-03-30 11:00+01:00"),
        ({"days": 2}, "Europe/London", "2026-10-24 10:00+01:00", "2026-10-26 09:00+00:00"),
        # Calendar days end with the local day, whatever the hour they began.
        ({"calendar_days": 7}, "UTC", "2026-07-06 00:00", "2026-07-14 00:00"),
        ({"calendar_days": 7}, "UTC", "2026-07-06 23:59", "2026-07-14 00:00"),
        ({"calendar_days": 7}, "America/New_York", "2026-07-07 03:30", "2026-07-14 00:00-04:00"),
        ({"calendar_days": 1}, "Europe/London", "2026-03-28 12:00", "2026-03-30 00:00+01:00"),
        ({"calendar_days": 1}, "Europe/London", "2026-10-24 12:00", "2026-10-26 00:00+00:00"),
        # Months keep local day and hour, or take the last day of a shorter month.
        ({"months": 6}, "UTC", "2026-08-31 12:00", "2027-02-28 12:00"),
        ({"months": 6}, "UTC", "2027-08-31 12:00", "2028-02-29 12:00"),
        ({"months": 1}, "UTC", "2026-01-30 12:00", "2026-02-28 12:00"),
        ({"months": 1}, "UTC", "2026-05-31 12:00", "2026-06-30 12:00"),
        ({"months": 12}, "UTC", "2026-12-15 12:00", "2027-12-15 12:00"),
        ({"months": 1}, "Europe/London", "2026-03-10 12:00+00:00", "2026-04-10 12:00+01:00"),
        # A weekend: longer only if the plain limit would end on Saturday or Sunday, site time.
        ({"hours": 24, "weekend_hours": 72}, "UTC", "2026-07-09 18:00", "2026-07-10 18:00"),
        ({"hours": 24, "weekend_hours": 72}, "UTC", "2026-07-10 18:00", "2026-07-13 18:00"),
        ({"hours": 24, "weekend_hours": 72}, "UTC", "2026-07-11 18:00", "2026-07-14 18:00"),
        ({"hours": 24, "weekend_hours": 72}, "UTC", "2026-07-12 18:00", "2026-07-13 18:00"),
        (
            {"hours": 24, "weekend_hours": 72},
            "Asia/Kolkata",
            "2026-07-09 20:00",
            "2026-07-12 20:00",
        ),
    ],
)
def test_last_allowed_instant(
    said: dict[str, int], zone: str, start: str, last_allowed: str
) -> None:
    """Each unit of the texts, where the clocks change and where months differ."""
    assert due(limit(**said), at(start), ZoneInfo(zone)) == at(last_allowed)


def whole() -> Story:
    """In use, sealed, collected, sent, received: each an hour after the other."""
    story = bag().sealed(T0, in_use_since=T0 - HOUR).collected(T0 + HOUR)
    return story.dispatched(T0 + 2 * HOUR).received(T0 + 3 * HOUR)


@pytest.mark.parametrize(
    ("clock", "start"),
    [
        ("first_item", T0 - HOUR),
        ("sealed", T0),
        ("collected", T0 + HOUR),
        ("dispatched", T0 + 2 * HOUR),
        ("received", T0 + 3 * HOUR),
    ],
)
def test_each_clock_starts_where_the_text_says(clock: str, start: datetime) -> None:
    """The same bag under five texts."""
    assert whole().standing(rules(holding=[holding(48, clock=clock)])).due_at == start + 48 * HOUR


def test_a_clock_that_did_not_start_has_no_due_time() -> None:
    """A limit from receipt says nothing of a bag still at the ward."""
    text = rules(holding=[holding(48, clock="received")])
    assert bag().sealed(T0).standing(text).due_at is None


def test_without_a_first_item_the_seal_counts() -> None:
    """Nobody noted when it came into use."""
    text = rules(holding=[holding(48, clock="first_item")])
    assert bag().sealed(T0).standing(text).due_at == T0 + 48 * HOUR


@pytest.mark.parametrize(
    ("season", "sealed", "found"),
    [
        ("winter", "2026-03-31 23:59", True),
        ("summer", "2026-04-01 00:00", True),
        ("winter", "2026-04-01 00:00", False),
        ("summer", "2026-09-30 23:59", True),
        ("winter", "2026-10-01 00:00", True),
        ("winter", "2026-01-01 00:00", True),
    ],
)
def test_a_season_lasts_until_the_next_begins(season: str, sealed: str, found: bool) -> None:
    """The season is that of the local day on which the clock started, over the new year too."""
    site = {"season": [{"name": "summer", "from": "04-01"}, {"name": "winter", "from": "10-01"}]}
    text = rules(site, holding=[holding(48, season=season)])
    assert (bag().sealed(sealed).standing(text).due_at is not None) is found


def test_a_limit_for_a_season_does_not_hold_where_no_seasons_are_declared() -> None:
    """Then only limits for any season hold."""
    text = rules(holding=[holding(48, season="winter"), holding(96, id="any")])
    assert bag().sealed(T0).standing(text).due_at == T0 + 96 * HOUR


def test_the_first_limit_to_end_is_the_due_time() -> None:
    """Two limits run: 7 days not cooled, 3 days in any case."""
    text = rules(
        holding=[holding(id="warm", days=7, conditions=["ambient"]), holding(id="any", days=3)]
    )
    assert bag().sealed(T0).standing(text).due_at == T0 + 3 * DAY


def test_spans_of_a_journey() -> None:
    """Ward, yard, cold room, road, transfer station, road, plant: as conditions and whereabouts."""
    story = bag().sealed(T0).collected(T0 + HOUR).stored(T0 + 2 * HOUR, store="cold-room")
    story.dispatched(T0 + 3 * HOUR, condition="chilled", consignee="hub")
    story.received(T0 + 4 * HOUR, party="hub").stored(T0 + 5 * HOUR, store="hub-apron")
    story.dispatched(T0 + 6 * HOUR).received(T0 + 7 * HOUR).treated(T0 + 8 * HOUR)
    ambient, chilled, outdoors = Condition.AMBIENT, Condition.CHILLED, Condition.OUTDOORS
    here, off, hub = Whereabouts.GENERATOR, Whereabouts.OFF_SITE, Whereabouts.TRANSFER_STATION
    cut = spans(story.history(), HOUSE)
    assert [(s.condition, s.whereabouts) for s in cut] == [
        (ambient, here), (chilled, here), (chilled, off), (ambient, hub), (outdoors, hub),
        (ambient, off),
    ]  # fmt: skip
    starts = [(s.from_at - T0) // HOUR for s in cut]
    assert starts == [0, 2, 3, 4, 5, 6]
    assert cut[-1].until_at == treated_at(story.history()) == T0 + 8 * HOUR


def test_who_receives_decides_whose_ground_it_is() -> None:
    """At the site until it leaves; from a transfer station on it is off site, dispatched or not."""
    inside = bag().sealed(T0).received(T0 + HOUR, party="handlers")
    assert spans(inside.history(), HOUSE)[-1].whereabouts is Whereabouts.GENERATOR
    hub = bag().sealed(T0).received(T0 + HOUR, party="hub")
    assert spans(hub.history(), HOUSE)[-1].whereabouts is Whereabouts.TRANSFER_STATION
    hub.received(T0 + 2 * HOUR)
    assert spans(hub.history(), HOUSE)[-1].whereabouts is Whereabouts.OFF_SITE


def test_no_span_is_empty() -> None:
    """Two moves in one minute leave no span between them."""
    story = bag().sealed(T0).stored(T0, store="cold-room").stored(T0, store="freezer")
    (only,) = spans(story.history(), HOUSE)
    assert (only.from_at, only.condition) == (T0, Condition.FROZEN)
