"""Officers and administrators who are signed in, and what they find on record."""

from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from service.access.caller import Caller, Proof
from service.access.people import Person, Session
from service.custody.words import Role
from service.duties.record import Told, record_events
from service.store import identities
from service.web.credentials import SESSION_COOKIE
from tests.browser.conftest import Visit
from tests.browser.house import Served

_numbers = count(1)


def tell(house: Served, *events: dict[str, Any]) -> None:
    """Record events as an officer's program would."""
    caller = Caller(house.facility, "tests", Role.OFFICER)
    outcomes = record_events(house.store, caller, events, Told(datetime.now(UTC)))
    refused = [o.reason for o in outcomes if o.outcome != "recorded"]
    assert refused == [], refused


def seated(house: Served, visit: Visit, role: Role, address: str, screen: dict[str, int]) -> Page:
    """Open a page as somebody who came in with password and second factor."""
    now = datetime.now(UTC)
    token = f"a-token-of-a-session-at-a-desk-{role}-{next(_numbers)}"
    until = now + timedelta(hours=1)
    opened = Session(
        house.facility, identities.token_hash(token), f"p-{role}", "", Proof.SECOND_FACTOR,
        now, until, until,
    )  # fmt: skip
    with house.store.changing(house.facility) as connection:
        if identities.person(connection, house.facility, f"p-{role}") is None:
            identities.keep_person(connection, _person(house, role))
        identities.open_session(connection, opened)
    page = visit("/sign-in", screen)
    cookie = {"domain": "localhost", "path": "/", "secure": True, "httpOnly": True}
    page.context.add_cookies([{"name": SESSION_COOKIE, "value": token, **cookie}])  # type: ignore[list-item]
    page.goto(address)
    return page


def _person(house: Served, role: Role) -> Person:
    return Person(house.facility, f"p-{role}", f"Ila of the {role}s", role)


def faults(page: Page) -> list[str]:
    """What axe-core finds wrong with a page as it stands."""
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found]
