"""Who may write an event: in whose name, of which kinds, of whose waste."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from service.access.caller import Caller, Kind, Scope
from service.access.people import Person
from service.access.recording import OnRecord, named_people, refusal
from service.custody.events import Amended, Entry
from service.custody.words import Role
from tests.house import hospital
from tests.trade import BAG, CART, Story, at, bag

T0 = at("2026-07-06 08:00")
HOUR = timedelta(hours=1)
SITE = hospital()
NURSE = Person("hill", "p-nurse", "N.", Role.WARD)
COLLEAGUE = Person("hill", "p-colleague", "C.", Role.WARD)
PORTER = Person("hill", "p-porter", "P.", Role.HANDLER)
OFFICER = Person("hill", "p-officer", "O.", Role.OFFICER)
PEOPLE = {p.id: p for p in (NURSE, COLLEAGUE, PORTER, OFFICER)}

TABLET = Caller("hill", "tablet", Role.WARD, kind=Kind.DEVICE, device="tablet")
AT_A_DESK = Caller("hill", "p-nurse", Role.WARD, kind=Kind.PERSON)
ON_THE_TABLET = replace(AT_A_DESK, device="tablet")

ICU = Scope(units=frozenset({"ward-3"}))
TEAM = Scope(parties=frozenset({"handlers"}))


def program(role: Role = Role.OFFICER, scope: Scope = ICU) -> Caller:
    """A program of a role with some reach."""
    return Caller("hill", "scales", role, scope)


def why(caller: Caller, story: Story, **known: Any) -> str:
    """The refusal of the last event told."""
    known_of = OnRecord(**({"people": PEOPLE} | known))
    return refusal(caller, story.entries[-1], known_of, SITE)


# --- in whose name


def test_a_program_answers_for_whom_it_names() -> None:
    """Anybody, known or not; its own role counts."""
    story = bag().sealed(T0, actor="whoever it was")
    assert why(Caller("hill", "scales", Role.WARD), story) == ""
    told = why(Caller("hill", "scales", Role.PLANT), story)
    assert told == "a token for plant may not record 'registered'"


def test_who_is_signed_in_at_a_desk_writes_in_their_own_name() -> None:
    """Not in a colleague's, not under a free name; what was written is not repeated."""
    assert why(AT_A_DESK, bag().sealed(T0, actor="p-nurse")) == ""
    for actor in ("p-colleague", "p-officer", "John at bed 4"):
        told = why(AT_A_DESK, bag().sealed(T0, actor=actor))
        assert told == "an event is recorded in one's own name: the actor is p-nurse"


@pytest.mark.parametrize("caller", [TABLET, ON_THE_TABLET])
def test_a_shared_device_hands_on_what_colleagues_did(caller: Caller) -> None:
    """Each under their own role: a porter's collection waited on the ward's tablet."""
    assert why(caller, bag().sealed(T0, actor="p-colleague")) == ""
    assert why(caller, bag().collected(T0, actor="p-porter")) == ""
    told = why(caller, bag().collected(T0, actor="p-colleague"))
    assert told == "who is known as ward may not record 'collected'"


@pytest.mark.parametrize("caller", [TABLET, ON_THE_TABLET])
@pytest.mark.parametrize("actor", ["tablet", "nobody-known", "p-officer"])
def test_a_shared_device_names_only_who_can_sign_in_there(caller: Caller, actor: str) -> None:
    """Not itself, no stranger, and no officer: a stolen tablet must not lend their power."""
    told = why(caller, bag().sealed(T0, actor=actor))
    assert "nobody who could sign in on this device" in told
    assert actor not in told


