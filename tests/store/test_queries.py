"""Questions to the store: by index, at any moment, page by page, and never across facilities."""

from collections.abc import Callable
from datetime import timedelta
from inspect import getmembers, isfunction
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import Connection

from service.access.caller import Caller, Scope
from service.custody.words import Role
from service.store import identities, queries
from service.store.append import append
from service.store.entries import Entries
from service.store.queries import ContainerFilter, ViolationFilter
from service.store.reach import units_of
from service.store.store import Store
from tests.store.record import exactly, new_facility, record
from tests.trade import BAG, CART, Story, at, bag, handled_well

T0 = at("2026-07-06 08:00")
HOUR = timedelta(hours=1)
LONG_AFTER = T0 + 1_000 * HOUR
SCOPE = Scope(frozenset({"theatre"}), frozenset({"plant"}))

Ask = Callable[[Connection, str], Any]

QUESTIONS: dict[str, Ask] = {
    "containers": lambda c, f: queries.containers(c, f, ContainerFilter()),
    "under_way": lambda c, f: queries.under_way(c, f),
    "violations": lambda c, f: queries.violations(
        c, f, ViolationFilter(LONG_AFTER, standing=False)
    ),
    "violation_counts": lambda c, f: queries.violation_counts(c, f, LONG_AFTER),
    "history": lambda c, f: queries.history(c, f, BAG).happened,
    "entries_after": lambda c, f: queries.entries_after(c, f, 0, 100),
    "cargo": lambda c, f: queries.cargo(c, f, None, None, 100),
    "histories_until": lambda c, f: list(queries.histories_until(c, f, LONG_AFTER, T0)),
    "entries_of_kind": lambda c, f: queries.entries_of_kind(
        c, f, ["collected"], T0 - HOUR, LONG_AFTER
    ),
    "with_amendments": lambda c, f: queries.with_amendments(
        c, f, ["collected"], T0 - HOUR, LONG_AFTER
    ),
    "happened": lambda c, f: list(queries.happened(c, f, T0 - HOUR, LONG_AFTER)),
    "amended": lambda c, f: queries.amended(c, f, T0 - HOUR, LONG_AFTER),
    "carriers": lambda c, f: queries.carriers(c, f),
}
"""Each question there is, asked of everything."""

LISTS: dict[str, Ask] = {
    "due": lambda c, f: queries.containers(c, f, ContainerFilter(due_before=T0)),
    "due, next page": lambda c, f: queries.containers(
        c, f, ContainerFilter(due_before=T0, after=BAG, after_due=T0)
    ),
    "of a consignment": lambda c, f: queries.containers(c, f, ContainerFilter(consignment="C-1")),
    "under a seal": lambda c, f: queries.containers(c, f, ContainerFilter(seal="S-1")),
    "of a custodian": lambda c, f: queries.containers(c, f, ContainerFilter(custodian="plant")),
    "one consignment": lambda c, f: queries.cargo(c, f, "C-1", None, 1),
    "of a code": lambda c, f: queries.violations(c, f, ViolationFilter(T0, code="custody.gap")),
    "wrong, next page": lambda c, f: queries.violations(
        c, f, ViolationFilter(LONG_AFTER, standing=False, after=(T0, BAG, 1))
    ),
    "of a container": lambda c, f: queries.violations(c, f, ViolationFilter(T0, container=BAG)),
    "within": lambda c, f: queries.containers(c, f, ContainerFilter(), SCOPE),
    "due within": lambda c, f: queries.containers(c, f, ContainerFilter(due_before=T0), SCOPE),
    "wrong within": lambda c, f: queries.violations(c, f, ViolationFilter(T0), SCOPE),
    "counts within": lambda c, f: queries.violation_counts(c, f, LONG_AFTER, SCOPE),
    "consignments within": lambda c, f: queries.cargo(c, f, None, None, 100, SCOPE),
    "units": lambda c, f: units_of(c, f, [BAG, CART]),
}


def ask(store: Store, facility: str, question: Ask) -> Any:
    """Give the answer to a question."""
    with store.reading() as connection:
        return question(connection, facility)


def plans(store: Store, facility: str, question: Ask) -> list[str]:
    """How SQLite goes about the question: EXPLAIN QUERY PLAN of each of its statements."""
    with store.database.writing(facility) as connection:
        if connection.dialect.name != "sqlite":
            pytest.skip("the plans are SQLite's")
        driver = connection.connection.driver_connection
        assert driver is not None
        sent: dict[str, None] = {}  # as the driver sends them, values and all
        driver.set_trace_callback(lambda statement: sent.setdefault(statement))
        question(connection, facility)
        driver.set_trace_callback(None)
        asked = [statement for statement in sent if not statement.startswith("--")]  # a trigger's
        return [
            row[3]
            for statement in asked
            for row in driver.execute(f"EXPLAIN QUERY PLAN {statement}")
            if "json_each" not in row[3]  # the values that were told, no table
        ]


