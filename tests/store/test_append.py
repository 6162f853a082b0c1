"""Appending: once for each id, all or nothing, and what amendments and late acts change."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier
from typing import Any

import pytest

from service.custody.events import EVENT, Entry
from service.store import append as appending
from service.store import store as keeping
from service.store.append import Outcome
from service.store.store import Store
from service.store.tables import CONTAINER, VIOLATION
from tests.store.record import (
    LABEL_KEY,
    SET_UP_AT,
    exactly,
    new_facility,
    on_file,
    record,
    rows,
    site,
)
from tests.trade import BAG, CART, Story, at, bag, handled_well

WASTE = "yellow-c"


def changed(entry: Entry, **said: Any) -> Entry:
    """The entry with other content under the same id."""
    event = EVENT.validate_python(entry.event.model_dump() | said)
    return Entry(event, entry.recorded_at)


def tell(store: Store, facility: str, *stories: Story) -> None:
    """Append the entries of stories one by one, in the order told."""
    for story in stories:
        for entry in story.entries:
            assert [o.outcome for o in store.append(facility, [entry])] == ["recorded"]


def states(store: Store, facility: str) -> dict[str, str]:
    """How each container stands."""
    return {row.container: row.state for row in rows(store, facility, CONTAINER)}


def found(store: Store, facility: str, code: str) -> list[str]:
    """The containers with a violation of that code."""
    return sorted(r.container for r in rows(store, facility, VIOLATION) if r.code == code)


def told(outcomes: list[Outcome]) -> list[str]:
    """What became of each."""
    return [o.outcome for o in outcomes]


# --- once for each id


def test_the_same_event_again_is_repeated_in_one_batch_and_across(
    store: Store, facility: str
) -> None:
    """It is recorded once, and each copy after the first is told so."""
    [entry] = bag(WASTE).sealed("2026-07-01 10:00").entries
    assert told(store.append(facility, [entry, entry])) == ["recorded", "repeated"]
    assert told(store.append(facility, [entry])) == ["repeated"]
    assert len(record(store, facility)) == 1


def test_other_content_under_the_same_id_is_refused(store: Store, facility: str) -> None:
    """In one batch and across; what was recorded first stands."""
    [entry] = bag(WASTE).sealed("2026-07-01 10:00").entries
    other = changed(entry, weight_g=1)
    [_, within] = store.append(facility, [entry, other])
    [across] = store.append(facility, [other])
    for outcome in (within, across):
        assert outcome.outcome == "refused"
        assert "amended" in outcome.reason
    [row] = record(store, facility)
    assert "weight_g" not in row.body


def test_eight_devices_sending_the_same_events_at_once_record_each_once(
    store: Store, facility: str
) -> None:
    """One of the eight is told that it was recorded, seven that it was there."""
    story = Story(category=WASTE)
    for number in range(50):
        story.sealed("2026-07-01 10:00", f"BAG-{number}")
    together = Barrier(8)

    def send(_: int) -> list[Outcome]:
        together.wait()
        return store.append(facility, story.entries)

    with ThreadPoolExecutor(8) as devices:
        answers = list(devices.map(send, range(8)))
    for copies in zip(*answers, strict=True):
        assert sorted(o.outcome for o in copies) == ["recorded", *["repeated"] * 7]
    held = record(store, facility)
    assert [row.seq for row in held] == list(range(2, 52))
    assert [row.id for row in held] == [str(e.event.id) for e in story.entries]


def test_devices_sending_events_of_their_own_at_once_lose_none(store: Store, facility: str) -> None:
    """Numbers run without a gap, and the rows are those that a rebuild gives."""
    stories = [
        Story(category=WASTE, container=f"BAG-{n}")
        .sealed("2026-07-01 10:00")
        .packed("2026-07-01 11:00")
        .stored("2026-07-01 12:00", CART)
        for n in range(8)
    ]
    with ThreadPoolExecutor(8) as devices:
        for answer in devices.map(lambda s: store.append(facility, s.entries), stories):
            assert told(answer) == ["recorded"] * 3
    assert [row.seq for row in record(store, facility)] == list(range(2, 26))
    before = exactly(store, facility)
    list(store.rebuild(facility))
    assert exactly(store, facility) == before


def test_services_on_one_database_take_turns(tmp_path: Path) -> None:
    """None gives a number that another gave, none of their events fails, and each is folded in."""
    services = [on_file(tmp_path) for _ in range(3)]
    here = new_facility(services[0])
    story = bag(WASTE).sealed("2026-07-01 10:00").packed("2026-07-01 11:00")
    for minute in range(30):
        story.stored(f"2026-07-01 12:{minute:02}", CART if minute % 2 else BAG)
    with ThreadPoolExecutor(3) as devices:
        sent = [
            devices.submit(services[n % 3].append, here, [e]) for n, e in enumerate(story.entries)
        ]
        assert [told(s.result()) for s in sent] == [["recorded"]] * 32
    assert [row.seq for row in record(services[0], here)] == list(range(2, 34))
    before = exactly(services[0], here)
    list(services[1].rebuild(here))
    assert exactly(services[2], here) == before
    for service in services:
        service.close()


def test_an_amendment_of_an_amendment_is_refused_whichever_comes_first(
    store: Store, facility: str
) -> None:
    """The original is amended again instead; so no order of arrival lets a chain in."""
    story = bag(WASTE).sealed("2026-07-01 10:00").voided("2026-07-01 11:00", "registered")
    [_, first] = story.entries
    second = Story()._amend("2026-07-01 12:00", first.event, None).entries[0]
    for batches in ([[first], [second]], [[first, second]], [[second], [first]], [[second, first]]):
        here = new_facility(store)
        outcomes = [o for batch in batches for o in store.append(here, batch)]
        assert told(outcomes) == ["recorded", "refused"]
        assert len(record(store, here)) == 1
    assert told(store.append(facility, story.entries)) == ["recorded", "recorded"]


# --- all or nothing, in order


def test_a_batch_that_fails_leaves_nothing(
    store: Store, facility: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither the record nor a projection keeps a part of it, and it can be sent again."""
    tell(store, facility, bag(WASTE).sealed("2026-07-01 09:00").packed("2026-07-01 09:30"))
    before, held = exactly(store, facility), record(store, facility)
    late = (
        Story(category=WASTE, container="BAG-2")
        .sealed("2026-07-01 10:00")
        .packed("2026-07-01 11:00")
    )
    with monkeypatch.context() as broken:

        def fails(*_: Any) -> None:
            raise RuntimeError("the disk is full")

        broken.setattr(appending, "project", fails)
        with pytest.raises(RuntimeError, match="the disk is full"):
            store.append(facility, late.entries)
    assert exactly(store, facility) == before
    assert record(store, facility) == held
    other = Story().stored("2026-07-01 10:00", CART).lost("2026-07-01 11:00", CART)
    for story in (other, late):
        assert told(store.append(facility, story.entries)) == ["recorded", "recorded"]
    before = exactly(store, facility)
    assert states(store, facility)[BAG] == "lost"
    list(store.rebuild(facility))
    assert exactly(store, facility) == before