@pytest.mark.parametrize("end", ["disabled_at", "valid_until"])
def test_who_was_shut_out_since_did_what_came_before(end: str) -> None:
    """Up to that instant, by the time of happening with a wrong clock put right."""
    gone = PEOPLE | {"p-colleague": replace(COLLEAGUE, **{end: T0})}
    before = bag().sealed(T0 - timedelta(microseconds=1), actor="p-colleague")
    assert why(TABLET, before, people=gone) == ""
    assert "could sign in on this device then" in why(
        TABLET, bag().sealed(T0, actor="p-colleague"), people=gone
    )
    fast = bag().sealed(T0 + HOUR, actor="p-colleague", clock_offset_s=7_200)
    assert why(TABLET, fast, people=gone) == ""


def test_those_to_be_looked_up_are_no_more_than_needed() -> None:
    """Nobody for a program or at a desk; on a device all but who is signed in."""
    told = bag().sealed(T0, actor="p-nurse").weighed(T0, 900, actor="p-porter")
    told.amended(T0, "weighed", actor="p-colleague")  # told by the handler
    events = [e.event for e in told.entries]
    assert named_people(program(), events) == set()
    assert named_people(AT_A_DESK, events) == set()
    assert named_people(ON_THE_TABLET, events) == {"p-porter", "p-colleague", "handler"}
    assert named_people(TABLET, events) == named_people(ON_THE_TABLET, events) | {"p-nurse"}


# --- of whose waste: units


def test_a_ward_registers_its_own_waste() -> None:
    """And not in the name of another unit."""
    assert why(program(), bag().sealed(T0, unit="ward-3")) == ""
    told = why(program(), bag().sealed(T0, unit="theatre"))
    assert told == "the unit is none of those you act for: ward-3"


@pytest.mark.parametrize("kind", ["weighed", "packed", "lost", "collected", "spilled", "treated"])
def test_a_ward_writes_of_its_own_containers_and_of_nobodys(kind: str) -> None:
    """Of none that another unit registered."""
    said = {"weight_g": 900} if kind == "weighed" else {}
    story = bag().tell(kind, T0, **said)
    assert why(program(), story) == ""
    assert why(program(), story, units={BAG: "ward-3"}) == ""
    told = why(program(), story, units={BAG: "theatre"})
    assert told == f"container {BAG} is of a unit you do not act for"
    assert why(program(scope=Scope()), story, units={BAG: "theatre"}) == ""
    surgery = Scope(units=frozenset({"theatre", "recovery"}))
    assert why(program(scope=surgery), story, units={BAG: "theatre"}) == ""
    assert "do not act for" in why(program(scope=surgery), story, units={BAG: "ward-3"})


def test_a_parent_that_was_registered_is_a_container_too() -> None:
    """As the bag that goes into it."""
    story = bag().packed(T0)
    assert f"container {CART}" in why(program(), story, units={CART: "theatre"})


# --- of whose waste: parties


@pytest.mark.parametrize(
    ("kind", "own", "others"),
    [
        ("collected", {"to_party": "handlers"}, {"to_party": "hub"}),
        ("stored", {"store": "yard-store"}, {"store": "hub-floor"}),
        ("received", {"party": "handlers"}, {"party": "plant"}),
        ("refused", {"party": "handlers"}, {"party": "plant"}),
        ("treated", {"party": "handlers"}, {"party": "plant"}),
        ("disposed", {"party": "handlers"}, {"party": "plant"}),
    ],
)
def test_a_party_tells_what_it_did_itself(
    kind: str, own: dict[str, str], others: dict[str, str]
) -> None:
    """Of any container it has in hand; for another party it does not speak."""
    of_others = {BAG: "theatre"}
    assert why(program(scope=TEAM), bag().tell(kind, T0, **own), units=of_others) == ""
    told = why(program(scope=TEAM), bag().tell(kind, T0, **others))
    assert told == "the party that acts is none of those you act for: handlers"


@pytest.mark.parametrize(
    "kind", ["packed", "unpacked", "dispatched", "lost", "found", "spilled", "registered"]
)
def test_what_names_no_party_is_any_partys_to_tell(kind: str) -> None:
    """Whoever holds a container, rightly or not, can say what became of it."""
    assert why(program(scope=TEAM), bag().tell(kind, T0), units={BAG: "theatre"}) == ""