@pytest.fixture
def busy(store: Store, facility: str) -> str:
    """A facility where a bag was handled well, one with nearly every fault, one is under way."""
    wrong = (
        Story("BAG-2", "yellow-c")
        .sealed(T0, closed=False, weight_g=3_000)
        .packed(T0 + HOUR)
        .dispatched(T0 + 60 * HOUR, CART, seal=None)
        .all_received(T0 + 70 * HOUR)
        .amended(T0 + 71 * HOUR, "registered", weight_g=3_100)
    )
    going = Story("BAG-3", "yellow-c").sealed(T0).dispatched(T0 + HOUR, consignment="C-9")
    for story in (handled_well(T0, "yellow-c"), wrong, going):
        store.append(facility, story.entries)
    return facility


def test_what_is_due_is_read_from_the_index_of_due_times(store: Store, busy: str) -> None:
    """The cost is that of the answer, not of the store."""
    for name in ("due", "due, next page"):
        assert any("USING INDEX ix_container_due" in p for p in plans(store, busy, LISTS[name]))


def test_a_next_page_begins_in_the_index_where_the_last_one_ended(store: Store, busy: str) -> None:
    """Among 100,000 that are open, a minute's look reads what came due in it, not all before."""
    due = plans(store, busy, LISTS["due, next page"])
    assert any("ix_container_due (facility=? AND due_at>? AND due_at<?)" in p for p in due), due
    wrong = plans(store, busy, LISTS["wrong, next page"])
    assert any("(facility=? AND opened_at>? AND opened_at<?)" in p for p in wrong), wrong


def test_a_seal_and_what_is_under_way_are_read_from_indexes(store: Store, busy: str) -> None:
    """Of 18,000 that were carried, a seal in 0.3 ms instead of 4, the others in 0.02 ms."""
    by_seal = plans(store, busy, LISTS["under a seal"])
    for index in ("ix_carried_seal", "ix_carried_seal_received"):
        assert any(f"COVERING INDEX {index} " in p for p in by_seal), by_seal
    under_way = plans(store, busy, QUESTIONS["under_way"])
    assert any("COVERING INDEX ix_carried_under_way" in p for p in under_way), under_way


def test_a_scope_is_asked_of_each_row_by_its_key(store: Store, busy: str) -> None:
    """What it was carried in is found by the container, not by reading all that was carried."""
    for name in ("within", "wrong within", "consignments within"):
        found = plans(store, busy, LISTS[name])
        for table, key in (
            ("journey", "(facility=? AND container=?)"),
            ("went", "(facility=? AND consignment=? AND container=? AND left_at=?)"),
            ("held", "(facility=? AND container=?)"),
        ):
            searched = [p for p in found if f"SEARCH {table} " in p]
            assert all(p.endswith(key) for p in searched), found
            assert searched or (name, table) == ("within", "held"), found


def test_of_the_whole_nothing_more_is_asked(store: Store, busy: str) -> None:
    """No condition, no other table."""
    for name in ("containers", "violations", "violation_counts", "cargo"):
        assert not any("went" in p or "held" in p for p in plans(store, busy, QUESTIONS[name]))


def test_the_unit_is_that_of_the_registration_that_holds(store: Store, facility: str) -> None:
    """None for a cart, a label or what is not known; the corrected one where it was corrected."""
    story = Story(category="yellow-c").labelled(T0, "LABEL").sealed(T0, BAG).sealed(T0, "BAG-2")
    story.amended(T0 + HOUR, "registered", unit="theatre").packed(T0, BAG)
    store.append(facility, story.entries)
    asked = [BAG, "BAG-2", "LABEL", CART, "UNKNOWN"]
    found = ask(store, facility, lambda c, f: units_of(c, f, asked))
    assert found == {BAG: "ward-3", "BAG-2": "theatre"}
    assert ask(store, new_facility(store), lambda c, f: units_of(c, f, asked)) == {}


