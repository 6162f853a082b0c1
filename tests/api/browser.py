"""A browser over HTTPS, and people who sit at it: taken on, let in, with badge and PIN."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import count
from typing import Any

import httpx
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service.access.caller import WHOLE, Caller, Proof, Scope
from service.access.people import Person, Session
from service.custody.words import Role
from service.duties import administrator, signing_in
from service.duties.administrator import NewPerson
from service.store import identities
from service.store.store import Store
from service.web.credentials import DEVICE_COOKIE, SESSION_COOKIE

HOME = "https://custody.test"
FACILITY = "lantern-hill"
PASSWORD = "seven grey herons wade by night"
ADMINISTRATOR = Caller(FACILITY, "command line", Role.ADMINISTRATOR)
_tokens = count(1)


@dataclass
class Badge:
    """A badge and the PIN that its bearer chose, or the first one."""

    code: str
    pin: str


class Browser:
    """A browser: it keeps cookies, and says of what it sends where that comes from."""

    def __init__(self, app: FastAPI, address: str = "192.0.2.7") -> None:
        self.http = TestClient(
            app, base_url=HOME, raise_server_exceptions=False, client=(address, 4711)
        )

    def get(self, address: str, **asked: Any) -> httpx.Response:
        """Ask for something."""
        return self.http.get(address, params=asked)

    def send(
        self, method: str, address: str, body: Any = None, headers: dict[str, str] | None = None
    ) -> httpx.Response:
        """Send something from a page of the service."""
        sent = {} if body is None else {"json": body}
        said = {"Origin": HOME, "Sec-Fetch-Site": "same-origin"} | (headers or {})
        return self.http.request(method, address, headers=said, **sent)

    def post(self, address: str, body: Any = None, **said: Any) -> httpx.Response:
        """Post something from a page of the service."""
        return self.send("POST", address, body, **said)

    def sign_in(self, person: str, password: str = PASSWORD, **more: str) -> httpx.Response:
        """Sign in at a desk."""
        return self.post("/v1/sign-in", {"person": person, "password": password, **more})

    def sign_in_by_badge(self, badge: Badge, **more: str) -> httpx.Response:
        """Sign in at a shared device."""
        asked = {"badge": badge.code, "pin": badge.pin, **more}
        return self.post("/v1/sign-in/badge", asked)

    @property
    def session(self) -> str:
        """The token of its session, or empty."""
        return self.http.cookies.get(SESSION_COOKIE) or ""

    def come_with(self, session: str = "", device: str = "") -> None:
        """Have these cookies and no others."""
        self.http.cookies.clear()
        for name, token in ((SESSION_COOKIE, session), (DEVICE_COOKIE, device)):
            if token:
                self.http.cookies.set(name, token, domain="custody.test", path="/")


def take_on(
    store: Store,
    now: datetime,
    person: str,
    role: Role,
    *,
    scope: Scope = WHOLE,
    name: str = "Ila Marrow",
) -> Person:
    """Add a person."""
    until = now + timedelta(days=7) if role is Role.INSPECTOR else None
    new = NewPerson(name, role, scope, person, until)
    added, _ = administrator.add_person(store, ADMINISTRATOR, new, now)
    return added


def with_password(store: Store, now: datetime, person: str, role: Role, **said: Any) -> Person:
    """Add a person who has set the usual password."""
    added = take_on(store, now, person, role, **said)
    code = administrator.issue_activation(store, ADMINISTRATOR, person, now)
    signing_in.set_password(store, FACILITY, code, PASSWORD, "", now)
    return added


def with_badge(store: Store, now: datetime, person: str, role: Role, **said: Any) -> Badge:
    """Add a person who was given a badge."""
    take_on(store, now, person, role, **said)
    given = administrator.issue_badge(store, ADMINISTRATOR, person, now)
    return Badge(given.code, given.first_pin)


def signed_in(
    store: Store, browser: Browser, person: Person, now: datetime, *, device: str = ""
) -> str:
    """Have somebody be signed in at a browser, by whatever proof their work asks for."""
    token = f"a session's token for tests, number {next(_tokens)}".replace(" ", "-")
    opened = Session(
        person.facility,
        identities.token_hash(token),
        person.id,
        device,
        Proof.SECOND_FACTOR,
        now,
        now + timedelta(minutes=15),
        now + timedelta(hours=8),
    )
    with store.changing(person.facility) as connection:
        identities.open_session(connection, opened)
    browser.come_with(session=token)
    return token


def enrolled(
    store: Store, browser: Browser, now: datetime, name: str = "ward-tablet-3"
) -> httpx.Response:
    """Enrol a ward's device in a browser."""
    code = administrator.invite_device(store, ADMINISTRATOR, name, Role.WARD, WHOLE, now)
    answer = browser.post("/v1/devices/enrolment", {"code": code, "keep": "cookie"})
    assert answer.status_code == 201, answer.text
    return answer
