"""People coming in, going out, and changing what they prove by."""

import json
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

import pyotp
import pytest
from argon2 import PasswordHasher

from service.access import passwords, secrets, throttle
from service.access.caller import WHOLE, Caller, Kind, Proof, Scope
from service.access.lifetimes import ACTIVATION, lifetime
from service.access.passwords import UnfitSecretError
from service.access.people import Credential, CredentialKind, Person
from service.access.permissions import NotAllowedError
from service.custody.words import Role
from service.duties import signing_in
from service.duties.access import Shown, caller_of
from service.duties.signing_in import NewPinError, SignedIn, SignInError, WaitError
from service.store import access_log, identities
from service.store.database import BusyError
from service.store.store import NoSetupError, Store
from tests.api.client import NOON
from tests.duties.desk import Desk

GOOD = "gravel kettle moonlit otter"
OTHER = "seven teal pencils by the window"
PIN, NEXT_PIN, WRONG_PIN = "73028465", "58203947", "40718263"
BADGE = "7K3M9Q2X5T8V1B4N6P0RSTWY"
SOURCE = "192.0.2.7"
_numbers = count(1)


@pytest.fixture(autouse=True)
def _cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashes that cost little; tests/access looks at the costs."""
    cheap = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(passwords, "HASHER", cheap)


@dataclass
class Door:
    """One facility, its people and one shared device."""

    desk: Desk

    @property
    def store(self) -> Store:
        """The store."""
        return self.desk.store

    @property
    def here(self) -> str:
        """The facility."""
        return self.desk.facility

    @property
    def device(self) -> Caller:
        """The ward's tablet."""
        return self.tablet("icu-tablet")

    def tablet(self, name: str) -> Caller:
        """A device that was enrolled."""
        return Caller(self.here, name, Role.WARD, WHOLE, Kind.DEVICE, name)

    def change(self, act: Callable[[Any], object]) -> None:
        """Change something as an administrator would."""
        with self.store.changing(self.here) as connection:
            act(connection)

    def add(
        self,
        role: Role = Role.WARD,
        *,
        password: str | None = GOOD,
        badge: str | None = None,
        first_until: datetime | None = None,
        factor: str | None = None,
        activation: str | None = None,
        **said: Any,
    ) -> Person:
        """Let somebody be known, and what they prove by."""
        person = Person(self.here, f"p-{next(_numbers):06d}", "Somebody", role, **said)
        held = []
        if password:
            kept = passwords.hashed(password)
            held.append(Credential(CredentialKind.PASSWORD, kept, NOON))
        if badge:
            kept = identities.token_hash(secrets.plain(badge))
            held.append(Credential(CredentialKind.BADGE, kept, NOON))
            kept = passwords.hashed(PIN)
            held.append(Credential(CredentialKind.PIN, kept, NOON, first_until))
        if factor:
            held.append(Credential(CredentialKind.SECOND_FACTOR, factor, NOON))
        if activation:
            kept = identities.token_hash(secrets.plain(activation))
            held.append(Credential(CredentialKind.ACTIVATION, kept, NOON, NOON + ACTIVATION))

        def write(connection: Any) -> None:
            identities.keep_person(connection, person)
            for each in held:
                identities.keep_credential(connection, self.here, person.id, each)

        self.change(write)
        return person

    def enter(
        self,
        person: str,
        password: str = GOOD,
        code: str | None = None,
        after: float = 0,
        source: str = SOURCE,
    ) -> SignedIn:
        """Come in by password, some seconds after noon."""
        return signing_in.by_password(
            self.store, self.here, person, password, code, source, at(after), "r-1"
        )

    def scan(
        self,
        badge: str = BADGE,
        pin: str = PIN,
        new_pin: str | None = None,
        after: float = 0,
        device: Caller | None = None,
    ) -> SignedIn:
        """Come in by badge."""
        device = device or self.device
        return signing_in.by_badge(self.store, device, badge, pin, new_pin, at(after), "r-1")

    def held(self, person: Person) -> dict[CredentialKind, Credential]:
        """What somebody proves by."""
        with self.store.reading() as connection:
            return identities.credentials(connection, self.here, person.id)

    def entries(self, kind: str | None = None) -> list[dict[str, Any]]:
        """What the access log says."""
        with self.store.reading() as connection:
            found = access_log.entries_after(connection, self.here, 0, 10_000, kind)
        return [json.loads(body) for _, body in found]

    def refusals(self) -> list[tuple[str, str]]:
        """Of whom the access log says that they were refused, and why."""
        found = self.entries("sign_in_refused")
        return [(each.get("actor", ""), each["about"]["reason"]) for each in found]

    def stands(self, token: str, after: float = 0, device: str = "") -> bool:
        """Whether somebody is known by that token."""
        shown = Shown(session=token, device=device)
        return caller_of(self.store, shown, at(after)) is not None

    def sessions(self, person: Person, after: float = 0) -> int:
        """How many sessions of somebody stand."""
        with self.store.reading() as connection:
            return len(identities.sessions(connection, self.here, person.id, at(after)))


