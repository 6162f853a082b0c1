"""The record itself: labels not ours, weights that disagree, wrong items, late entries."""

from datetime import timedelta

import pytest

from service.custody.events import Origin
from service.custody.words import Severity
from tests.house import rules
from tests.trade import BAG, CART, at, bag

T0, HOUR = at("2026-07-06 10:00"), timedelta(hours=1)
INSTANT = timedelta.resolution
HOUSE = rules()


def test_a_label_that_is_not_ours() -> None:
    """Only the container whose code failed; until disposal."""
    story = bag().sealed(T0).stored(T0 + HOUR, BAG, "BAG-2", false=[BAG])
    found = story.only("label.not_genuine", HOUSE)
    assert (found.severity, found.opened_at) == (Severity.UNSAFE, T0 + HOUR)
    assert not story.every("label.not_genuine", HOUSE, "BAG-2")
    assert story.disposed(T0 + 2 * HOUR).only("label.not_genuine", HOUSE).closed_at == T0 + 2 * HOUR


def test_a_false_label_read_at_unpacking_is_flagged_too() -> None:
    """Every entry that names the container counts, although no packing is known."""
    assert bag().sealed(T0).unpacked(T0 + HOUR, false=[BAG]).only("label.not_genuine", HOUSE)


def test_weights_that_disagree() -> None:
    """The later weighing is the moment; both are the evidence; the text's factor the clause."""
    story = bag().sealed(T0, weight_g=3_420, scale="ward-scale")
    story.weighed(T0 + HOUR, 3_100, scale="plant-scale")
    found = story.only("weight.mismatch", HOUSE)
    assert (found.severity, found.opened_at) == (Severity.WRONG, T0 + HOUR)
    assert found.evidence == (story.last("registered").id, story.last("weighed").id)
    assert found.clause == "in service (House text)"


def test_the_outer_bag_is_added_to_the_earlier_weight() -> None:
    """40 g of outer bag explain 40 g more; without it they would not be explained."""
    story = bag().sealed(T0, weight_g=3_420, scale="ward-scale").double_bagged(T0, tare_g=40)
    assert not story.weighed(T0 + HOUR, 3_460, scale="ward-scale").every("weight.mismatch", HOUSE)
    bare = bag().sealed(T0, weight_g=3_420, scale="ward-scale")
    assert bare.weighed(T0 + HOUR, 3_460, scale="ward-scale").every("weight.mismatch", HOUSE)


def test_a_scale_that_is_not_named_is_the_coarsest_of_the_site() -> None:
    """IIII with 100 g: twice 100 g in service."""
    story = bag().sealed(T0, weight_g=3_420).weighed(T0 + HOUR, 3_220)
    assert not story.every("weight.mismatch", HOUSE)
    assert (
        bag().sealed(T0, weight_g=3_420).weighed(T0 + HOUR, 3_219).every("weight.mismatch", HOUSE)
    )


def test_a_site_without_scales_cannot_tell() -> None:
    """No scale, no error known, nothing held against anybody."""
    story = bag().sealed(T0, weight_g=3_420).weighed(T0 + HOUR, 900)
    assert not story.every("weight.mismatch", rules({"scale": []}))


def test_after_treatment_weights_are_not_compared() -> None:
    """An autoclave dries, a fire leaves ash."""
    story = bag().sealed(T0, weight_g=3_420, scale="ward-scale").treated(T0 + HOUR)
    assert not story.weighed(T0 + 2 * HOUR, 300).every("weight.mismatch", HOUSE)


def test_the_weight_of_the_cart_is_not_the_bags() -> None:
    """A received weight is of the container that is named."""
    story = bag().sealed(T0, weight_g=3_420, scale="ward-scale").packed(T0).collected(T0, CART)
    story.dispatched(T0 + HOUR, CART).received(T0 + 2 * HOUR, CART, weight_g=90_000)
    assert not story.every("weight.mismatch", HOUSE)


