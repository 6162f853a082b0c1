"""Signing in and out over HTTP: what the cookies are like, and what is told of what went wrong."""

import json
from collections.abc import Callable
from datetime import datetime
from http.cookies import SimpleCookie
from typing import Any

import httpx
import pyotp
import pytest
from fastapi import FastAPI

from scenario.hospital import load_site
from service.custody.words import Role
from service.store.store import Store
from service.web.credentials import DEVICE_COOKIE, SESSION_COOKIE
from tests.api.browser import (
    PASSWORD,
    Browser,
    enrolled,
    signed_in,
    take_on,
    with_badge,
    with_password,
)
from tests.api.client import LABEL_KEY, Clock, problem_of

ANOTHER = "nine brown otters sleep by day"


def _cookie(answer: httpx.Response, name: str) -> Any:
    """Give the one cookie of that name that an answer sets."""
    found = [SimpleCookie(line) for line in answer.headers.get_list("set-cookie")]
    [one] = [cookie[name] for cookie in found if name in cookie]
    return one


def _code(secret: str, at: datetime) -> str:
    return pyotp.TOTP(secret).at(at)


def test_who_signs_in_has_a_cookie_that_no_script_and_no_other_site_gets(
    browser: Browser, store: Store, clock: Clock
) -> None:
    """``__Host-`` binds it to this host over TLS (RFC 6265bis §4.1.3.2, from memory)."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    answer = browser.sign_in("p-desk")
    assert answer.status_code == 200, answer.text
    assert answer.json() == {
        "facility": "lantern-hill",
        "id": "p-desk",
        "name": "Ila Marrow",
        "kind": "person",
        "role": "ward",
        "scope": {"units": [], "parties": []},
        "device": None,
        "proof": "password",
        "confined": False,
    }
    cookie = _cookie(answer, SESSION_COOKIE)
    assert SESSION_COOKIE.startswith("__Host-")
    assert cookie["secure"] and cookie["httponly"]
    assert (cookie["samesite"], cookie["path"], cookie["domain"]) == ("lax", "/", "")
    assert cookie["max-age"] == str(10 * 3600)
    assert cookie.value not in answer.text
    assert len(cookie.value) >= 43
    assert browser.get("/v1/me").json() == answer.json()


@pytest.mark.parametrize("who", ["p-desk", "p-nobody", "P DESK", "p-new", "p-shut"])
def test_one_answer_for_all_that_is_wrong(
    browser: Browser, store: Store, clock: Clock, who: str
) -> None:
    """Wrong password, unknown person, one without a password yet: nobody learns who there is."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    take_on(store, clock.now, "p-new", Role.WARD)
    told = problem_of(browser.sign_in(who, "not the password at all"), 401)
    assert told == problem_of(browser.sign_in("p-other", "not the password at all"), 401)
    assert "p-" not in told["detail"]
    assert browser.session == ""


def test_signing_out_ends_the_session_and_takes_the_cookie(
    browser: Browser, store: Store, clock: Clock
) -> None:
    """What the browser has in its storage stays: there may lie what was not sent yet."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    browser.sign_in("p-desk")
    token = browser.session
    answer = browser.post("/v1/sign-out")
    assert answer.json() == {"ended": 1}
    cookie = _cookie(answer, SESSION_COOKIE)
    assert (cookie.value, cookie["max-age"], cookie["secure"]) == ("", "0", True)
    assert answer.headers["clear-site-data"] == '"cache"'
    assert browser.session == ""
    browser.come_with(session=token)
    problem_of(browser.get("/v1/me"), 401)


def test_all_sessions_are_listed_and_ended_at_once(
    app: FastAPI, store: Store, clock: Clock
) -> None:
    """Latest first; the one that asks is marked; the token of none is told."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    first, second = Browser(app), Browser(app)
    first.sign_in("p-desk")
    clock.move(minutes=5)
    second.sign_in("p-desk")
    answer = first.get("/v1/me/sessions")
    assert [s["current"] for s in answer.json()["sessions"]] == [False, True]
    assert first.session not in answer.text
    assert first.post("/v1/sign-out/everywhere").json() == {"ended": 2}
    problem_of(second.get("/v1/me"), 401)


