"""How far a scope reaches: what somebody lists is what they can look up, by one rule."""

from datetime import timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.access.caller import WHOLE, Caller, Scope
from service.access.reading import reaches
from service.custody.events import EVENT, Amended, Entry, Event
from service.custody.history import fold
from service.custody.identifiers import MalformedIdError
from service.custody.journeys import journeys as journeys_of
from service.custody.rules import Rules
from service.custody.standing import stand
from service.custody.words import Role
from service.duties import lookup, ward
from service.duties.lookup import ContainerFilter, NotFoundError, ViolationFilter
from service.store.store import Store
from tests.api.client import NOON, event, ids, sealed
from tests.duties.desk import Desk
from tests.pace import tries
from tests.store.record import named, new_facility
from tests.store.test_any_arrival import BAGS, T0, journeys
from tests.trade import Story

[ICU_BAG, THEATRE_BAG, BLANK, CART, THIRD] = ids(5)
LATER = NOON + timedelta(days=30)
PLANT = Scope(parties=frozenset({"plant-kiln"}))
CARRIER = Scope(parties=frozenset({"carrier-quillow"}))


def within(desk: Desk, scope: Scope, role: Role = Role.WARD) -> Caller:
    """A caller who reaches so far."""
    return Caller(desk.facility, "somebody", role, scope)


def of_unit(unit: str) -> Scope:
    """The reach of a ward."""
    return Scope(units=frozenset({unit}))


def listed(desk: Desk, scope: Scope) -> set[str]:
    """The containers in the list."""
    rows = lookup.containers(desk.store, within(desk, scope), ContainerFilter())
    return {row.container for row in rows}


@pytest.fixture
def two_wards(desk: Desk) -> Desk:
    """A bag of each of two wards, both open and in one cart; only that of the ICU left."""
    other = desk.store.rules(desk.facility).site.unit[1].id
    assert other != "icu"
    desk.tell(
        sealed(ICU_BAG, closed=False),
        sealed(THEATRE_BAG, unit=other, closed=False),
        event("labelled", BLANK, count=1, layout="a4-8"),
        event("packed", ICU_BAG, THEATRE_BAG, parent=CART),
        event(
            "dispatched", ICU_BAG,
            consignment="C-1", carrier="carrier-quillow", consignee="plant-kiln",
        ),
    )  # fmt: skip
    return desk


def test_a_ward_sees_its_own_waste_and_what_is_nobodys(two_wards: Desk) -> None:
    """Labels that are not used yet, and carts; not the bag of another ward."""
    assert listed(two_wards, of_unit("icu")) == {ICU_BAG, BLANK, CART}
    assert listed(two_wards, of_unit("nowhere")) == {BLANK, CART}
    assert listed(two_wards, WHOLE) == {ICU_BAG, THEATRE_BAG, BLANK, CART}


def test_a_carrier_and_a_plant_see_what_went_with_or_to_them(two_wards: Desk) -> None:
    """The plant before it holds anything, the carrier when it holds nothing any more."""
    assert listed(two_wards, CARRIER) == listed(two_wards, PLANT) == {ICU_BAG, BLANK, CART}
    two_wards.tell(event("received", ICU_BAG, party="plant-kiln", consignment="C-1"))
    assert listed(two_wards, CARRIER) == {ICU_BAG, BLANK, CART}


def test_who_holds_a_container_sees_it_however_it_came(two_wards: Desk) -> None:
    """Until another does."""
    team = Scope(parties=frozenset({"porters"}))
    assert THEATRE_BAG not in listed(two_wards, team)
    two_wards.tell(event("collected", THEATRE_BAG, from_party="x", to_party="porters"))
    assert THEATRE_BAG in listed(two_wards, team)
    two_wards.tell(event("collected", THEATRE_BAG, from_party="porters", to_party="others"))
    assert THEATRE_BAG not in listed(two_wards, team)


def test_what_is_out_of_reach_is_told_in_the_words_of_what_is_not_there(two_wards: Desk) -> None:
    """A container, a consignment, one with a typed id, a label to be printed."""
    store, icu = two_wards.store, within(two_wards, of_unit("icu"))
    words = "nothing is on record about container "
    for container in (THEATRE_BAG, THIRD):
        for act in (
            lambda c=container: lookup.container(store, icu, c, NOON),
            lambda c=container: lookup.container_typed(store, icu, c.lower(), NOON),
            lambda c=container: ward.filled_labels(
                store, icu, [ICU_BAG, c], "a4-8", "https://custody.example", NOON
            ),
        ):
            with pytest.raises(NotFoundError) as told:
                act()
            assert str(told.value) == words + container
    nowhere = within(two_wards, of_unit("nowhere"))
    for name in ("C-1", "C-9"):
        with pytest.raises(NotFoundError) as told:
            lookup.consignment(store, nowhere, name)
        assert str(told.value) == f"no consignment {name} left here"
    assert lookup.consignments(store, nowhere, None, 10) == []
    assert lookup.consignment(store, icu, "C-1").totals.containers == 1


def test_a_false_label_out_of_reach_is_told_as_a_slip_of_the_pen(two_wards: Desk) -> None:
    """As it is where no label bore that id."""
    wrong = f"{THIRD[:-1]}{'2' if THIRD[-1] != '2' else '3'}"
    two_wards.tell(sealed(f"HTTPS://CUSTODY.EXAMPLE/{wrong}/0000000", unit="icu"))
    seen = within(two_wards, of_unit("icu"))
    assert lookup.container_typed(two_wards.store, seen, wrong, NOON).standing.container == wrong
    with pytest.raises(MalformedIdError, match="check character"):
        lookup.container_typed(two_wards.store, within(two_wards, of_unit("x")), wrong, NOON)


