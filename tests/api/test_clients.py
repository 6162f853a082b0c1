"""Devices and programs over HTTP: let in, invited, enrolled, turned out."""

from urllib.parse import quote

import pytest
from fastapi import FastAPI

from service.custody.words import Role
from service.store.store import Store
from tests.api.browser import Browser, enrolled, signed_in, take_on, with_badge
from tests.api.client import Clock, problem_of


@pytest.fixture
def admin(browser: Browser, store: Store, clock: Clock) -> Browser:
    """A browser at which an administrator is signed in."""
    signed_in(store, browser, take_on(store, clock.now, "p-admin", Role.ADMINISTRATOR), clock.now)
    return browser


def test_a_program_is_let_in_with_a_token_shown_once(admin: Browser, clock: Clock) -> None:
    """It works until its end; the list does not have it."""
    body = {"name": "kiln-link", "role": "plant", "valid_days": 2}
    answer = admin.post("/v1/programs", body)
    assert answer.status_code == 201, answer.text
    admitted = answer.json()
    assert admitted["expires_at"] == "2026-07-03T12:00:00Z"
    bearer = {"Authorization": f"Bearer {admitted['token']}"}
    me = admin.http.get("/v1/me", headers=bearer).json()
    assert (me["id"], me["kind"], me["role"]) == ("kiln-link", "program", "plant")
    listed = admin.get("/v1/clients")
    assert admitted["token"] not in listed.text
    [found] = [c for c in listed.json()["clients"] if c["name"] == "kiln-link"]
    assert (found["kind"], found["revoked_at"]) == ("program", None)
    clock.move(days=2)
    problem_of(admin.http.get("/v1/me", headers=bearer), 401)


@pytest.mark.parametrize(
    "more",
    [
        {"valid_days": 0},
        {"valid_days": 3651},
        {"valid_days": "90"},
        {"role": "root"},
        {"name": ""},
        {"name": "a\nb"},
        {"scope": {"units": ["nowhere"]}},
        {"token": "mine"},
    ],
)
def test_a_program_that_cannot_stand_is_refused(admin: Browser, more: dict[str, object]) -> None:
    """Too long, without a name, of a unit that there is not, with a token of its own choice."""
    problem_of(admin.post("/v1/programs", {"name": "link", "role": "plant"} | more), 422)
    assert "link" not in [c["name"] for c in admin.get("/v1/clients").json()["clients"]]


def test_a_device_is_invited_enrolled_and_turned_out(
    app: FastAPI, admin: Browser, store: Store, clock: Clock
) -> None:
    """Who is signed in on it is out at that moment too."""
    tablet = Browser(app)
    enrolled(store, tablet, clock.now)
    badge = with_badge(store, clock.now, "p-nurse", Role.WARD)
    assert tablet.sign_in_by_badge(badge, new_pin="41709352").status_code == 200
    assert tablet.get("/v1/me").json()["id"] == "p-nurse"
    ended = admin.send("DELETE", "/v1/clients/ward-tablet-3")
    assert ended.status_code == 200, ended.text
    assert ended.json()["ended"] >= 1
    problem_of(tablet.get("/v1/me"), 401)
    problem_of(admin.send("DELETE", "/v1/clients/ward-tablet-3"), 404)


def test_a_code_that_waits_is_in_the_list_and_can_be_taken_back(
    app: FastAPI, admin: Browser
) -> None:
    """A note with a code that was lost is worth nothing once it was."""
    code = admin.post("/v1/devices", {"name": "scanner", "role": "handler"}).json()["code"]
    [waiting] = [c for c in admin.get("/v1/clients").json()["clients"] if c["name"] == "scanner"]
    assert waiting["kind"] == "enrolment"
    assert admin.send("DELETE", "/v1/clients/scanner").json() == {"ended": 1}
    asked = {"code": code, "keep": "token"}
    problem_of(Browser(app).post("/v1/devices/enrolment", asked), 401)


def test_a_code_is_for_a_day(app: FastAPI, admin: Browser, clock: Clock) -> None:
    """And the answer says until when."""
    invited = admin.post("/v1/devices", {"name": "scanner", "role": "handler"}).json()
    assert invited["expires_at"] == "2026-07-02T12:00:00Z"
    clock.move(days=1)
    asked = {"code": invited["code"], "keep": "token"}
    problem_of(Browser(app).post("/v1/devices/enrolment", asked), 401)


@pytest.mark.parametrize("name", ["kiln link/2", "ü", "a..b", "100%"])
def test_any_name_can_be_turned_out(admin: Browser, name: str) -> None:
    """Also one that an address has to write otherwise."""
    admin.post("/v1/programs", {"name": name, "role": "plant"})
    assert admin.send("DELETE", f"/v1/clients/{quote(name, safe='')}").json() == {"ended": 1}