def at(seconds: float) -> datetime:
    """So long after noon."""
    return NOON + timedelta(seconds=seconds)


def code_at(secret: str, seconds: float, step: int = 0) -> str:
    """The code that an application shows then."""
    return pyotp.TOTP(secret).at(at(seconds), counter_offset=step)


def wrong_code(secret: str) -> str:
    """A code that is none of those of any minute around noon."""
    near = {code_at(secret, 0, step) for step in range(-200, 200)}
    return next(each for each in map("{:06d}".format, range(1000)) if each not in near)


@pytest.fixture
def door(desk: Desk) -> Door:
    """The hospital with nobody known yet."""
    return Door(desk)


@pytest.fixture
def lone(tmp_path: Path) -> Iterator[Door]:
    """A hospital in a database of its own."""
    desk = Desk.opened(tmp_path)
    yield Door(desk)
    desk.store.close()


# --- by password


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
    came_in = _at_once(4, lambda n: door.enter(person.id, code=code, source=f"192.0.2.{n}"))
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


def test_before_the_set_up_nobody_comes_in(tmp_path: Path) -> None:
    """And is told what to do."""
    store = Store(f"sqlite:///{tmp_path / 'custody.sqlite3'}")
    with pytest.raises(NoSetupError, match="custody setup"):
        signing_in.by_password(store, None, "p-1", GOOD, None, "", NOON)
    store.close()


# --- waiting


def _fail(door: Door, times: int, person: str, **said: Any) -> None:
    for _ in range(times):
        with pytest.raises(SignInError):
            door.enter(person, OTHER, **said)


def test_after_five_wrong_passwords_the_right_one_waits(door: Door) -> None:
    """2 s, and is told so; then it is taken, and all is as if nothing had been."""
    person = door.add()
    _fail(door, 5, person.id)
    with pytest.raises(WaitError) as told:
        door.enter(person.id, after=0.5)
    assert told.value.seconds == 2
    door.enter(person.id, after=2)
    _fail(door, 5, person.id, after=3)


def test_who_is_unknown_waits_as_long(door: Door) -> None:
    """Or it would tell who is known."""
    _fail(door, 5, "p-nobody")
    with pytest.raises(WaitError) as told:
        door.enter("p-nobody", after=0.5)
    assert told.value.seconds == 2


def test_other_spellings_of_an_id_are_one_person(door: Door) -> None:
    """Or capitals would gain guesses."""
    person = door.add().id
    _fail(door, 3, person)
    _fail(door, 2, person.upper())
    with pytest.raises(WaitError):
        door.enter(f" {person} ")


def test_a_guesser_holds_up_nobody_else(door: Door) -> None:
    """Neither others at that address nor that person elsewhere."""
    person, colleague = door.add(), door.add()
    _fail(door, 5, person.id)
    door.enter(colleague.id)
    door.enter(person.id, source="198.51.100.4")
    with pytest.raises(WaitError):
        door.enter(person.id)


def test_addresses_of_one_network_are_one_source(door: Door) -> None:
    """A /64 has more addresses than there are passwords to guess."""
    person = door.add()
    for number in range(5):
        _fail(door, 1, person.id, source=f"2001:db8::{number:x}")
    with pytest.raises(WaitError):
        door.enter(person.id, source="2001:db8::ffff")


