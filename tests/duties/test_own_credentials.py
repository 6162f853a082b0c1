"""People changing what they prove by."""

import json

import pyotp
import pytest

from service.access.caller import Proof
from service.access.passwords import UnfitSecretError
from service.access.people import Credential, CredentialKind
from service.access.permissions import NotAllowedError
from service.custody.words import Role
from service.duties import own_credentials, sessions
from service.duties.attempts import SignInError, WaitError
from service.store import identities
from tests.api.client import NOON
from tests.duties.door import (
    BADGE,
    GOOD,
    NEXT_PIN,
    OTHER,
    PIN,
    WRONG_PIN,
    Door,
    at,
    code_at,
    enrol,
    invite,
    wrong_code,
)


def test_a_password_is_changed_by_who_knows_the_old_one(door: Door) -> None:
    """The other sessions end, this one stands."""
    person = door.add()
    here, there = door.enter(person.id), door.enter(person.id)
    with pytest.raises(SignInError):
        own_credentials.change_password(door.store, here.caller, OTHER, OTHER, NOON)
    for unfit in ("short", GOOD, f"{person.id} kettle otter"):
        with pytest.raises(UnfitSecretError):
            own_credentials.change_password(door.store, here.caller, GOOD, unfit, NOON)
    own_credentials.change_password(door.store, here.caller, GOOD, OTHER, NOON)
    assert (door.stands(here.token), door.stands(there.token)) == (True, False)
    door.enter(person.id, OTHER)
    [entry] = door.entries("credential_set")
    assert entry["about"] == {"person": person.id, "credential": "password", "sessions": 1}


def test_a_pin_is_changed_by_who_knows_the_old_one(door: Door) -> None:
    """The session on the device stands."""
    person = door.add(badge=BADGE)
    found = door.scan()
    with pytest.raises(SignInError):
        own_credentials.change_pin(door.store, found.caller, WRONG_PIN, NEXT_PIN, NOON)
    with pytest.raises(UnfitSecretError):
        own_credentials.change_pin(door.store, found.caller, PIN, "12345678", NOON)
    own_credentials.change_pin(door.store, found.caller, PIN, NEXT_PIN, NOON)
    assert door.sessions(person) == 1
    door.scan(pin=NEXT_PIN, after=1)


def test_who_found_a_session_open_cannot_guess_the_password(door: Door) -> None:
    """Five, then it waits; the sign-in does not."""
    person = door.add()
    found = door.enter(person.id)
    for _ in range(5):
        with pytest.raises(SignInError):
            own_credentials.change_password(door.store, found.caller, OTHER, OTHER, NOON)
    with pytest.raises(WaitError):
        own_credentials.change_password(door.store, found.caller, GOOD, OTHER, NOON)
    door.enter(person.id)


def test_what_has_ended_changes_nothing(door: Door) -> None:
    """Between the door and the duty the session was ended."""
    person = door.add(Role.OFFICER)
    found = door.enter(person.id)
    offer = own_credentials.offer_second_factor(door.store, found.caller, NOON)
    sessions.sign_out(door.store, found.caller, NOON)
    with pytest.raises(SignInError):
        own_credentials.change_password(door.store, found.caller, GOOD, OTHER, NOON)
    with pytest.raises(SignInError):
        code = code_at(offer.secret, 0)
        own_credentials.confirm_second_factor(door.store, found.caller, code, NOON)
    door.enter(person.id)


def test_a_second_factor_counts_once_its_first_code_came(door: Door) -> None:
    """Then the officer is no longer confined; the sessions of before end."""
    person = door.add(Role.OFFICER)
    before = door.enter(person.id)
    offer = own_credentials.offer_second_factor(door.store, before.caller, NOON)
    assert offer.secret in offer.uri
    assert door.enter(person.id).caller.proof is Proof.PASSWORD  # none is asked for yet
    with pytest.raises(SignInError):
        own_credentials.confirm_second_factor(
            door.store, before.caller, wrong_code(offer.secret), NOON
        )
    code = code_at(offer.secret, 0)
    found = own_credentials.confirm_second_factor(door.store, before.caller, code, NOON)
    assert (found.caller.proof, found.caller.confined) == (Proof.SECOND_FACTOR, False)
    assert found.token != before.token
    assert (door.stands(before.token), door.stands(found.token)) == (False, True)
    with pytest.raises(SignInError):
        door.enter(person.id, code=code)
    door.enter(person.id, code=code_at(offer.secret, 30), after=30)
    assert CredentialKind.PENDING_FACTOR not in door.held(person)


def test_the_offer_ends_after_an_hour(door: Door) -> None:
    """And a code without an offer is none."""
    person = door.add(Role.WARD)
    found = door.enter(person.id)
    with pytest.raises(SignInError):
        own_credentials.confirm_second_factor(door.store, found.caller, "123456", NOON)
    offer = own_credentials.offer_second_factor(door.store, found.caller, NOON)
    late = at(3600)
    again = door.enter(person.id, after=3599)
    with pytest.raises(SignInError):
        code = code_at(offer.secret, 3600)
        own_credentials.confirm_second_factor(door.store, again.caller, code, late)


def test_codes_of_an_offer_cannot_be_guessed_either(door: Door) -> None:
    """Five, then it waits."""
    found = door.enter(door.add(Role.OFFICER).id)
    offer = own_credentials.offer_second_factor(door.store, found.caller, NOON)
    for _ in range(5):
        with pytest.raises(SignInError):
            wrong = wrong_code(offer.secret)
            own_credentials.confirm_second_factor(door.store, found.caller, wrong, NOON)
    with pytest.raises(WaitError):
        code = code_at(offer.secret, 0)
        own_credentials.confirm_second_factor(door.store, found.caller, code, NOON)


def test_a_second_factor_is_changed_by_who_has_it(door: Door) -> None:
    """Not by an older session of the password alone, and never by a badge."""
    person = door.add(Role.WARD, badge=BADGE)
    old = door.enter(person.id)
    by_badge = door.scan()
    with pytest.raises(NotAllowedError, match="password"):
        own_credentials.offer_second_factor(door.store, by_badge.caller, NOON)
    secret = pyotp.random_base32()
    kept = Credential(CredentialKind.SECOND_FACTOR, secret, NOON)
    door.change(lambda c: identities.keep_credential(c, door.here, person.id, kept))
    with pytest.raises(NotAllowedError, match="second factor"):
        own_credentials.offer_second_factor(door.store, old.caller, NOON)
    proved = door.enter(person.id, code=code_at(secret, 0))
    own_credentials.offer_second_factor(door.store, proved.caller, NOON)


def test_no_secret_is_told_by_what_holds_it(door: Door) -> None:
    """It may go to a log by mistake."""
    found = door.enter(door.add(Role.OFFICER).id)
    offer = own_credentials.offer_second_factor(door.store, found.caller, NOON)
    enrolled = enrol(door, invite(door))
    assert found.token not in repr(found)
    assert offer.secret not in repr(offer)
    assert enrolled.token not in repr(enrolled)
    told = json.dumps(door.entries())
    for secret in (found.token, offer.secret, enrolled.token, found.session.token_hash):
        assert secret not in told