def test_a_weight_put_right_no_longer_disagrees() -> None:
    """The slip of the pen is corrected; both figures stay in the record."""
    story = bag().sealed(T0, weight_g=3_420, scale="ward-scale")
    story.weighed(T0 + HOUR, 34_200, scale="ward-scale")
    assert story.every("weight.mismatch", HOUSE)
    assert not story.amended(T0 + 2 * HOUR, "weighed", weight_g=3_420).every(
        "weight.mismatch", HOUSE
    )


def test_wrong_items_until_a_clean_inspection() -> None:
    """A needle in the soiled waste; a second look finds none."""
    story = bag().sealed(T0).inspected(T0 + HOUR, "needle")
    found = story.only("segregation.wrong_item", HOUSE)
    assert (found.opened_at, found.closed_at) == (T0 + HOUR, None)
    assert "needle" in found.message
    story.inspected(T0 + 2 * HOUR, "needle").inspected(T0 + 3 * HOUR)
    assert [v.closed_at for v in story.every("segregation.wrong_item", HOUSE)] == [
        T0 + 3 * HOUR
    ] * 2


@pytest.mark.parametrize("act", ["treated", "disposed"])
def test_treatment_or_disposal_ends_it(act: str) -> None:
    """Nobody can sort it any more, be it in the same minute."""
    for later in (HOUR, 2 * HOUR):
        story = getattr(bag().sealed(T0).inspected(T0 + HOUR, "needle"), act)(T0 + later)
        assert story.only("segregation.wrong_item", HOUSE).closed_at == T0 + later


@pytest.mark.parametrize(("late", "flagged"), [(timedelta(), False), (INSTANT, True)])
def test_recorded_a_day_later(late: timedelta, flagged: bool) -> None:
    """24 h are allowed; it opens and closes when it was recorded."""
    recorded_at = T0 + 24 * HOUR + late
    found = bag().sealed(T0, after=24 * HOUR + late).every("record.late", HOUSE)
    assert [(v.opened_at, v.closed_at) for v in found] == [(recorded_at, recorded_at)] * flagged
    assert all(v.clause == "record (House text)" for v in found)


@pytest.mark.parametrize(("days", "flagged"), [(30, False), (31, True)])
def test_imported_records_have_their_own_time(days: int, flagged: bool) -> None:
    """A file from a paper register may be older."""
    origin = Origin("register.csv", 7, "ward clerk")
    found = bag().sealed(T0, after=timedelta(days=days), origin=origin).every("record.late", HOUSE)
    assert [v.clause for v in found] == ["import (House text)"] * flagged


@pytest.mark.parametrize("told", ["labelled", "notified"])
def test_labels_and_notices_are_never_late(told: str) -> None:
    """They are records of the office."""
    story = getattr(bag().sealed(T0), told)(T0, after=100 * HOUR)
    assert not story.every("record.late", HOUSE)


def test_each_late_entry_is_one() -> None:
    """An offline phone brings two at once."""
    story = bag().sealed(T0).collected(T0 + HOUR, after=30 * HOUR)
    story.stored(T0 + HOUR, after=30 * HOUR)
    assert len(story.every("record.late", HOUSE)) == 2


def test_a_time_put_right_shows_how_late_the_record_was() -> None:
    """Recorded at once by its own words, two days late by the corrected ones; and back."""
    story = bag().sealed(T0).amended(T0 + HOUR, "registered", occurred_at=T0 - 48 * HOUR)
    assert story.only("record.late", HOUSE).opened_at == T0 + timedelta(minutes=1)


def test_an_amendment_alone_is_not_a_late_record() -> None:
    """The original has not arrived: when it was recorded is not known."""
    story = bag().sealed(T0).weighed(T0, 900).amended(T0 + 100 * HOUR, "weighed", weight_g=950)
    del story.entries[1]
    assert not story.every("record.late", HOUSE)
