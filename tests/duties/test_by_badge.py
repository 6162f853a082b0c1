"""People coming in by badge and PIN on a shared device."""

from dataclasses import replace
from typing import Any

import pytest

from service.access import passwords, throttle
from service.access.caller import Kind, Proof
from service.access.lifetimes import ACTIVATION
from service.access.passwords import UnfitSecretError
from service.custody.words import Role
from service.duties.attempts import SignInError, WaitError
from service.duties.signing_in import NewPinError
from service.store.store import Store
from tests.api.client import NOON
from tests.duties.desk import Desk
from tests.duties.door import (
    BADGE,
    NEXT_PIN,
    PIN,
    WRONG_PIN,
    Door,
    at,
)


def test_badge_and_pin_let_in_on_an_enrolled_device(door: Door) -> None:
    """With the session bound to it."""
    person = door.add(badge=BADGE)
    found = door.scan()
    assert (found.person, found.caller.device, found.caller.proof) == (
        person,
        "icu-tablet",
        Proof.BADGE,
    )
    assert not door.stands(found.token)
    [entry] = door.entries("signed_in")
    assert (entry["actor"], entry["device"]) == (person.id, "icu-tablet")


def test_a_badge_may_be_typed(door: Door) -> None:
    """In small letters and groups, a letter for the digit that it looks like."""
    door.add(badge=BADGE)
    door.scan("7k3m9-q2x5t-8vlb4-n6por-stwy")


@pytest.mark.parametrize("kind", [Kind.PROGRAM, Kind.PERSON])
def test_a_badge_lets_in_on_nothing_else_than_a_device(door: Door, kind: Kind) -> None:
    """A program has no hands."""
    door.add(badge=BADGE)
    with pytest.raises(SignInError):
        door.scan(device=replace(door.device, kind=kind))


def test_a_badge_of_another_facility_is_unknown(door: Door, shared: Store) -> None:
    """Each has its own people."""
    door.add(badge=BADGE)
    with pytest.raises(SignInError):
        Door(Desk.at(shared)).scan()


@pytest.mark.parametrize("role", [Role.OFFICER, Role.ADMINISTRATOR, Role.INSPECTOR])
def test_who_may_do_more_does_not_come_in_by_badge(door: Door, role: Role) -> None:
    """Even where they still hold one from a former role."""
    door.add(role, badge=BADGE)
    with pytest.raises(SignInError):
        door.scan()


@pytest.mark.parametrize("said", [{"disabled_at": NOON}, {"valid_until": NOON}])
def test_who_was_shut_out_has_no_badge(door: Door, said: dict[str, Any]) -> None:
    """Told as a wrong PIN is; a first PIN tells no more."""
    door.add(badge=BADGE, first_until=NOON + ACTIVATION, **said)
    with pytest.raises(SignInError):
        door.scan()
    with pytest.raises(SignInError):
        door.scan(new_pin=NEXT_PIN)


def test_the_next_who_signs_in_on_a_device_signs_the_last_one_out(door: Door) -> None:
    """A shared telephone is in one pair of hands."""
    first = door.add(badge=BADGE)
    second = door.add(badge="X" * 24)
    door.scan()
    door.scan("X" * 24, after=5)
    assert (door.sessions(first, 5), door.sessions(second, 5)) == (0, 1)


def test_a_first_pin_asks_for_one_s_own(door: Door) -> None:
    """It lets nobody in; with a new one, the new one takes its place."""
    person = door.add(badge=BADGE, first_until=NOON + ACTIVATION)
    with pytest.raises(NewPinError):
        door.scan()
    assert door.sessions(person) == 0
    door.scan(new_pin=NEXT_PIN)
    with pytest.raises(SignInError):
        door.scan()
    door.scan(pin=NEXT_PIN)
    [entry] = door.entries("credential_set")
    assert entry["about"] == {"person": person.id, "credential": "pin", "sessions": 0}


def test_a_first_pin_that_was_not_used_in_time_is_no_pin(door: Door) -> None:
    """The badge is issued anew."""
    door.add(badge=BADGE, first_until=at(60))
    with pytest.raises(SignInError):
        door.scan(new_pin=NEXT_PIN, after=60)


@pytest.mark.parametrize(("new", "why"), [("12345678", "easily"), ("12", "8 to"), (PIN, "present")])
def test_a_new_pin_that_may_not_be_chosen_changes_nothing(door: Door, new: str, why: str) -> None:
    """It is said only to who knows the PIN, and costs no attempt."""
    door.add(badge=BADGE, first_until=NOON + ACTIVATION)
    with pytest.raises(SignInError):
        door.scan(pin=WRONG_PIN, new_pin=new)
    for _ in range(6):
        with pytest.raises(UnfitSecretError, match=why):
            door.scan(new_pin=new)
    door.scan(new_pin=NEXT_PIN)


def test_after_five_wrong_pins_the_badge_waits_on_that_device(door: Door) -> None:
    """2 s; on another device it does not."""
    door.add(badge=BADGE)
    for _ in range(5):
        with pytest.raises(SignInError):
            door.scan(pin=WRONG_PIN)
    with pytest.raises(WaitError) as told:
        door.scan()
    assert told.value.seconds == 2
    door.scan(device=door.tablet("theatre-tablet"))
    door.scan(after=2)


def test_many_badges_wait_on_one_device(door: Door) -> None:
    """Its own count; who comes in does not wipe it, but is not counted either."""
    door.add(badge=BADGE)
    for number in range(4):
        with pytest.raises(SignInError):
            door.scan(f"{number}" * 24)
    for second in range(8):
        door.scan(after=second)
    with pytest.raises(SignInError):
        door.scan("A" * 24, after=9)
    with pytest.raises(WaitError):
        door.scan(after=10)
    door.scan(after=11)


def test_a_ward_is_never_locked_out(door: Door, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever guesses for two hours, the right PIN is taken a minute later.

    After the first 8 a guess takes a minute: 1 448 a day of 100 000 000, 1.45 in 100 000.
    """
    door.add(badge=BADGE)
    monkeypatch.setattr(passwords, "matches", lambda _, pin: pin == PIN)
    monkeypatch.setattr(passwords, "outdated", lambda _: False)
    monkeypatch.setattr(throttle, "BY_ENTRY", replace(throttle.BY_ENTRY, free=0))
    clock, guesses = 0.0, 0
    while clock < 2 * 3600:
        try:
            door.scan(pin=WRONG_PIN, after=clock)
        except SignInError:
            guesses += 1
        except WaitError as told:
            assert told.seconds <= 60
            clock += told.seconds
    assert guesses == 8 + 2 * 60
    door.scan(after=clock + 60)