def test_a_search_through_names_is_slowed(door: Door) -> None:
    """50 names from one address, then one in 2 s."""
    for number in range(50):
        _fail(door, 1, f"p-guess{number}")
    with pytest.raises(WaitError) as told:
        door.enter("p-guess50")
    assert told.value.seconds == 2


def test_those_who_come_in_use_up_nothing_of_their_address(door: Door) -> None:
    """A ward of sixty behind one address."""
    person = door.add()
    for number in range(60):
        door.enter(person.id, after=number / 10)


def test_waiting_outlasts_a_restart(lone: Door) -> None:
    """What was counted is on disk."""
    person = lone.add()
    _fail(lone, 5, person.id)
    url = str(lone.store.database.file)
    lone.store.close()
    lone.desk.store = Store(f"sqlite:///{url}")
    with pytest.raises(WaitError):
        lone.enter(person.id)


def _at_once(number: int, act: Callable[[int], object]) -> list[object]:
    """What comes of so many who do something at the same moment."""
    ready = threading.Barrier(number)

    def one(n: int) -> object:
        ready.wait()
        try:
            return act(n)
        except Exception as error:
            return error

    with ThreadPoolExecutor(number) as pool:
        return [*pool.map(one, range(number))]


def test_guesses_that_come_at_once_do_not_slip_by(door: Door) -> None:
    """Of twenty, five are looked at."""
    person = door.add()
    came = _at_once(20, lambda _: door.enter(person.id, OTHER))
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
    _fail(door, 5, person.id)
    monkeypatch.setattr(passwords, "matches", None)
    with pytest.raises(WaitError):
        door.enter(person.id)


