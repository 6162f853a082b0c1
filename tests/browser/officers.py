"""People who are signed in, and what officers find on record."""

from datetime import UTC, datetime, timedelta
from itertools import count
from typing import TYPE_CHECKING, Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from service.access.caller import Caller, Proof
from service.access.people import Person, Session
from service.custody.words import Role
from service.duties.record import Told, record_events
from service.store import identities
from service.web.credentials import SESSION_COOKIE
from tests.browser.house import Served

if TYPE_CHECKING:
    from tests.browser.conftest import Visit

_numbers = count(1)


def tell(house: Served, *events: dict[str, Any]) -> None:
    """Record events as an officer's program would."""
    caller = Caller(house.facility, "tests", Role.OFFICER)
    outcomes = record_events(house.store, caller, events, Told(datetime.now(UTC)))
    refused = [o.reason for o in outcomes if o.outcome != "recorded"]
    assert refused == [], refused


def seated(
    house: Served, visit: "Visit", role: Role, address: str, screen: dict[str, int], **said: object
) -> Page:
    """Open a page as somebody who came in by password, and second factor where one is asked for."""
    now = datetime.now(UTC)
    token = f"a-token-of-a-session-at-a-desk-{role}-{next(_numbers)}"
    until = now + timedelta(hours=1)
    proof = Proof.SECOND_FACTOR if role in (Role.OFFICER, Role.ADMINISTRATOR) else Proof.PASSWORD
    opened = Session(
        house.facility, identities.token_hash(token), f"p-{role}", "", proof, now, until, until
    )
    with house.store.changing(house.facility) as connection:
        if identities.person(connection, house.facility, f"p-{role}") is None:
            identities.keep_person(connection, _person(house, role))
        identities.open_session(connection, opened)
    cookie = {"domain": "localhost", "path": "/", "secure": True, "httpOnly": True}
    cookies = [{"name": SESSION_COOKIE, "value": token, **cookie}]
    return visit(address, screen, cookies=cookies, **said)


def _person(house: Served, role: Role) -> Person:
    return Person(house.facility, f"p-{role}", f"Ila of the {role}s", role)


def faults(page: Page) -> list[str]:
    """What axe-core finds wrong with a page as it stands."""
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found]