def test_a_session_ends_without_use_and_at_its_end(
    browser: Browser, store: Store, clock: Clock
) -> None:
    """At a desk after half an hour without use; after ten hours whatever comes."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    browser.sign_in("p-desk")
    clock.move(minutes=29)
    assert browser.get("/v1/me").status_code == 200
    clock.move(minutes=30)
    problem_of(browser.get("/v1/me"), 401)


def test_a_first_password_is_set_with_a_code_that_works_once(
    browser: Browser, store: Store, clock: Clock
) -> None:
    """The answer says with which id to sign in; the code is used up."""
    admin = take_on(store, clock.now, "p-admin", Role.ADMINISTRATOR)
    signed_in(store, browser, admin, clock.now)
    added = browser.post("/v1/people", {"name": "Ila Marrow", "role": "ward"}).json()
    code = added["activation"]["activation"]
    browser.come_with()
    set_it = {"activation": code, "password": PASSWORD}
    answer = browser.post("/v1/password", set_it)
    assert answer.json() == {"person": added["person"]["id"]}
    assert browser.sign_in(added["person"]["id"]).status_code == 200
    browser.come_with()
    problem_of(browser.post("/v1/password", set_it), 401)


def test_a_password_that_is_easily_guessed_is_refused(
    browser: Browser, store: Store, clock: Clock
) -> None:
    """With the reason, and without repeating it."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    browser.sign_in("p-desk")
    told = problem_of(browser.post("/v1/me/password", {"old": PASSWORD, "new": "password"}), 422)
    assert '"password"' not in told["detail"]
    assert browser.post("/v1/me/password", {"old": PASSWORD, "new": ANOTHER}).status_code == 200
    assert browser.get("/v1/me").status_code == 200


def test_a_wrong_old_password_changes_nothing(browser: Browser, store: Store, clock: Clock) -> None:
    """Whoever finds a screen unlocked cannot take the account over."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    browser.sign_in("p-desk")
    problem_of(browser.post("/v1/me/password", {"old": "not it at all", "new": ANOTHER}), 401)
    browser.come_with()
    assert browser.sign_in("p-desk").status_code == 200


def test_an_officer_sets_a_second_factor_before_anything_else(
    browser: Browser, store: Store, clock: Clock
) -> None:
    """Then the session is another one, and the code is asked for at every sign-in."""
    with_password(store, clock.now, "p-officer", Role.OFFICER)
    assert browser.sign_in("p-officer").json()["confined"] is True
    before = browser.session
    told = problem_of(browser.get("/v1/people"), 403)
    assert "second factor" in told["detail"]
    offer = browser.post("/v1/me/second-factor").json()
    assert offer["uri"].startswith("otpauth://totp/")
    confirm = {"code": _code(offer["secret"], clock.now)}
    answer = browser.post("/v1/me/second-factor/confirmation", confirm)
    assert (answer.json()["proof"], answer.json()["confined"]) == ("second_factor", False)
    assert browser.session not in ("", before)
    assert browser.get("/v1/people").status_code == 200

    clock.move(minutes=2)
    browser.come_with(session=before)
    problem_of(browser.get("/v1/me"), 401)
    problem_of(browser.sign_in("p-officer"), 401)
    code = _code(offer["secret"], clock.now)
    assert browser.sign_in("p-officer", code=code).json()["proof"] == "second_factor"
    browser.come_with()
    problem_of(browser.sign_in("p-officer", code=code), 401)


def test_a_badge_opens_a_session_on_an_enrolled_device_alone(
    app: FastAPI, store: Store, clock: Clock
) -> None:
    """The first PIN is changed on the way; elsewhere badge and PIN are worth nothing."""
    badge = with_badge(store, clock.now, "p-nurse", Role.WARD)
    tablet, elsewhere = Browser(app), Browser(app)
    enrolled(store, tablet, clock.now)
    told = problem_of(tablet.sign_in_by_badge(badge), 409)
    assert told["type"] == "/problems/new-pin"
    answer = tablet.sign_in_by_badge(badge, new_pin="41709352")
    assert answer.status_code == 200, answer.text
    assert (answer.json()["device"], answer.json()["proof"]) == ("ward-tablet-3", "badge")
    badge.pin = "41709352"
    problem_of(elsewhere.sign_in_by_badge(badge), 401)
    changed = tablet.post("/v1/me/pin", {"old": "41709352", "new": "80231647"})
    assert changed.status_code == 200, changed.text
    elsewhere.come_with(session=tablet.session)
    problem_of(elsewhere.get("/v1/me"), 401)
    tablet.post("/v1/sign-out")
    alone = tablet.get("/v1/me").json()
    assert (alone["kind"], alone["name"]) == ("device", None)
    badge.pin = "80231647"
    assert tablet.sign_in_by_badge(badge).status_code == 200


def test_who_fails_too_often_waits(browser: Browser, store: Store, clock: Clock) -> None:
    """429 with the seconds; after them it goes on, so nobody is locked out for good."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    for _ in range(25):
        answer = browser.sign_in("p-desk", "not the password at all")
        if answer.status_code != 401:
            break
    problem_of(answer, 429)
    assert 0 < int(answer.headers["retry-after"]) <= 3600
    assert browser.session == ""
    clock.move(hours=1)
    assert browser.sign_in("p-desk").status_code == 200