def test_few_hashes_are_computed_at_a_time(door: Door, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who waits too long for a turn is told to come again, and it is not counted; a badge is
    not held up."""
    person = door.add(badge=BADGE)
    monkeypatch.setattr(signing_in, "HASHING_PATIENCE_S", 0.01)
    desks = threading.BoundedSemaphore(1)
    monkeypatch.setattr(signing_in, "_AT_DESKS", desks)
    with desks:
        for _ in range(6):
            with pytest.raises(BusyError, match="try again"):
                door.enter(person.id)
        found = door.scan()
        signing_in.change_pin(door.store, found.caller, PIN, NEXT_PIN, NOON)
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


# --- the log


def test_the_log_tells_of_refusals_by_id_where_there_is_one(door: Door) -> None:
    """Neither the name that was tried nor the password."""
    person = door.add()
    _fail(door, 1, person.id)
    _fail(door, 1, "p-nobody")
    with pytest.raises(SignInError):
        door.scan("0" * 24)
    assert door.refusals() == [(person.id, "password"), ("", "password"), ("", "badge")]
    told = json.dumps(door.entries())
    for secret in (OTHER, "p-nobody", "0" * 24, PIN, SOURCE):
        assert secret not in told


def test_who_waits_makes_no_entry(door: Door) -> None:
    """One for each that was looked at."""
    person = door.add()
    _fail(door, 5, person.id)
    for _ in range(50):
        with pytest.raises(WaitError):
            door.enter(person.id)
    assert len(door.refusals()) == 5


def test_many_addresses_cannot_fill_the_log(door: Door) -> None:
    """Of one person and reason twenty entries, then ever fewer; of all unknown ones together."""
    person = door.add().id
    for number in range(45):
        _fail(door, 1, person, source=f"192.0.2.{number}")
        _fail(door, 1, f"p-guess{number}", source=f"192.0.2.{number}")
    assert door.refusals().count((person, "password")) == 20
    assert door.refusals().count(("", "password")) == 20


# --- by badge


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
    """Whoever guesses for a day, the right PIN is taken a minute later; 1 448 guesses are made of
    100 000 000, 1.45 in 100 000."""
    door.add(badge=BADGE)
    monkeypatch.setattr(passwords, "matches", lambda _, pin: pin == PIN)
    monkeypatch.setattr(passwords, "outdated", lambda _: False)
    monkeypatch.setattr(throttle, "BY_ENTRY", replace(throttle.BY_ENTRY, free=0))
    clock, guesses = 0.0, 0
    while clock < 24 * 3600:
        try:
            door.scan(pin=WRONG_PIN, after=clock)
        except SignInError:
            guesses += 1
        except WaitError as told:
            assert told.seconds <= 60
            clock += told.seconds
    assert guesses == 1448
    door.scan(after=clock + 60)


# --- by a code for one use


def activate(door: Door, code: str, password: str = GOOD, after: float = 0) -> str:
    """Set a password by a code."""
    return signing_in.set_password(door.store, door.here, code, password, SOURCE, at(after), "r-1")


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
    came = _at_once(4, lambda n: activate(door, code, chosen[n]))
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


# --- devices


def invite(door: Door, name: str = "icu-tablet") -> str:
    """A code by which a device comes in."""
    code = secrets.typed_code()
    invited = door.tablet(name)

    def write(connection: Any) -> None:
        kept, until = secrets.plain(code), NOON + ACTIVATION
        identities.admit(connection, invited, kept, NOON, until, "enrolment")

    door.change(write)
    return code


def enrol(door: Door, code: str, after: float = 0) -> signing_in.Enrolled:
    """Enrol a device."""
    return signing_in.enrol_device(door.store, door.here, code, SOURCE, at(after), "r-1")


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
    came = _at_once(4, lambda _: enrol(door, code))
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


# --- one's own


def test_who_signs_out_is_out(door: Door) -> None:
    """Of this session alone; a second time changes nothing."""
    person = door.add()
    here, there = door.enter(person.id), door.enter(person.id)
    signing_in.sign_out(door.store, here.caller, NOON)
    signing_in.sign_out(door.store, here.caller, NOON)
    assert (door.stands(here.token), door.stands(there.token)) == (False, True)
    assert [entry["actor"] for entry in door.entries("signed_out")] == [person.id]


def test_who_signs_out_everywhere_is_out_everywhere(door: Door) -> None:
    """And nobody else is."""
    person, colleague = door.add(), door.add()
    tokens = [door.enter(person.id).token for _ in range(3)]
    other = door.enter(colleague.id)
    caller = door.enter(person.id).caller
    assert len(signing_in.my_sessions(door.store, caller, NOON)) == 4
    assert signing_in.sign_out_everywhere(door.store, caller, NOON) == 4
    assert not any(map(door.stands, tokens))
    assert door.stands(other.token)
    assert signing_in.my_sessions(door.store, caller, NOON) == []
    [entry] = door.entries("sessions_ended")
    assert entry["about"] == {"person": person.id, "sessions": 4}


def test_a_password_is_changed_by_who_knows_the_old_one(door: Door) -> None:
    """The other sessions end, this one stands."""
    person = door.add()
    here, there = door.enter(person.id), door.enter(person.id)
    with pytest.raises(SignInError):
        signing_in.change_password(door.store, here.caller, OTHER, OTHER, NOON)
    for unfit in ("short", GOOD, f"{person.id} kettle otter"):
        with pytest.raises(UnfitSecretError):
            signing_in.change_password(door.store, here.caller, GOOD, unfit, NOON)
    signing_in.change_password(door.store, here.caller, GOOD, OTHER, NOON)
    assert (door.stands(here.token), door.stands(there.token)) == (True, False)
    door.enter(person.id, OTHER)
    [entry] = door.entries("credential_set")
    assert entry["about"] == {"person": person.id, "credential": "password", "sessions": 1}


def test_a_pin_is_changed_by_who_knows_the_old_one(door: Door) -> None:
    """The session on the device stands."""
    person = door.add(badge=BADGE)
    found = door.scan()
    with pytest.raises(SignInError):
        signing_in.change_pin(door.store, found.caller, WRONG_PIN, NEXT_PIN, NOON)
    with pytest.raises(UnfitSecretError):
        signing_in.change_pin(door.store, found.caller, PIN, "12345678", NOON)
    signing_in.change_pin(door.store, found.caller, PIN, NEXT_PIN, NOON)
    assert door.sessions(person) == 1
    door.scan(pin=NEXT_PIN, after=1)


def test_who_found_a_session_open_cannot_guess_the_password(door: Door) -> None:
    """Five, then it waits; the sign-in does not."""
    person = door.add()
    found = door.enter(person.id)
    for _ in range(5):
        with pytest.raises(SignInError):
            signing_in.change_password(door.store, found.caller, OTHER, OTHER, NOON)
    with pytest.raises(WaitError):
        signing_in.change_password(door.store, found.caller, GOOD, OTHER, NOON)
    door.enter(person.id)


def test_what_has_ended_changes_nothing(door: Door) -> None:
    """Between the door and the duty the session was ended."""
    person = door.add(Role.OFFICER)
    found = door.enter(person.id)
    offer = signing_in.offer_second_factor(door.store, found.caller, NOON)
    signing_in.sign_out(door.store, found.caller, NOON)
    with pytest.raises(SignInError):
        signing_in.change_password(door.store, found.caller, GOOD, OTHER, NOON)
    with pytest.raises(SignInError):
        code = code_at(offer.secret, 0)
        signing_in.confirm_second_factor(door.store, found.caller, code, NOON)
    door.enter(person.id)


def test_a_device_has_nothing_of_its_own(door: Door) -> None:
    """Nobody is signed in on it."""
    with pytest.raises(NotAllowedError, match="nobody is signed in"):
        signing_in.sign_out(door.store, door.device, NOON)
    with pytest.raises(NotAllowedError, match="nobody is signed in"):
        signing_in.change_pin(door.store, door.device, PIN, NEXT_PIN, NOON)


# --- the second factor


def test_a_second_factor_counts_once_its_first_code_came(door: Door) -> None:
    """Then the officer is no longer confined; the sessions of before end."""
    person = door.add(Role.OFFICER)
    before = door.enter(person.id)
    offer = signing_in.offer_second_factor(door.store, before.caller, NOON)
    assert offer.secret in offer.uri
    assert door.enter(person.id).caller.proof is Proof.PASSWORD  # none is asked for yet
    with pytest.raises(SignInError):
        signing_in.confirm_second_factor(door.store, before.caller, wrong_code(offer.secret), NOON)
    code = code_at(offer.secret, 0)
    found = signing_in.confirm_second_factor(door.store, before.caller, code, NOON)
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
        signing_in.confirm_second_factor(door.store, found.caller, "123456", NOON)
    offer = signing_in.offer_second_factor(door.store, found.caller, NOON)
    late = at(3600)
    again = door.enter(person.id, after=3599)
    with pytest.raises(SignInError):
        code = code_at(offer.secret, 3600)
        signing_in.confirm_second_factor(door.store, again.caller, code, late)


def test_codes_of_an_offer_cannot_be_guessed_either(door: Door) -> None:
    """Five, then it waits."""
    found = door.enter(door.add(Role.OFFICER).id)
    offer = signing_in.offer_second_factor(door.store, found.caller, NOON)
    for _ in range(5):
        with pytest.raises(SignInError):
            wrong = wrong_code(offer.secret)
            signing_in.confirm_second_factor(door.store, found.caller, wrong, NOON)
    with pytest.raises(WaitError):
        code = code_at(offer.secret, 0)
        signing_in.confirm_second_factor(door.store, found.caller, code, NOON)


def test_a_second_factor_is_changed_by_who_has_it(door: Door) -> None:
    """Not by an older session of the password alone, and never by a badge."""
    person = door.add(Role.WARD, badge=BADGE)
    old = door.enter(person.id)
    by_badge = door.scan()
    with pytest.raises(NotAllowedError, match="password"):
        signing_in.offer_second_factor(door.store, by_badge.caller, NOON)
    secret = pyotp.random_base32()
    kept = Credential(CredentialKind.SECOND_FACTOR, secret, NOON)
    door.change(lambda c: identities.keep_credential(c, door.here, person.id, kept))
    with pytest.raises(NotAllowedError, match="second factor"):
        signing_in.offer_second_factor(door.store, old.caller, NOON)
    proved = door.enter(person.id, code=code_at(secret, 0))
    signing_in.offer_second_factor(door.store, proved.caller, NOON)


def test_no_secret_is_told_by_what_holds_it(door: Door) -> None:
    """It may go to a log by mistake."""
    found = door.enter(door.add(Role.OFFICER).id)
    offer = signing_in.offer_second_factor(door.store, found.caller, NOON)
    enrolled = enrol(door, invite(door))
    assert found.token not in repr(found)
    assert offer.secret not in repr(offer)
    assert enrolled.token not in repr(enrolled)
    told = json.dumps(door.entries())
    for secret in (found.token, offer.secret, enrolled.token, found.session.token_hash):
        assert secret not in told