def test_the_versions_of_an_event_are_all_that_was_said_of_it(store: Store, facility: str) -> None:
    """As first told, then each correction; one may come first; a striking out says nothing."""
    story = bag("yellow-c").weighed(T0, 900).amended(T0, "weighed", weight_g=800)
    weighed = story.entries[0].event.id
    story.amended(T0 + HOUR, "weighed", weight_g=700).voided(T0 + HOUR, "weighed")
    store.append(facility, story.entries)
    early = bag("yellow-c").weighed(T0, 500).amended(T0, "weighed", weight_g=400)
    store.append(facility, early.entries[1:])
    ids = [weighed, early.entries[0].event.id]
    found = ask(store, facility, lambda c, f: Entries(c, f).versions([*ids, UUID(int=1)]))
    assert {i: [e.weight_g for e in said] for i, said in found.items()} == {
        ids[0]: [900, 800, 700],
        ids[1]: [400],
    }


def test_a_scan_of_a_cart_does_not_read_its_past_trips(store: Store, busy: str) -> None:
    """What is in it now is a range of an index by the end of stays, however many there were."""
    told = Story().stored(T0 + 90 * HOUR, CART)
    rules = store.rules(busy)
    found = plans(store, busy, lambda c, f: append(c, f, rules, Entries(c, f), told.entries))
    of_parents = [p for p in found if "stay" in p and "parent=?" in p]
    assert of_parents
    assert all("parent=? AND until_at" in p for p in of_parents)


@pytest.mark.parametrize("name", [*QUESTIONS, *LISTS])
def test_no_question_reads_a_whole_table(store: Store, busy: str, name: str) -> None:
    """Each is answered by way of an index that begins with the facility."""
    found = plans(store, busy, (QUESTIONS | LISTS)[name])
    assert found
    assert [p for p in found if p.startswith("SCAN")] == []
    assert all("facility=?" in p for p in found if p.startswith("SEARCH"))


def test_violations_are_shown_as_they_stood_at_a_moment(store: Store, facility: str) -> None:
    """Before it opened, while it stood, and after it closed; at the limit is not yet late."""
    story = bag("yellow-c").sealed(T0).treated(T0 + 60 * HOUR)
    store.append(facility, story.entries)
    due = T0 + 48 * HOUR  # BMW Rules 2016 (India), rule 8(7): no untreated waste beyond 48 hours

    def shown(moment: Any, **said: Any) -> list[str]:
        asked = ViolationFilter(moment, container=BAG, **said)
        found = ask(store, facility, lambda c, f: queries.violations(c, f, asked))
        return [v.code.value for _, v in found if v.code.value.startswith("holding")]

    assert shown(due - 7 * HOUR) == []
    assert shown(due) == ["holding.near"]
    assert shown(due + timedelta(seconds=1)) == ["holding.exceeded"]
    assert shown(T0 + 60 * HOUR) == []
    assert shown(T0 + 60 * HOUR, standing=False) == ["holding.near", "holding.exceeded"]
    assert shown(T0 + 60 * HOUR, standing=False, opened_from=due) == ["holding.exceeded"]


def test_counts_agree_with_the_list_at_every_moment(store: Store, busy: str) -> None:
    """How many had opened, and how many stood."""
    for hours in (0, 1, 47, 49, 61, 71, 900):
        moment = T0 + hours * HOUR
        counted = ask(store, busy, lambda c, f, m=moment: queries.violation_counts(c, f, m))
        for standing, place in ((False, 2), (True, 3)):
            asked = ViolationFilter(moment, standing=standing)
            listed = ask(store, busy, lambda c, f, a=asked: queries.violations(c, f, a))
            codes = [v.code.value for _, v in listed]
            assert {row[0]: row[place] for row in counted if row[place]} == {
                code: codes.count(code) for code in codes
            }


def test_pages_give_every_row_once_where_keys_are_equal(store: Store, facility: str) -> None:
    """Seven bags sealed at one instant, three to a page: by id, by due time, by opening."""
    bags = [f"BAG-{n}" for n in range(7)]
    story = Story(category="yellow-c")
    for container in bags:
        story.sealed(T0, container, closed=False, fill_fraction="0.9")
        story.dispatched(T0 + HOUR, container, consignment=f"C-{container}")
    store.append(facility, story.entries)

    def by_id(after: Any) -> Any:
        asked = ContainerFilter(after=after.container if after else None, limit=3)
        return ask(store, facility, lambda c, f: queries.containers(c, f, asked))

    def by_due(after: Any) -> Any:
        key = (after.container, after.due_at) if after else (None, None)
        asked = ContainerFilter(due_before=LONG_AFTER, after=key[0], after_due=key[1], limit=3)
        return ask(store, facility, lambda c, f: queries.containers(c, f, asked))

    def by_opening(after: Any) -> Any:
        key = (after[1].opened_at, after[1].container, after[0]) if after else None
        asked = ViolationFilter(LONG_AFTER, standing=False, after=key, limit=3)
        return ask(store, facility, lambda c, f: queries.violations(c, f, asked))

    def all_pages(page: Callable[[Any], Any]) -> list[Any]:
        found, after = [], None
        while rows := page(after):
            assert len(rows) <= 3
            found += rows
            after = rows[-1]
        return found

    assert [r.container for r in all_pages(by_id)] == bags
    assert [r.container for r in all_pages(by_due)] == bags
    whole = ViolationFilter(LONG_AFTER, standing=False, limit=1_000)
    everything = ask(store, facility, lambda c, f: queries.violations(c, f, whole))
    assert len(everything) > 30
    assert all_pages(by_opening) == everything