def test_a_device_keeps_its_token_in_a_cookie_or_is_told_it(
    app: FastAPI, store: Store, clock: Clock
) -> None:
    """A browser is never told it; a program is, and sends it as a header."""
    tablet = Browser(app)
    answer = enrolled(store, tablet, clock.now)
    cookie = _cookie(answer, DEVICE_COOKIE)
    assert answer.json()["token"] is None
    assert cookie["httponly"] and cookie["secure"] and cookie["samesite"] == "lax"
    assert int(cookie["max-age"]) > 86_400
    assert tablet.get("/v1/me").json()["kind"] == "device"
    told = problem_of(tablet.post("/v1/sign-out"), 403)
    assert "signed in" in told["detail"]


def test_a_code_of_enrolment_works_once(browser: Browser, store: Store, clock: Clock) -> None:
    """Whoever finds the note of it is too late."""
    admin = take_on(store, clock.now, "p-admin", Role.ADMINISTRATOR)
    signed_in(store, browser, admin, clock.now)
    invited = browser.post("/v1/devices", {"name": "scanner", "role": "handler"}).json()
    browser.come_with()
    asked = {"code": invited["code"], "keep": "token"}
    first = browser.post("/v1/devices/enrolment", asked)
    assert first.status_code == 201, first.text
    bearer = {"Authorization": f"Bearer {first.json()['token']}"}
    assert browser.http.get("/v1/me", headers=bearer).json()["id"] == "scanner"
    assert "set-cookie" not in first.headers
    problem_of(browser.post("/v1/devices/enrolment", asked), 401)


def test_where_several_facilities_are_kept_one_is_named(
    browser: Browser, store: Store, clock: Clock
) -> None:
    """It is asked for before anything is compared."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    store.set_up(load_site().model_copy(update={"id": "elsewhere"}), clock.now, LABEL_KEY)
    told = problem_of(browser.sign_in("p-desk"), 422)
    assert "facility" in told["detail"]
    problem_of(browser.sign_in("p-desk", facility="elsewhere"), 401)
    problem_of(browser.sign_in("p-desk", facility="nowhere"), 401)
    assert browser.sign_in("p-desk", facility="lantern-hill").status_code == 200


@pytest.mark.parametrize(
    ("address", "body"),
    [
        ("/v1/sign-in", {"person": "p-desk", "password": "hunter-secret" * 99}),
        ("/v1/sign-in", {"person": "p-desk", "password": ["hunter-secret"]}),
        ("/v1/sign-in", {"person": "p-desk", "password": "x", "code": {"a": "hunter-secret"}}),
        ("/v1/sign-in/badge", {"badge": "hunter-secret" * 99, "pin": "1"}),
        ("/v1/password", {"activation": "hunter-secret" * 99, "password": "x"}),
        ("/v1/devices/enrolment", {"code": "x", "keep": "hunter-secret"}),
    ],
)
def test_what_is_malformed_is_not_repeated(browser: Browser, address: str, body: Any) -> None:
    """A secret in a wrong place goes back to nobody."""
    answer = browser.post(address, body)
    problem_of(answer, 422)
    assert "hunter-secret" not in answer.text


@pytest.mark.parametrize("secret", ["\ud800", "a\x00b", "é" * 200, " "])
def test_a_secret_may_hold_any_character_and_breaks_nothing(browser: Browser, secret: str) -> None:
    """Half a character is refused as what it is; all others are compared."""
    body = json.dumps({"person": "p-desk", "password": secret})
    headers = {"Origin": "https://custody.test"}
    answer = browser.http.post("/v1/sign-in", content=body.encode(), headers=headers)
    problem_of(answer, 422 if secret == "\ud800" else 401)


def test_a_session_that_ended_leaves_the_device_known(
    app_with: Callable[..., FastAPI], store: Store, clock: Clock
) -> None:
    """What waits on the tablet can still be sent after the shift."""
    tablet = Browser(app_with())
    badge = with_badge(store, clock.now, "p-nurse", Role.WARD)
    enrolled(store, tablet, clock.now)
    tablet.sign_in_by_badge(badge, new_pin="41709352")
    clock.move(hours=14)
    assert tablet.get("/v1/me").json()["kind"] == "device"