def test_outcomes_come_in_the_order_of_the_events(store: Store, facility: str) -> None:
    """Each is at the place of its event, with what it showed beside it."""
    story = Story(category=WASTE)
    story.sealed("2026-07-01 10:00", "BAG-1").sealed("2026-07-01 09:00", "BAG-2", closed=False)
    [one, two] = story.entries
    outcomes = store.append(facility, [one, changed(one, weight_g=1), two, one])
    assert [o.id for o in outcomes] == [e.event.id for e in (one, one, two, one)]
    assert told(outcomes) == ["recorded", "refused", "recorded", "repeated"]
    assert "packing.open" in [v.code.value for v in outcomes[2].violations]
    assert [row.id for row in record(store, facility)] == [str(one.event.id), str(two.event.id)]


def test_what_an_amendment_brings_to_light_is_told_with_it(store: Store, facility: str) -> None:
    """A bag that was fuller than first said: the answer to the correction says what is wrong."""
    story = bag(WASTE).sealed("2026-07-01 10:00", fill_fraction="0.7")
    story.amended("2026-07-01 11:00", "registered", fill_fraction="0.9")
    first, second = (store.append(facility, [entry])[0] for entry in story.entries)
    assert "packing.overfilled" not in [v.code.value for v in first.violations]
    assert [v.code.value for v in second.violations] == ["packing.overfilled"]


@pytest.mark.parametrize("most", [0, 1, 3])
def test_entries_kept_at_hand_make_room_for_newer_ones(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, most: int
) -> None:
    """However few are kept, and by two services on one database, the rows are the same."""
    monkeypatch.setattr("service.store.store.RECENT_ENTRIES", most)
    one, two = on_file(tmp_path), on_file(tmp_path)
    here = new_facility(one)
    story = handled_well(at("2026-07-01 08:00"), WASTE)
    story.amended("2026-07-03 10:00", "packed", parent="CART-2")
    for number, entry in enumerate(reversed(story.entries)):
        (one, two)[number % 2].append(here, [entry])
    before = exactly(one, here)
    list(two.rebuild(here))
    assert exactly(one, here) == before
    one.close()
    two.close()


# --- what amendments and late acts change


def test_an_event_moved_twice_leaves_the_container_in_between(store: Store, facility: str) -> None:
    """The second correction takes back what the first said of another container."""
    story = (
        bag(WASTE)
        .sealed("2026-07-01 10:00")
        .amended("2026-07-01 11:00", "registered", containers=("BAG-2",))
        .amended("2026-07-01 12:00", "registered", containers=("BAG-3",))
    )
    tell(store, facility, story)
    assert states(store, facility) == {
        BAG: "unregistered",
        "BAG-2": "unregistered",
        "BAG-3": "registered",
    }