def test_who_acts_for_a_unit_and_a_party_does_so_for_either() -> None:
    """More to act for never takes anything away."""
    both = Scope(ICU.units, TEAM.parties)
    of_both = program(scope=both)
    theirs = {BAG: "theatre"}
    assert why(of_both, bag().collected(T0, to_party="handlers"), units=theirs) == ""
    assert why(of_both, bag().collected(T0, to_party="hub"), units={BAG: "ward-3"}) == ""
    assert "container" in why(of_both, bag().collected(T0, to_party="hub"), units=theirs)


# --- amendments


def versions(*entries: Entry) -> dict[Any, Any]:
    """What is on record of the event that the last entry amends."""
    amendment = entries[-1].event
    assert isinstance(amendment, Amended)
    told = [e.event.corrected if isinstance(e.event, Amended) else e.event for e in entries[:-1]]
    return {amendment.supersedes: tuple(told)}


def test_who_may_not_record_an_act_neither_corrects_it_nor_strikes_it_out() -> None:
    """By what was first told, by what a correction made of it, and by what it is to become."""
    ward = Caller("hill", "scales", Role.WARD)
    treated = bag().treated(T0).voided(T0, "treated")
    assert why(ward, treated) == "", "of what is not known yet nothing can be said"
    told = why(ward, treated, versions=versions(*treated.entries))
    assert told == "a token for ward may not amend 'treated'"
    become = bag().weighed(T0, 900).amended(T0, "weighed", weight_g=800).voided(T0, "weighed")
    assert why(ward, become, versions=versions(*become.entries)) == ""
    inspector = Caller("hill", "scales", Role.INSPECTOR)
    assert "may not record 'amended'" in why(inspector, become)


def test_a_ward_corrects_nothing_of_another_and_gives_nothing_away() -> None:
    """Neither what was registered there, nor by saying that its own was registered there."""
    theirs = bag().sealed(T0, unit="theatre").voided(T0, "registered")
    assert why(program(), theirs) == ""
    assert "none of those" in why(program(), theirs, versions=versions(*theirs.entries))
    given = bag().sealed(T0).amended(T0, "registered", unit="theatre")
    assert "none of those" in why(program(), given, versions=versions(*given.entries))
    own = bag().sealed(T0).amended(T0, "registered", closed=False)
    assert why(program(), own, versions=versions(*own.entries)) == ""
    became = bag().sealed(T0).amended(T0, "registered", unit="theatre")
    became.voided(T0, "registered")
    assert "none of those" in why(program(), became, versions=versions(*became.entries))


def test_a_correction_leaves_the_actor_or_names_one_that_may_be_named() -> None:
    """Nobody puts an act on a colleague by way of an amendment."""
    told = bag().weighed(T0, 900, actor="p-porter")
    kept = replace_actor(told, "p-porter")
    assert why(AT_A_DESK, kept, versions=versions(*kept.entries)) == ""
    own = replace_actor(told, "p-nurse")
    assert why(AT_A_DESK, own, versions=versions(*own.entries)) == ""
    other = replace_actor(told, "p-colleague")
    assert "has another actor" in why(AT_A_DESK, other, versions=versions(*other.entries))
    assert "has another actor" in why(AT_A_DESK, kept), "what is not on record vouches for nobody"
    assert why(ON_THE_TABLET, other, versions=versions(*other.entries)) == ""


def replace_actor(story: Story, actor: str) -> Story:
    """The nurse amends the weighing: this actor did it."""
    again = Story(entries=list(story.entries))
    weighed = again.last("weighed").model_dump() | {"actor": actor}
    return again.tell(
        "amended",
        T0,
        supersedes=weighed["id"],
        reason="slip",
        corrected=weighed,
        actor="p-nurse",
    )
