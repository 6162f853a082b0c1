"""People coming in by password."""

from collections.abc import Callable
from dataclasses import replace

import pyotp
import pytest
from argon2 import PasswordHasher

from service.access import passwords
from service.access.caller import Proof, Scope
from service.access.lifetimes import lifetime
from service.access.people import Credential, CredentialKind
from service.custody.words import Role
from service.duties import signing_in
from service.duties.access import Shown, caller_of
from service.duties.attempts import SignInError
from service.duties.sessions import SignedIn
from service.store import identities
from service.store.store import NoSetupError, Store
from tests.api.client import NOON
from tests.duties.desk import Desk
from tests.duties.door import (
    BADGE,
    GOOD,
    NEXT_PIN,
    OTHER,
    Door,
    at,
    at_once,
    code_at,
)


def test_who_gives_the_right_password_is_in(door: Door) -> None:
    """With a session that the doors know them by; only its hash is kept."""
    person = door.add(Role.PLANT, scope=Scope(parties=frozenset({"plant"})))
    found = door.enter(person.id)
    caller = caller_of(door.store, Shown(session=found.token, request="r-1"), NOON)
    assert caller == found.caller
    assert (caller.name, caller.role, caller.scope) == (person.id, Role.PLANT, person.scope)
    assert (caller.proof, caller.confined) == (Proof.PASSWORD, False)
    assert found.session.token_hash == identities.token_hash(found.token)
    life = lifetime(Role.PLANT, Proof.PASSWORD)
    assert found.session.idle_until == NOON + life.idle
    assert found.session.expires_at == NOON + life.absolute
    [entry] = door.entries("signed_in")
    assert (entry["actor"], entry["request"], entry["about"]) == (
        person.id,
        "r-1",
        {"proof": "password"},
    )


def test_every_sign_in_has_a_token_of_its_own(door: Door) -> None:
    """None is taken over from before somebody was known."""
    person = door.add()
    assert len({door.enter(person.id, after=n).token for n in range(3)}) == 3


def test_an_id_may_be_typed_in_capitals_and_between_blanks(door: Door) -> None:
    """Ids are in small letters; a telephone begins with a capital."""
    person = door.add()
    assert door.enter(f" {person.id.upper()} ").person == person


