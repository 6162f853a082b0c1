"""People over HTTP: taken on, changed, shut out; what each proves by, given and taken."""

from typing import Any

import pytest
from fastapi import FastAPI

from service.custody.words import Role
from service.store.store import Store
from tests.api.browser import PASSWORD, Browser, signed_in, take_on, with_badge, with_password
from tests.api.client import NOON, Clock, problem_of


@pytest.fixture
def admin(browser: Browser, store: Store, clock: Clock) -> Browser:
    """A browser at which an administrator is signed in."""
    signed_in(store, browser, take_on(store, clock.now, "p-admin", Role.ADMINISTRATOR), clock.now)
    return browser


def test_a_person_is_added_with_a_code_for_a_day(admin: Browser) -> None:
    """The id made for them tells nothing; the answer says where they are found."""
    body = {"name": "Ila Marrow", "role": "ward", "scope": {"units": ["icu"]}}
    answer = admin.post("/v1/people", body)
    assert answer.status_code == 201, answer.text
    added = answer.json()
    person = added["person"]
    assert person["id"].startswith("p-")
    assert answer.headers["location"] == f"/v1/people/{person['id']}"
    assert person["scope"] == {"units": ["icu"], "parties": []}
    assert added["activation"]["expires_at"] == "2026-07-02T12:00:00Z"
    found = admin.get(f"/v1/people/{person['id']}")
    assert found.json() == {**person, "credentials": ["activation"], "sessions": []}
    assert added["activation"]["activation"] not in found.text
    assert person in admin.get("/v1/people").json()["people"]


@pytest.mark.parametrize(
    "body",
    [
        {"name": "A", "role": "inspector"},
        {"name": "A", "role": "king"},
        {"name": "A\r\nB", "role": "ward"},
        {"name": "", "role": "ward"},
        {"name": "A", "role": "ward", "id": "P 1"},
        {"name": "A", "role": "ward", "id": "../x"},
        {"name": "A", "role": "ward", "id": "p-admin"},
        {"name": "A", "role": "ward", "scope": {"units": ["icy"]}},
        {"name": "A", "role": "ward", "scope": {"parties": ["icu"]}},
        {"name": "A", "role": "ward", "scope": {"rooms": []}},
        {"name": "A", "role": "ward", "valid_until": "tomorrow"},
        {"role": "ward"},
        [],
    ],
)
def test_what_cannot_stand_is_refused_and_adds_nobody(admin: Browser, body: Any) -> None:
    """An inspector without an end, a role, id or unit that there is not."""
    problem_of(admin.post("/v1/people", body), 422)
    assert [p["id"] for p in admin.get("/v1/people").json()["people"]] == ["p-admin"]


def test_what_is_left_out_of_a_change_stays(admin: Browser, store: Store) -> None:
    """And what is null is taken away, where there can be none."""
    body = {"name": "Ila", "role": "ward", "id": "p-ila", "valid_until": "2026-07-08T12:00:00Z"}
    admin.post("/v1/people", body)
    changed = admin.send("PATCH", "/v1/people/p-ila", {"name": "Ila Marrow"}).json()
    assert (changed["name"], changed["role"]) == ("Ila Marrow", "ward")
    assert changed["valid_until"] == "2026-07-08T12:00:00Z"
    changed = admin.send("PATCH", "/v1/people/p-ila", {"valid_until": None}).json()
    assert changed["valid_until"] is None
    scope = {"scope": {"units": ["theatres"]}}
    changed = admin.send("PATCH", "/v1/people/p-ila", scope).json()
    assert changed["scope"] == {"units": ["theatres"], "parties": []}
    for wrong in ({"name": None}, {"role": None}, {"disabled": 1}, {"id": "p-other"}):
        problem_of(admin.send("PATCH", "/v1/people/p-ila", wrong), 422)


