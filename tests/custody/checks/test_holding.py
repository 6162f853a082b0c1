"""Holding time: near, exceeded, cold stores that are not cold."""

from datetime import datetime, timedelta

import pytest

from service.custody.words import Severity
from tests.house import holding, rules
from tests.trade import CART, Story, at, bag

T0 = at("2026-07-06 10:00")
HOUR, INSTANT = timedelta(hours=1), timedelta.resolution
DUE = T0 + 48 * HOUR
HOUSE = rules()


def in_cold_room(when: datetime) -> Story:
    """A bag put in the cold room at 5 °C."""
    return bag().sealed(T0).collected(T0).stored(when, store="cold-room", temperature_c="5")


COLD_IS_FREE = rules(holding=[holding(48, conditions=["ambient", "outdoors"])])


def test_near_opens_six_hours_before_the_limit_and_ends_when_it_is_exceeded() -> None:
    """From 42 h on a warning stands; it ends the instant the limit is passed."""
    near = bag().sealed(T0).only("holding.near", HOUSE)
    assert (near.opened_at, near.closed_at) == (DUE - 6 * HOUR, DUE + INSTANT)
    assert near.severity is Severity.LATE
    assert near.clause == "limit (House text)"
    assert "48 h" in near.message
    assert "2026-07-08 10:00" in near.message


def test_exceeded_opens_the_first_instant_after_the_limit() -> None:
    """At the limit is allowed, a microsecond later is not; it stands until treatment."""
    story = bag().sealed(T0)
    over = story.only("holding.exceeded", HOUSE)
    assert (over.opened_at, over.closed_at) == (DUE + INSTANT, None)
    assert over.evidence == (story.last("registered").id,)
    assert not over.open_at(DUE)
    assert over.open_at(DUE + INSTANT)


@pytest.mark.parametrize(
    ("treated", "near", "exceeded"),
    [
        (DUE - 6 * HOUR, False, False),
        (DUE - 6 * HOUR + INSTANT, True, False),
        (DUE, True, False),
        (DUE + INSTANT, True, False),
        (DUE + 2 * INSTANT, True, True),
    ],
)
def test_treatment_ends_both(treated: datetime, near: bool, exceeded: bool) -> None:
    """Treated before the warning: nothing; before the overrun: a warning that closed."""
    story = bag().sealed(T0).treated(treated)
    for code, found in (("holding.near", near), ("holding.exceeded", exceeded)):
        assert bool(story.every(code, HOUSE)) is found
        assert all(
            v.closed_at is not None and v.closed_at <= treated for v in story.every(code, HOUSE)
        )


def test_treatment_after_the_limit_closes_the_overrun_and_does_not_erase_it() -> None:
    """The overrun is a fact with its end."""
    over = bag().sealed(T0).treated(DUE + 5 * HOUR).only("holding.exceeded", HOUSE)
    assert over.closed_at == DUE + 5 * HOUR


@pytest.mark.parametrize("step", ["shred", "mutilate", "resource_recovery"])
def test_a_mechanical_step_does_not_end_it(step: str) -> None:
    """Shredded waste is as infectious as it was."""
    story = bag().sealed(T0).treated(T0 + HOUR, step)
    assert story.only("holding.exceeded", HOUSE).closed_at is None


def test_disposal_ends_it() -> None:
    """What is gone is not held."""
    assert not bag().sealed(T0).disposed(T0 + HOUR).every("holding.exceeded", HOUSE)


def test_moved_where_no_limit_runs_the_overrun_closes_and_comes_back_with_it() -> None:
    """Into the cold after 50 h: closed; out again: over from that moment, all time counted."""
    story = in_cold_room(T0 + 50 * HOUR).stored(T0 + 60 * HOUR)
    first, second = story.every("holding.exceeded", COLD_IS_FREE)
    assert (first.opened_at, first.closed_at) == (DUE + INSTANT, T0 + 50 * HOUR)
    assert (second.opened_at, second.closed_at) == (T0 + 60 * HOUR, None)
    assert story.last("stored").id in second.evidence


def test_in_the_cold_in_time_nothing_is_found() -> None:
    """Moved before the warning, neither it nor the overrun is ever raised."""
    story = in_cold_room(T0 + 40 * HOUR)
    assert story.codes(COLD_IS_FREE) == []
    assert story.standing(COLD_IS_FREE).due_at is None


def test_only_the_time_under_the_condition_counts_where_the_text_says_so() -> None:
    """40 h warm, 100 h cold, then warm again: 8 h are left."""
    counted = holding(48, conditions=["ambient", "outdoors"], mixing="per_condition")
    text = rules(holding=[counted])
    story = in_cold_room(T0 + 40 * HOUR).stored(T0 + 140 * HOUR)
    assert story.only("holding.exceeded", text).opened_at == T0 + 148 * HOUR + INSTANT
    assert story.standing(text).due_at == T0 + 148 * HOUR


def test_days_are_counted_under_the_condition_as_hours_are() -> None:
    """A day warm, ten cold, warm again: six of seven days are left."""
    text = rules(holding=[holding(days=7, conditions=["ambient"], mixing="per_condition")])
    story = in_cold_room(T0 + 24 * HOUR).stored(T0 + 264 * HOUR)
    assert story.standing(text).due_at == T0 + (264 + 6 * 24) * HOUR


