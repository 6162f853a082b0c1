"""The door of the invented hospital: people let in, and what is seen of it."""

import json
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import count
from typing import Any

import pyotp
import pytest

from service.access import passwords, secrets
from service.access.caller import WHOLE, Caller, Kind
from service.access.lifetimes import ACTIVATION
from service.access.people import Credential, CredentialKind, Person
from service.custody.words import Role
from service.duties import signing_in
from service.duties.access import Shown, caller_of
from service.duties.attempts import SignInError
from service.duties.sessions import SignedIn
from service.store import access_log, identities
from service.store.store import Store
from tests.api.client import NOON
from tests.duties.desk import Desk

GOOD = "gravel kettle moonlit otter"
OTHER = "seven teal pencils by the window"
PIN, NEXT_PIN, WRONG_PIN = "73028465", "58203947", "40718263"
BADGE = "7K3M9Q2X5T8V1B4N6P0RSTWY"
SOURCE = "192.0.2.7"
_numbers = count(1)


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


def fail(door: Door, times: int, person: str, **said: Any) -> None:
    """Give a wrong password so often."""
    for _ in range(times):
        with pytest.raises(SignInError):
            door.enter(person, OTHER, **said)


def at_once(number: int, act: Callable[[int], object]) -> list[object]:
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


def activate(door: Door, code: str, password: str = GOOD, after: float = 0) -> str:
    """Set a password by a code."""
    return signing_in.set_password(door.store, door.here, code, password, SOURCE, at(after), "r-1")


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
