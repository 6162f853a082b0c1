"""Looking up: one container, one consignment, a page of each, and what is not on record."""

import pytest

from service.custody.identifiers import MalformedIdError
from service.custody.words import Role
from service.duties import lookup
from service.duties.access import NotAllowedError
from service.duties.lookup import ContainerFilter, NotFoundError, ViolationFilter
from tests.api.client import NOON, event, ids, sealed
from tests.duties.desk import Desk

[BAG, OTHER, CART, THIRD] = ids(4)
WRONG = f"{BAG[:-1]}{'2' if BAG[-1] != '2' else '3'}"


def test_a_container_is_shown_with_its_past_and_what_is_wrong(desk: Desk) -> None:
    """As it stands, by which rules, and which violations had opened by then."""
    desk.tell(sealed(BAG, closed=False), event("packed", BAG, parent=CART))
    view = lookup.container(desk.store, desk.caller(), BAG, NOON)
    assert view.standing.state == "registered"
    assert view.standing.parent == CART
    assert [h.event.kind for h in view.history.happened] == ["registered", "packed"]
    assert [v.code.value for v in view.violations] == ["packing.open"]
    assert view.rules.site.id == desk.facility


def test_a_cart_is_shown_though_nothing_is_known_of_it_but_what_it_carried(desk: Desk) -> None:
    """Its label opens something."""
    desk.tell(sealed(BAG), event("packed", BAG, parent=CART))
    assert lookup.container(desk.store, desk.caller(), CART, NOON).history.carries


def test_a_container_whose_only_event_was_struck_out_is_still_found(desk: Desk) -> None:
    """With the amendment: a record that was taken back is not the same as no record."""
    said = sealed(BAG)
    struck = event("amended", BAG, supersedes=said["id"], reason="no such bag")
    desk.tell(said, struck)
    view = lookup.container(desk.store, desk.caller(), BAG, NOON)
    assert view.standing.state == "unregistered"
    assert view.history.happened == ()
    assert [str(e.event.id) for e in view.history.amendments] == [struck["id"]]


def test_what_is_not_on_record_is_said_so(desk: Desk) -> None:
    """By name."""
    caller = desk.caller()
    with pytest.raises(NotFoundError, match=f"nothing is on record about container {BAG}"):
        lookup.container(desk.store, caller, BAG, NOON)
    with pytest.raises(NotFoundError, match="no consignment C-9 left here"):
        lookup.consignment(desk.store, caller, "C-9")
    with pytest.raises(NotFoundError, match=r"there is no regime 'moon'; there are: .*india-2016"):
        lookup.regime("moon")


def test_a_typed_id_is_read_or_its_fault_named(desk: Desk) -> None:
    """A slip of the pen is told as one, unless a false label bore just that id."""
    desk.tell(sealed(BAG))
    typed = f" {BAG[:4].lower()} {BAG[4:8]}-{BAG[8:]} "
    assert lookup.container_typed(desk.store, desk.caller(), typed, NOON).standing.container == BAG
    with pytest.raises(MalformedIdError, match="check character"):
        lookup.container_typed(desk.store, desk.caller(), WRONG, NOON)
    desk.tell(sealed(f"HTTPS://CUSTODY.EXAMPLE/{WRONG}/0000000"))
    found = lookup.container_typed(desk.store, desk.caller(), WRONG.lower(), NOON)
    assert found.standing.container == WRONG


def test_a_consignment_is_counted_and_weighed(desk: Desk) -> None:
    """One received 200 g lighter, one turned away, one under way and never weighed."""
    desk.tell(
        sealed(BAG, weight_g=3_400),
        sealed(OTHER, weight_g=2_000),
        sealed(THIRD, weight_g=None, scale=None),
        event(
            "dispatched",
            *(BAG, OTHER, THIRD),
            consignment="C-1",
            carrier="carrier-quillow",
            consignee="plant-kiln",
        ),
        event("received", BAG, party="plant-kiln", consignment="C-1", weight_g=3_200),
        event("refused", OTHER, party="plant-kiln", reason="leaks", consignment="C-1"),
    )
    found = lookup.consignment(desk.store, desk.caller(Role.HANDLER), "C-1")
    assert [row.container for row in found.received] == [BAG]
    totals = found.totals
    assert (totals.containers, totals.received, totals.refused, totals.under_way) == (3, 1, 1, 1)
    assert (totals.sent_g, totals.received_g) == (5_400, 3_200)
    assert (totals.weighed_twice, totals.difference_g) == (1, 200)
    assert lookup.consignments(desk.store, desk.caller(), None, 10) == [found]
    assert lookup.consignments(desk.store, desk.caller(), "C-1", 10) == []


def test_lists_are_of_the_callers_facility_alone(desk: Desk) -> None:
    """Another hospital in the same database sees none of it."""
    desk.tell(sealed(BAG, closed=False))
    there = Desk.at(desk.store)
    for here, number in ((desk, 1), (there, 0)):
        store, caller = here.store, here.caller()
        assert len(lookup.containers(store, caller, ContainerFilter())) == number
        assert len(lookup.violations(store, caller, ViolationFilter(NOON))) == number
        assert len(lookup.violation_counts(store, caller, NOON)) == number
        assert len(lookup.entries_after(store, caller, 0, 10)) == number


def test_only_who_may_read_all_reads_the_record(desk: Desk) -> None:
    """The duty itself says so, whatever door leads to it."""
    with pytest.raises(
        NotAllowedError, match="to read record is for administrator, inspector, officer"
    ):
        lookup.entries_after(desk.store, desk.caller(Role.WARD), 0, 10)


def test_the_rules_are_those_the_facility_is_set_up_with(desk: Desk) -> None:
    """And every regime that comes with the service can be read."""
    assert lookup.rules(desk.store, desk.caller()).regime.id == "india-2016"
    for name in lookup.regime_ids():
        assert lookup.regime(name).id == name
    assert lookup.answers(desk.store)
