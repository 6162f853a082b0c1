"""Passwords set and devices enrolled by a code for one use."""

from datetime import timedelta

import pytest

from service.access import secrets
from service.access.caller import Kind, Proof
from service.access.lifetimes import ACTIVATION, ENROLLED
from service.access.passwords import UnfitSecretError
from service.access.people import CredentialKind
from service.duties import signing_in
from service.duties.access import Shown, caller_of, holder_of
from service.duties.attempts import SignInError, WaitError
from service.ledger.leaf import instant
from service.store.store import Store
from tests.api.client import NOON
from tests.duties.desk import Desk
from tests.duties.door import (
    BADGE,
    GOOD,
    OTHER,
    Door,
    activate,
    at,
    at_once,
    enrol,
    invite,
)


def test_a_code_sets_a_password_once(door: Door) -> None:
    """However it is typed; the sessions of before end, the code is used up."""
    code = secrets.typed_code()
    person = door.add(activation=code)
    before = door.enter(person.id)
    assert activate(door, code.lower().replace("-", " "), OTHER) == person.id
    assert not door.stands(before.token)
    assert CredentialKind.ACTIVATION not in door.held(person)
    with pytest.raises(SignInError):
        activate(door, code)
    with pytest.raises(SignInError):
        door.enter(person.id)
    door.enter(person.id, OTHER)
    [entry] = door.entries("credential_set")
    assert entry["actor"] == person.id
    assert entry["about"] == {"person": person.id, "credential": "password", "sessions": 1}


def test_of_two_who_use_one_code_at_once_one_sets_the_password(door: Door) -> None:
    """The other is told that it is wrong."""
    code = secrets.typed_code()
    person = door.add(password=None, activation=code)
    chosen = [f"{GOOD} {word}" for word in ("amber", "birch", "cedar", "delta")]
    came = at_once(4, lambda n: activate(door, code, chosen[n]))
    assert came.count(person.id) == 1
    assert sum(isinstance(each, SignInError) for each in came) == 3
    door.enter(person.id, chosen[came.index(person.id)])


def test_a_password_that_may_not_be_chosen_leaves_the_code(door: Door) -> None:
    """The id of the person and the words of the place are known here."""
    code = secrets.typed_code()
    person = door.add(password=None, activation=code)
    name = door.store.rules(door.here).site.name.split()[0]
    for bad in ("short", f"{name} kettle otter gravel", f"{person.id} kettle otter gravel"):
        with pytest.raises(UnfitSecretError):
            activate(door, code, bad)
    assert activate(door, code) == person.id


def test_a_code_ends_after_a_day_and_with_its_holder(door: Door) -> None:
    """As one that never was."""
    late, out = secrets.typed_code(), secrets.typed_code()
    door.add(activation=late)
    door.add(activation=out, disabled_at=NOON)
    for code, after in ((late, ACTIVATION.total_seconds()), (out, 0), ("ABC", 0), ("\ud800", 0)):
        with pytest.raises(SignInError):
            activate(door, code, after=after)
    assert {*door.refusals()} == {("", "activation")}


def test_guesses_of_codes_wait(door: Door) -> None:
    """50 from one address, then one in 2 s."""
    for _ in range(50):
        with pytest.raises(SignInError):
            activate(door, "ABC")
    with pytest.raises(WaitError):
        activate(door, "ABC")


def test_a_device_comes_in_by_its_code_once(door: Door) -> None:
    """Then badges are taken on it, and a session opened on it is known with it alone."""
    door.add(badge=BADGE)
    code = invite(door)
    found = enrol(door, code.lower())
    assert (found.device.kind, found.device.name) == (Kind.DEVICE, "icu-tablet")
    with pytest.raises(SignInError):
        enrol(door, code)
    signed_in = door.scan(device=found.device)
    shown = Shown(session=signed_in.token, device=found.token)
    known = caller_of(door.store, shown, NOON)
    assert known is not None
    assert (known.kind, known.proof) == (Kind.PERSON, Proof.BADGE)
    assert not door.stands(signed_in.token)
    [entry] = door.entries("device_enrolled")
    assert (entry["actor"], entry["request"]) == ("icu-tablet", "r-1")


def test_of_two_devices_with_one_code_one_comes_in(door: Door) -> None:
    """Even at once."""
    code = invite(door)
    came = at_once(4, lambda _: enrol(door, code))
    assert sum(isinstance(each, signing_in.Enrolled) for each in came) == 1
    assert sum(isinstance(each, SignInError) for each in came) == 3


def test_a_device_s_code_ends_after_a_day_and_holds_for_its_facility(
    door: Door, shared: Store
) -> None:
    """As one that never was."""
    code = invite(door)
    for where, after in ((door, ACTIVATION.total_seconds()), (Door(Desk.at(shared)), 0)):
        with pytest.raises(SignInError):
            enrol(where, code, after)
    enrol(door, code)


def test_a_device_that_comes_in_again_is_one_device(door: Door) -> None:
    """What was enrolled under its name before is out, with who was signed in on it; others stay."""
    person = door.add(badge=BADGE)
    first, other = enrol(door, invite(door)), enrol(door, invite(door, "theatre-tablet"))
    before = door.scan(device=first.device)
    again = enrol(door, invite(door), after=5)
    assert not door.stands(before.token, 5, first.token)
    assert door.sessions(person, 5) == 0
    known = [holder_of(door.store, each.token, at(5)) for each in (first, other, again)]
    assert [each.name if each else None for each in known] == [None, "theatre-tablet", "icu-tablet"]
    entry = door.entries("device_enrolled")[-1]
    assert entry["about"] == {"until": instant(again.expires_at), "sessions": 1}


def test_an_enrolled_device_stays_known_for_a_year(door: Door) -> None:
    """Not at the instant itself."""
    found = enrol(door, invite(door))
    last = found.expires_at - timedelta(seconds=1)
    assert found.expires_at == NOON + ENROLLED == NOON + timedelta(days=365)
    assert holder_of(door.store, found.token, last) is not None
    assert holder_of(door.store, found.token, found.expires_at) is None
