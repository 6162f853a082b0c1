"""Attempts that fail are counted and waited for; the access log tells of them."""

import json
import threading

import pyotp
import pytest

from service.access import passwords
from service.custody.words import Role
from service.duties import attempts, own_credentials, signing_in
from service.duties.attempts import SignInError, WaitError
from service.store.faults import BusyError
from service.store.store import Store
from tests.api.client import NOON
from tests.duties.door import (
    BADGE,
    NEXT_PIN,
    OTHER,
    PIN,
    SOURCE,
    Door,
    at_once,
    code_at,
    fail,
    wrong_code,
)


def test_after_five_wrong_passwords_the_right_one_waits(door: Door) -> None:
    """2 s, and is told so; then it is taken, and all is as if nothing had been."""
    person = door.add()
    fail(door, 5, person.id)
    with pytest.raises(WaitError) as told:
        door.enter(person.id, after=0.5)
    assert told.value.seconds == 2
    door.enter(person.id, after=2)
    fail(door, 5, person.id, after=3)


def test_who_is_unknown_waits_as_long(door: Door) -> None:
    """Or it would tell who is known."""
    fail(door, 5, "p-nobody")
    with pytest.raises(WaitError) as told:
        door.enter("p-nobody", after=0.5)
    assert told.value.seconds == 2


def test_other_spellings_of_an_id_are_one_person(door: Door) -> None:
    """Or capitals would gain guesses."""
    person = door.add().id
    fail(door, 3, person)
    fail(door, 2, person.upper())
    with pytest.raises(WaitError):
        door.enter(f" {person} ")


def test_a_guesser_holds_up_nobody_else(door: Door) -> None:
    """Neither others at that address nor that person elsewhere."""
    person, colleague = door.add(), door.add()
    fail(door, 5, person.id)
    door.enter(colleague.id)
    door.enter(person.id, source="198.51.100.4")
    with pytest.raises(WaitError):
        door.enter(person.id)


def test_addresses_of_one_network_are_one_source(door: Door) -> None:
    """A /64 has more addresses than there are passwords to guess."""
    person = door.add()
    for number in range(5):
        fail(door, 1, person.id, source=f"2001:db8::{number:x}")
    with pytest.raises(WaitError):
        door.enter(person.id, source="2001:db8::ffff")


def test_a_search_through_names_is_slowed(door: Door) -> None:
    """50 names from one address, then one in 2 s."""
    for number in range(50):
        fail(door, 1, f"p-guess{number}")
    with pytest.raises(WaitError) as told:
        door.enter("p-guess50")
    assert told.value.seconds == 2


def test_those_who_come_in_use_up_nothing_of_their_address(door: Door) -> None:
    """A ward of sixty behind one address."""
    person = door.add()
    for number in range(60):
        door.enter(person.id, after=number / 10)


def test_waiting_outlasts_a_restart(lone: Door, database: str) -> None:
    """What was counted is on disk."""
    person = lone.add()
    fail(lone, 5, person.id)
    lone.store.close()
    lone.desk.store = Store(database)
    with pytest.raises(WaitError):
        lone.enter(person.id)


def test_guesses_that_come_at_once_do_not_slip_by(door: Door) -> None:
    """Of twenty, five are looked at."""
    person = door.add()
    came = at_once(20, lambda _: door.enter(person.id, OTHER))
    assert sum(isinstance(each, SignInError) for each in came) == 5
    assert sum(isinstance(each, WaitError) for each in came) == 15


def test_an_attempt_counts_before_its_answer(door: Door, monkeypatch: pytest.MonkeyPatch) -> None:
    """One whose answer never comes, since the power fails, has been counted."""
    person = door.add()

    def fails(*_: object) -> bool:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(passwords, "matches", fails)
        for _ in range(5):
            with pytest.raises(KeyboardInterrupt):
                door.enter(person.id)
    with pytest.raises(WaitError):
        door.enter(person.id)


def test_who_waits_costs_no_hash(door: Door, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is looked up first."""
    person = door.add()
    fail(door, 5, person.id)
    monkeypatch.setattr(passwords, "matches", None)
    with pytest.raises(WaitError):
        door.enter(person.id)


def test_few_hashes_are_computed_at_a_time(door: Door, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who waits too long for a turn is told to come again, and it is not counted; a badge is
    not held up."""
    person = door.add(badge=BADGE)
    monkeypatch.setattr(attempts, "HASHING_PATIENCE_S", 0.01)
    desks = threading.BoundedSemaphore(1)
    monkeypatch.setattr(signing_in, "AT_DESKS", desks)
    with desks:
        for _ in range(6):
            with pytest.raises(BusyError, match="try again"):
                door.enter(person.id)
        found = door.scan()
        own_credentials.change_pin(door.store, found.caller, PIN, NEXT_PIN, NOON)
    door.enter(person.id)


def test_wrong_codes_are_counted_wherever_they_come_from(door: Door) -> None:
    """Who has the password does not gain by many addresses; and is not told that it is right."""
    secret = pyotp.random_base32()
    person = door.add(Role.OFFICER, factor=secret)
    for number in range(5):
        with pytest.raises(SignInError):
            door.enter(
                person.id, code=wrong_code(secret), after=number / 10, source=f"192.0.2.{number}"
            )
    with pytest.raises(SignInError):
        door.enter(person.id, code=code_at(secret, 1), after=1, source="198.51.100.4")
    assert door.refusals()[-1] == (person.id, "waiting")
    door.enter(person.id, code=code_at(secret, 3), after=3, source="198.51.100.4")


def test_the_log_tells_of_refusals_by_id_where_there_is_one(door: Door) -> None:
    """Neither the name that was tried nor the password."""
    person = door.add()
    fail(door, 1, person.id)
    fail(door, 1, "p-nobody")
    with pytest.raises(SignInError):
        door.scan("0" * 24)
    assert door.refusals() == [(person.id, "password"), ("", "password"), ("", "badge")]
    told = json.dumps(door.entries())
    for secret in (OTHER, "p-nobody", "0" * 24, PIN, SOURCE):
        assert secret not in told


def test_who_waits_makes_no_entry(door: Door) -> None:
    """One for each that was looked at."""
    person = door.add()
    fail(door, 5, person.id)
    for _ in range(50):
        with pytest.raises(WaitError):
            door.enter(person.id)
    assert len(door.refusals()) == 5


def test_many_addresses_cannot_fill_the_log(door: Door) -> None:
    """Of one person and reason twenty entries, then ever fewer; of all unknown ones together."""
    person = door.add().id
    for number in range(45):
        fail(door, 1, person, source=f"192.0.2.{number}")
        fail(door, 1, f"p-guess{number}", source=f"192.0.2.{number}")
    assert door.refusals().count((person, "password")) == 20
    assert door.refusals().count(("", "password")) == 20