def test_what_was_used_up_is_over_the_moment_it_comes_back() -> None:
    """All 48 h were spent warm: at once after the cold it is over again."""
    text = rules(holding=[holding(48, conditions=["ambient"], mixing="per_condition")])
    story = in_cold_room(T0 + 50 * HOUR).stored(T0 + 60 * HOUR)
    opened = [v.opened_at for v in story.every("holding.exceeded", text)]
    assert opened == [DUE + INSTANT, T0 + 60 * HOUR]


def test_time_in_use_at_the_unit_counts_too_where_the_clock_starts_with_the_first_item() -> None:
    """In use for 10 h before sealing: 38 h are left, however conditions mix."""
    for mixing in ("strictest", "per_condition"):
        limit = holding(48, clock="first_item", mixing=mixing, conditions=["ambient"])
        story = bag().sealed(T0, in_use_since=T0 - 10 * HOUR)
        assert story.standing(rules(holding=[limit])).due_at == T0 + 38 * HOUR


def test_in_use_since_follows_the_correction_of_the_device_clock() -> None:
    """The device was an hour ahead for both times."""
    limit = holding(48, clock="first_item")
    story = bag().sealed(T0, in_use_since=T0 - 10 * HOUR, clock_offset_s=3600)
    assert story.standing(rules(holding=[limit])).due_at == T0 + 37 * HOUR


def test_a_cooler_vehicle_keeps_it_cool() -> None:
    """A consignment may itself be chilled; at receipt it is ambient until stored."""
    story = bag().sealed(T0).collected(T0).dispatched(T0 + HOUR, condition="chilled")
    assert story.standing(COLD_IS_FREE).due_at is None
    story.refused(T0 + 2 * HOUR)
    assert story.standing(COLD_IS_FREE).due_at is None, "it goes back in the same vehicle"
    story.received(T0 + 4 * HOUR)
    assert story.standing(COLD_IS_FREE).due_at == DUE


# --- notice -------------------------------------------------------------------------------------


def test_a_notice_marks_the_overrun() -> None:
    """The authority was told: the overrun stands, as notified."""
    story = bag().sealed(T0).notified(DUE + HOUR)
    over = story.only("holding.exceeded", HOUSE)
    assert over.notified_at == DUE + HOUR
    assert over.closed_at is None


@pytest.mark.parametrize("about", ["spill", "loss", "route", "other"])
def test_a_notice_of_something_else_does_not(about: str) -> None:
    """Only a notice about holding counts."""
    story = bag().sealed(T0).notified(DUE + HOUR, about)
    assert not story.only("holding.exceeded", HOUSE).notified_at


def test_a_notice_of_the_cart_is_of_what_is_in_it() -> None:
    """The officer may name the cart."""
    story = bag().sealed(T0).packed(T0).tell("notified", DUE + HOUR, CART)
    assert story.only("holding.exceeded", HOUSE).notified_at


def test_a_notice_means_nothing_where_the_text_knows_none() -> None:
    """No notice rule covers laboratory waste in the invented text."""
    story = bag("laboratory").sealed(T0).notified(DUE + HOUR)
    assert not story.only("holding.exceeded", HOUSE).notified_at


# --- warm store ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("store", "temperature_c", "flagged"),
    [
        ("cold-room", "3", False),
        ("cold-room", "8", False),
        ("cold-room", "2.9", True),
        ("cold-room", "8.1", True),
        ("cold-room", None, False),
        ("freezer", "-15", False),
        ("freezer", "-14.9", True),
        ("yard-store", "30", False),
    ],
)
def test_a_cold_store_out_of_its_band(store: str, temperature_c: str | None, flagged: bool) -> None:
    """The ends of the band are allowed; a store that is not cold has no band."""
    story = bag().sealed(T0).collected(T0)
    story.stored(T0 + HOUR, store=store, temperature_c=temperature_c)
    found = story.every("holding.warm_store", HOUSE)
    assert [v.opened_at for v in found] == [T0 + HOUR] * flagged
    assert all(v.severity is Severity.WRONG and v.clause.startswith("band") for v in found)
    band = "frozen is at most -15 °C" if store == "freezer" else "chilled is 3 to 8 °C"
    assert all(v.message.endswith(band) for v in found)


def test_a_warm_cold_room_counts_as_not_cooled() -> None:
    """At 9 °C the limit runs as in the yard."""
    story = bag().sealed(T0).collected(T0)
    story.stored(T0 + HOUR, store="cold-room", temperature_c="9")
    assert story.only("holding.exceeded", COLD_IS_FREE).opened_at == DUE + INSTANT


@pytest.mark.parametrize("act", ["stored", "collected", "dispatched", "treated", "disposed"])
def test_a_warm_store_closes_when_the_bag_is_moved_or_treated(act: str) -> None:
    """The next act that moves it on ends it, even in the same minute."""
    for later in (timedelta(), HOUR):
        story = bag().sealed(T0).collected(T0)
        story.stored(T0 + HOUR, store="cold-room", temperature_c="9").weighed(T0 + HOUR, 900)
        getattr(story, act)(T0 + HOUR + later)
        assert story.only("holding.warm_store", HOUSE).closed_at == T0 + HOUR + later