def test_of_a_consignment_the_part_within_is_shown(two_wards: Desk) -> None:
    """Its figures are those of that part."""
    two_wards.tell(
        event(
            "dispatched", THEATRE_BAG,
            consignment="C-1", carrier="carrier-quillow", consignee="plant-kiln",
        )
    )  # fmt: skip
    for scope, number in ((of_unit("icu"), 1), (PLANT, 2), (WHOLE, 2)):
        found = lookup.consignment(two_wards.store, within(two_wards, scope), "C-1")
        assert found.totals.containers == number
        assert lookup.consignments(two_wards.store, within(two_wards, scope), None, 9) == [found]


def test_violations_and_their_counts_are_of_what_is_within(two_wards: Desk) -> None:
    """Each ward is told of its own open bag."""
    for scope, number in ((of_unit("icu"), 1), (of_unit("nowhere"), 0), (WHOLE, 2)):
        caller = within(two_wards, scope)
        asked = ViolationFilter(NOON, code="packing.open")
        assert len(lookup.violations(two_wards.store, caller, asked)) == number
        counts = {row[0]: row[2] for row in lookup.violation_counts(two_wards.store, caller, NOON)}
        assert counts.get("packing.open", 0) == number


# --- any story, any scope

UNITS = ["ward-3", "theatre", "closed-since"]
PARTIES = ["handlers", "haulier", "plant", "hub"]
_PARTY_FIELDS = ("to_party", "carrier", "consignee", "party")

scopes = st.builds(
    Scope,
    st.frozensets(st.sampled_from(UNITS), max_size=1),
    st.frozensets(st.sampled_from(PARTIES), max_size=2),
).filter(lambda scope: not scope.whole)


@st.composite
def stories(draw: st.DrawFn) -> list[Entry]:
    """Journeys of containers of several units, by and to several parties."""

    def elsewhere(told: Event) -> dict[str, Any]:
        said: dict[str, Any] = told.model_dump()
        if "unit" in said:
            said["unit"] = draw(st.sampled_from(UNITS))
        for name in _PARTY_FIELDS:
            if name in said:
                said[name] = draw(st.sampled_from(PARTIES))
        if isinstance(told, Amended) and told.corrected is not None:
            said["corrected"] = elsewhere(told.corrected)
        return said

    usual, hour = Story(category="yellow-c"), timedelta(hours=1)
    for container in draw(st.sets(st.sampled_from(BAGS), min_size=1)):
        usual.sealed(T0, container)
        for number in range(draw(st.integers(0, 2))):
            usual.dispatched(T0 + number * hour, container, consignment=f"C-{number}")
        if draw(st.booleans()):
            usual.collected(T0 + 3 * hour, container)
    return [
        Entry(EVENT.validate_python(elsewhere(e.event)), e.recorded_at, e.clock_offset_s)
        for e in (*usual.entries, *draw(st.just([]) | journeys()))
    ]


def by_the_rule(entries: list[Entry], rules: Rules, scope: Scope) -> set[str]:
    """The containers that the rule lets somebody see, from a fold of everything."""
    seen = set()
    for container in named(entries):
        history = fold(container, entries)
        standing = stand(history, rules)
        went = [
            p for j in journeys_of(history) for p in (j.departure.carrier, j.departure.consignee)
        ]
        if reaches(scope, standing.unit, standing.custodian, went):
            seen.add(container)
    return seen


@settings(
    deadline=None,
    derandomize=True,
    max_examples=tries(60),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
@given(stories(), st.lists(scopes, min_size=1, max_size=4, unique=True))
def test_what_is_listed_is_what_can_be_looked_up(
    shared: Store, entries: list[Entry], several: list[Scope]
) -> None:
    """And what the rule says, of containers, violations, counts and consignments alike."""
    facility = new_facility(shared)
    shared.append(facility, entries)
    rules = shared.rules(facility)
    whole = Caller(facility, "officer", Role.OFFICER)
    everything = lookup.violations(shared, whole, ViolationFilter(LATER, standing=False, limit=999))
    cargo = [row for c in lookup.consignments(shared, whole, None, 99) for row in c.cargo]
    for scope in (*several, WHOLE):
        caller = Caller(facility, "somebody", Role.WARD, scope)
        rows = lookup.containers(shared, caller, ContainerFilter())
        seen = {row.container for row in rows}
        assert seen == by_the_rule(entries, rules, scope)
        for container in named(entries):
            assert can_look_up(shared, caller, container) == (container in seen)

        found = lookup.violations(shared, caller, ViolationFilter(LATER, standing=False, limit=999))
        assert found == [(n, v) for n, v in everything if v.container in seen]
        counts = lookup.violation_counts(shared, caller, LATER)
        codes = [v.code.value for _, v in found]
        assert {row[0]: row[2] for row in counts} == {code: codes.count(code) for code in codes}

        left = lookup.consignments(shared, caller, None, 99)
        assert [row for c in left for row in c.cargo] == [r for r in cargo if r.container in seen]
        assert left == [lookup.consignment(shared, caller, c.id) for c in left]


def can_look_up(store: Store, caller: Caller, container: str) -> bool:
    """Whether a container is there for the caller."""
    try:
        lookup.container(store, caller, container, LATER)
    except NotFoundError:
        return False
    return True