def test_all_who_are_turned_away_are_told_the_same_at_the_same_cost(
    door: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Unknown, wrong, without a password, shut out, too late, without code: one hash each."""
    verified = []
    real = passwords.HASHER

    class Counting(PasswordHasher):
        def verify(self, hash: str | bytes, password: str | bytes) -> bool:  # type: ignore[override]  # noqa: A002
            verified.append(hash)
            return real.verify(hash, password)

    known = door.add()
    turned_away = {
        "unknown": ("p-nobody", GOOD, None),
        "no id at all": ("\ud800 \0 %", GOOD, None),
        "wrong": (known.id, OTHER, None),
        "half a character": (known.id, "\ud800", None),
        "far too long": (known.id, "x" * 100_000, None),
        "no password": (door.add(password=None).id, GOOD, None),
        "shut out": (door.add(disabled_at=NOON).id, GOOD, None),
        "too late": (door.add(Role.INSPECTOR, valid_until=NOON).id, GOOD, None),
        "no code": (door.add(factor=pyotp.random_base32()).id, GOOD, None),
        "wrong code": (door.add(factor=pyotp.random_base32()).id, GOOD, "abcdef"),
    }
    monkeypatch.setattr(passwords, "HASHER", Counting(1, 8, 1))
    told = set()
    for why, (person, password, code) in turned_away.items():
        verified.clear()
        with pytest.raises(SignInError) as refused:
            door.enter(person, password, code)
        told.add(str(refused.value))
        assert len(verified) == 1, why
    assert told == {"the name, the password or the code is wrong"}


def test_an_inspector_comes_in_until_their_last_day(door: Door) -> None:
    """Not at the instant itself."""
    person = door.add(Role.INSPECTOR, valid_until=at(60))
    door.enter(person.id, after=59)
    with pytest.raises(SignInError):
        door.enter(person.id, after=60)


def test_an_officer_without_second_factor_may_do_little_else_than_set_one(door: Door) -> None:
    """The session is confined."""
    found = door.enter(door.add(Role.OFFICER).id)
    assert (found.caller.proof, found.caller.confined) == (Proof.PASSWORD, True)


@pytest.mark.parametrize("role", [Role.OFFICER, Role.ADMINISTRATOR, Role.WARD])
def test_who_has_set_a_second_factor_gives_its_code(door: Door, role: Role) -> None:
    """Whether they had to set it or did so of their own will."""
    secret = pyotp.random_base32()
    person = door.add(role, factor=secret)
    found = door.enter(person.id, code=code_at(secret, 0))
    assert (found.caller.proof, found.caller.confined) == (Proof.SECOND_FACTOR, False)
    assert found.session.expires_at == NOON + lifetime(role, Proof.SECOND_FACTOR).absolute


def test_a_code_is_taken_once(door: Door) -> None:
    """RFC 6238, section 5.2; the next one is taken half a minute later."""
    secret = pyotp.random_base32()
    person = door.add(Role.OFFICER, factor=secret)
    door.enter(person.id, code=code_at(secret, 0))
    with pytest.raises(SignInError):
        door.enter(person.id, code=code_at(secret, 0), after=1)
    with pytest.raises(SignInError):
        door.enter(person.id, code=code_at(secret, 0, -1), after=2)
    door.enter(person.id, code=code_at(secret, 30), after=30)


def test_of_two_who_give_one_code_at_once_one_comes_in(door: Door) -> None:
    """The step is compared and written in one transaction."""
    secret = pyotp.random_base32()
    person = door.add(Role.OFFICER, factor=secret)
    code = code_at(secret, 0)
    came_in = at_once(4, lambda n: door.enter(person.id, code=code, source=f"192.0.2.{n}"))
    assert [isinstance(each, SignedIn) for each in came_in].count(True) == 1
    assert [isinstance(each, SignInError) for each in came_in].count(True) == 3


def test_a_hash_of_former_parameters_is_made_anew(door: Door) -> None:
    """As somebody signs in; the password stays."""
    person = door.add()
    former = PasswordHasher(time_cost=2, memory_cost=16, parallelism=1).hash(GOOD)
    kept = replace(door.held(person)[CredentialKind.PASSWORD], value=former)
    door.change(lambda c: identities.keep_credential(c, door.here, person.id, kept))
    door.enter(person.id)
    now_kept = door.held(person)[CredentialKind.PASSWORD]
    assert not passwords.outdated(now_kept.value)
    assert now_kept.set_at == kept.set_at
    door.enter(person.id, after=1)


def test_the_facility_may_be_left_out_where_there_is_one(lone: Door) -> None:
    """Where there are several it is asked for, where there is none it is said."""
    person = lone.add()
    enter = signing_in.by_password
    assert enter(lone.store, None, person.id, GOOD, None, "", NOON).person == person
    with pytest.raises(SignInError):
        enter(lone.store, "elsewhere", person.id, GOOD, None, "", NOON)
    Desk.at(lone.store)
    with pytest.raises(ValueError, match="name the facility"):
        enter(lone.store, None, person.id, GOOD, None, "", NOON)


def test_before_the_set_up_nobody_comes_in(database: str) -> None:
    """And is told what to do."""
    store = Store(database)
    with pytest.raises(NoSetupError, match="custody setup"):
        signing_in.by_password(store, None, "p-1", GOOD, None, "", NOON)
    store.close()


def _meanwhile(monkeypatch: pytest.MonkeyPatch, act: Callable[[], None]) -> None:
    """Have something happen while a hash is computed."""
    real = passwords.matches

    def matches(kept: str | None, secret: str) -> bool:
        right = real(kept, secret)
        act()
        return right

    monkeypatch.setattr(passwords, "matches", matches)


def test_what_changes_while_a_hash_is_computed_counts(
    door: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Shut out, or given another password or PIN, in that tenth of a second."""
    person = door.add(badge=BADGE)

    def put(kind: CredentialKind, secret: str) -> None:
        kept = Credential(kind, passwords.hashed(secret), NOON)
        door.change(lambda c: identities.keep_credential(c, door.here, person.id, kept))

    with monkeypatch.context() as patched:
        _meanwhile(patched, lambda: put(CredentialKind.PASSWORD, OTHER))
        with pytest.raises(SignInError):
            door.enter(person.id)
    with monkeypatch.context() as patched:
        _meanwhile(patched, lambda: put(CredentialKind.PIN, NEXT_PIN))
        with pytest.raises(SignInError):
            door.scan()
    out = replace(person, disabled_at=NOON)
    with monkeypatch.context() as patched:
        _meanwhile(patched, lambda: door.change(lambda c: identities.keep_person(c, out)))
        with pytest.raises(SignInError):
            door.enter(person.id, OTHER, after=1)
    assert door.sessions(person) == 0