def test_consignments_and_entries_come_page_by_page(store: Store, facility: str) -> None:
    """From the one after the last that was seen."""
    story = bag("yellow-c").sealed(T0)
    for number in range(5):
        story.dispatched(T0 + (number + 1) * HOUR, consignment=f"C-{number}")
    store.append(facility, story.entries)

    def cargo(after: str | None) -> list[str]:
        return list(ask(store, facility, lambda c, f: queries.cargo(c, f, None, after, 2)))

    assert cargo(None) == ["C-0", "C-1"]
    assert cargo("C-1") == ["C-2", "C-3"]
    assert cargo("C-3") == ["C-4"]
    assert cargo("C-4") == []
    entries = ask(store, facility, lambda c, f: queries.entries_after(c, f, 5, 100))
    assert [(seq, e.event.id) for seq, e in entries] == [
        (n, story.entries[n - 2].event.id) for n in (6, 7)
    ]


# --- facilities


def test_every_question_there_is_stands_in_the_list_above() -> None:
    """A new one is asked across facilities too."""
    public = {
        name
        for name, f in getmembers(queries, isfunction)
        if f.__module__ == queries.__name__ and not name.startswith("_")
    }
    assert public == {*QUESTIONS}


@pytest.mark.parametrize("name", QUESTIONS)
def test_a_facility_sees_nothing_of_another(store: Store, busy: str, name: str) -> None:
    """The same question is answered at one and finds nothing at the other."""
    empty = new_facility(store)
    assert ask(store, busy, QUESTIONS[name])
    assert not ask(store, empty, QUESTIONS[name])


def test_two_facilities_with_the_same_ids_do_not_touch_each_other(store: Store, busy: str) -> None:
    """The same bag, cart, consignment and event ids: each record and each row is its own."""
    before, held = exactly(store, busy), record(store, busy)
    other = new_facility(store)
    same = handled_well(T0, "yellow-c")
    same.entries = [e for _, e in ask(store, busy, QUESTIONS["entries_after"])]
    outcomes = store.append(other, same.entries)
    assert {o.outcome for o in outcomes} == {"recorded"}
    again = Story(category="yellow-c").all_received(T0 + 12 * HOUR).emptied(T0 + 3 * HOUR)
    again.amended(T0 + 90 * HOUR, "unpacked", containers=(BAG,)).lost(T0 + 91 * HOUR)
    store.append(other, again.entries)
    list(store.rebuild(other))
    assert (exactly(store, busy), record(store, busy)) == (before, held)
    assert exactly(store, other) != before
    assert store.entry(other, again.entries[0].event.id) is not None
    assert store.entry(busy, again.entries[0].event.id) is None
    assert store.known_ids(new_facility(store), [BAG]) == set()


def test_an_amendment_finds_no_original_in_another_facility(store: Store, busy: str) -> None:
    """An id of an event of theirs is an unknown id here."""
    [(_, theirs), *_] = ask(store, busy, QUESTIONS["entries_after"])
    here = new_facility(store)
    told = Story(entries=[theirs]).voided(T0 + HOUR, theirs.event.kind).entries[1]
    before = exactly(store, busy)
    store.append(here, [told])
    assert exactly(store, busy) == before


def test_a_client_of_one_facility_is_revoked_there_alone(store: Store, facility: str) -> None:
    """Though another has a client of the same name."""
    other = new_facility(store)
    for where in (facility, other):
        tablet = Caller(where, "tablet", Role.WARD)
        with store.changing(where) as connection:
            identities.admit(connection, tablet, f"token of {where}", T0, T0 + HOUR)
    with store.changing(facility) as connection:
        assert identities.revoke(connection, facility, "tablet", T0) == 1
        assert identities.client_of(connection, f"token of {facility}", T0) is None
        held = identities.client_of(connection, f"token of {other}", T0)
    assert held == Caller(other, "tablet", Role.WARD)