def test_an_event_moved_to_another_container_keeps_when_it_was_recorded(
    store: Store, facility: str
) -> None:
    """What was recorded late is late for the container that it is really about."""
    story = bag(WASTE).sealed("2026-07-01 10:00")
    [entry] = story.entries
    late = Entry(entry.event, SET_UP_AT.replace(month=7, day=9))
    correction = story.amended("2026-07-09 11:00", "registered", containers=("BAG-2",)).entries[1]
    for entry in (late, correction):
        store.append(facility, [entry])
    assert found(store, facility, "record.late") == ["BAG-2"]


def test_a_cart_named_by_mistake_carries_no_longer_once_that_is_put_right(
    store: Store, facility: str
) -> None:
    """A container is a cart only while something was ever put into it."""
    story = bag(WASTE).sealed("2026-07-01 10:00").packed("2026-07-01 11:00", parent="BAG-2")
    tell(store, facility, story)
    assert states(store, facility)["BAG-2"] == "carrying"
    tell(
        store,
        facility,
        Story(entries=[story.amended("2026-07-01 12:00", "packed", parent=CART).entries[-1]]),
    )
    assert states(store, facility) == {BAG: "registered", "BAG-2": "unregistered", CART: "carrying"}


def test_a_cart_that_is_registered_as_waste_is_judged_from_then_on(
    store: Store, facility: str
) -> None:
    """And no longer, once the registration is struck out."""
    story = bag(WASTE).packed("2026-07-01 11:00").sealed("2026-07-01 10:00", CART, closed=False)
    tell(store, facility, story)
    assert states(store, facility)[CART] == "registered"
    assert found(store, facility, "packing.open") == [CART]
    struck = story.voided("2026-07-01 12:00", "registered").entries[-1]
    store.append(facility, [struck])
    assert states(store, facility)[CART] == "carrying"
    assert found(store, facility, "packing.open") == []


def test_a_late_receipt_of_an_earlier_consignment_shows_what_was_missing_from_it(
    store: Store, facility: str
) -> None:
    """Though the bag was turned away since and has left again in another consignment."""
    story = (
        Story(category=WASTE)
        .sealed("2026-07-01 08:00", BAG)
        .sealed("2026-07-01 08:00", "BAG-2")
        .dispatched("2026-07-01 10:00", BAG, "BAG-2")
        .refused("2026-07-01 13:00", BAG)
        .dispatched("2026-07-01 14:00", BAG, consignment="C-2")
    )
    tell(store, facility, story)
    assert found(store, facility, "custody.missing") == []
    tell(store, facility, Story().all_received("2026-07-01 12:00", "BAG-2"))
    assert found(store, facility, "custody.missing") == [BAG]


def test_a_number_is_the_same_however_it_was_written(store: Store, facility: str) -> None:
    """25.00 °C and 25 °C are one temperature: told alike at once and after a rebuild."""
    story = bag(WASTE).sealed("2026-07-01 08:00")
    story.stored("2026-07-01 09:00", store="cold-room", temperature_c="25.00")
    tell(store, facility, story)
    before = exactly(store, facility)
    list(store.rebuild(facility))
    assert exactly(store, facility) == before
    messages = [r.message for r in rows(store, facility, VIOLATION)]
    assert any("at 25 °C" in message for message in messages)


def test_a_late_packing_brings_the_bag_what_happened_to_the_cart(
    store: Store, facility: str
) -> None:
    """The cart was stored before anybody had told that the bag was in it."""
    tell(
        store,
        facility,
        bag(WASTE).sealed("2026-07-01 08:00").stored("2026-07-01 12:00", CART),
        bag(WASTE).packed("2026-07-01 11:00"),
    )
    assert states(store, facility) == {BAG: "stored", CART: "carrying"}


def test_a_rebuild_judges_by_the_set_up_as_it_is_now(store: Store, facility: str) -> None:
    """A carrier that turns out to have had no authorisation is found for what it carried."""
    story = bag(WASTE).sealed("2026-07-01 10:00").dispatched("2026-07-01 12:00")
    tell(store, facility, story)
    assert found(store, facility, "party.not_authorised") == []
    parties = [p.model_dump() | {"authorisation": ()} for p in site("x").party]
    assert store.set_up(site(facility, party=parties), SET_UP_AT, b"another key") == 2
    steps = list(store.rebuild(facility))
    assert steps[-1] == (8, 8)
    assert found(store, facility, "party.not_authorised") == [BAG, BAG]
    assert store.label_key(facility) == LABEL_KEY


def test_more_facilities_than_are_kept_at_hand_are_judged_as_well(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of many facilities the set-ups asked for last are at hand; the text of a regime is one."""
    monkeypatch.setattr(keeping, "FACILITIES_AT_HAND", 2)
    store = on_file(tmp_path)
    facilities = [new_facility(store) for _ in range(4)]
    asked = [store.rules(facility) for facility in (*facilities, facilities[0])]
    for facility in facilities:
        tell(store, facility, bag(WASTE).sealed("2026-07-06 10:00"))

    assert asked[-1] is not asked[0], "the first was let go"
    assert all(rules.regime is asked[0].regime for rules in asked)
    assert [store.rules(facility).site.id for facility in facilities] == facilities
    assert all(set(states(store, facility)) == {BAG} for facility in facilities)
    store.close()