def test_who_is_shut_out_is_out_at_once(
    app: FastAPI, admin: Browser, store: Store, clock: Clock
) -> None:
    """Not at the end of the session; and can be let in again."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    desk = Browser(app)
    desk.sign_in("p-desk")
    shut = admin.send("PATCH", "/v1/people/p-desk", {"disabled": True}).json()
    assert shut["disabled_at"] == "2026-07-01T12:00:00Z"
    problem_of(desk.get("/v1/me"), 401)
    problem_of(desk.sign_in("p-desk"), 401)
    admin.send("PATCH", "/v1/people/p-desk", {"disabled": False})
    assert desk.sign_in("p-desk").status_code == 200


def test_the_last_administrator_cannot_go(admin: Browser) -> None:
    """Or nobody could let anybody in again."""
    for change in ({"disabled": True}, {"role": "officer"}):
        told = problem_of(admin.send("PATCH", "/v1/people/p-admin", change), 422)
        assert "administrator" in told["detail"]
    assert admin.get("/v1/people").status_code == 200


def test_a_new_activation_ends_the_old_password(
    app: FastAPI, admin: Browser, store: Store, clock: Clock
) -> None:
    """And the sessions that were opened with it."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    desk = Browser(app)
    desk.sign_in("p-desk")
    given = admin.post("/v1/people/p-desk/activation")
    assert given.status_code == 201, given.text
    problem_of(desk.get("/v1/me"), 401)
    problem_of(desk.sign_in("p-desk"), 401)
    set_it = {"activation": given.json()["activation"], "password": PASSWORD}
    assert desk.post("/v1/password", set_it).status_code == 200


def test_a_badge_is_given_and_taken(admin: Browser, store: Store, clock: Clock) -> None:
    """For those who work at shared devices; an officer has none."""
    take_on(store, clock.now, "p-nurse", Role.WARD)
    take_on(store, clock.now, "p-officer", Role.OFFICER)
    given = admin.post("/v1/people/p-nurse/badge")
    assert given.status_code == 201, given.text
    assert set(given.json()) == {"person", "badge", "first_pin"}
    assert {"badge", "pin"} <= set(admin.get("/v1/people/p-nurse").json()["credentials"])
    taken = admin.send("DELETE", "/v1/people/p-nurse/badge").json()
    assert {"badge", "pin"}.isdisjoint(taken["credentials"])
    problem_of(admin.post("/v1/people/p-officer/badge"), 422)


def test_sessions_of_a_person_are_seen_and_ended(
    app: FastAPI, admin: Browser, store: Store, clock: Clock
) -> None:
    """Without their tokens; none of them is marked as the administrator's own."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    desk = Browser(app)
    desk.sign_in("p-desk")
    [session] = admin.get("/v1/people/p-desk").json()["sessions"]
    assert (session["proof"], session["current"]) == ("password", False)
    answer = admin.send("DELETE", "/v1/people/p-desk/sessions")
    assert answer.json() == {"ended": 1}
    problem_of(desk.get("/v1/me"), 401)


def test_a_second_factor_is_taken(admin: Browser, store: Store, clock: Clock) -> None:
    """As when a telephone is lost."""
    take_on(store, clock.now, "p-officer", Role.OFFICER)
    answer = admin.send("DELETE", "/v1/people/p-officer/second-factor")
    assert answer.status_code == 200, answer.text
    assert "second_factor" not in answer.json()["credentials"]


ADDRESSES = [
    ("GET", "/v1/people/p-nobody"),
    ("PATCH", "/v1/people/p-nobody"),
    ("POST", "/v1/people/p-nobody/activation"),
    ("POST", "/v1/people/p-nobody/badge"),
    ("DELETE", "/v1/people/p-nobody/badge"),
    ("DELETE", "/v1/people/p-nobody/second-factor"),
    ("DELETE", "/v1/people/p-nobody/sessions"),
]


@pytest.mark.parametrize(("method", "address"), ADDRESSES)
def test_nobody_of_that_id(admin: Browser, method: str, address: str) -> None:
    """404; an id that nobody can have is told as such."""
    body = {"name": "x"} if method == "PATCH" else None
    problem_of(admin.send(method, address, body), 404)
    problem_of(admin.send(method, address.replace("p-nobody", "No%20Body"), body), 422)


def test_an_officer_reads_the_list_and_changes_nothing(
    browser: Browser, store: Store, clock: Clock
) -> None:
    """Who answers for the waste knows whose ids are in the record."""
    officer = take_on(store, clock.now, "p-officer", Role.OFFICER)
    with_badge(store, NOON, "p-nurse", Role.WARD)
    signed_in(store, browser, officer, clock.now)
    assert len(browser.get("/v1/people").json()["people"]) == 2
    problem_of(browser.post("/v1/people", {"name": "x", "role": "administrator"}), 403)
    problem_of(browser.send("PATCH", "/v1/people/p-officer", {"role": "administrator"}), 403)
