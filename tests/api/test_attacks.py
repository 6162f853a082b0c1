"""What somebody who means ill may send, and what comes of it."""

from datetime import timedelta
from typing import Any
from urllib.parse import quote

import httpx
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from scenario.hospital import load_site
from service.access.caller import Caller
from service.custody.words import Role
from service.duties import administrator
from service.duties.administrator import NewPerson
from service.store.store import Store
from service.web.credentials import SESSION_COOKIE
from tests.api.browser import (
    ADMINISTRATOR,
    FACILITY,
    HOME,
    PASSWORD,
    Browser,
    signed_in,
    take_on,
    with_password,
)
from tests.api.client import LABEL_KEY, Clock, Device, event, ids, problem_of, sealed

ELSEWHERE = Caller("elsewhere", "command line", Role.ADMINISTRATOR)


@pytest.fixture
def admin(browser: Browser, store: Store, clock: Clock) -> Browser:
    """A browser at which an administrator is signed in."""
    signed_in(store, browser, take_on(store, clock.now, "p-admin", Role.ADMINISTRATOR), clock.now)
    return browser


# --- sessions taken over


def test_a_session_that_was_planted_is_not_taken_over(
    app: FastAPI, browser: Browser, store: Store, clock: Clock
) -> None:
    """Session fixation: who signs in has a token that nobody knew before."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    browser.come_with(session="planted-by-somebody-else-43-characters-long")
    answer = browser.sign_in("p-desk")
    assert "planted" not in answer.headers["set-cookie"]
    thief = Browser(app)
    thief.come_with(session="planted-by-somebody-else-43-characters-long")
    problem_of(thief.get("/v1/me"), 401)


def test_signing_in_again_ends_the_session_before(
    app: FastAPI, browser: Browser, store: Store, clock: Clock
) -> None:
    """Whosever it was (OWASP ASVS 5.0, 7.2.4, from memory)."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    with_password(store, clock.now, "p-other", Role.WARD)
    browser.sign_in("p-desk")
    before = browser.session
    browser.sign_in("p-other")
    assert browser.get("/v1/me").json()["id"] == "p-other"
    thief = Browser(app)
    thief.come_with(session=before)
    problem_of(thief.get("/v1/me"), 401)


def test_a_sign_in_that_fails_ends_nothing(browser: Browser, store: Store, clock: Clock) -> None:
    """Who mistypes at a desk that is signed in stays signed in."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    browser.sign_in("p-desk")
    problem_of(browser.sign_in("p-desk", "not the password at all"), 401)
    assert browser.get("/v1/me").status_code == 200


def test_a_session_is_no_token_and_a_token_no_session(
    browser: Browser, store: Store, clock: Clock
) -> None:
    """Each is worth nothing in the other's place."""
    person = take_on(store, clock.now, "p-desk", Role.WARD)
    token = signed_in(store, browser, person, clock.now)
    bearer = {"Authorization": f"Bearer {token}"}
    browser.come_with()
    problem_of(browser.http.get("/v1/me", headers=bearer), 401)
    browser.come_with(session="token-ward")
    problem_of(browser.get("/v1/me"), 401)


# --- sent by another site


FOREIGN: list[dict[str, str]] = [
    {},
    {"Origin": "https://evil.example"},
    {"Origin": "null"},
    {"Origin": "https://custody.test.evil.example"},
    {"Origin": "https://custody.test:8443"},
    {"Origin": "https://evil.example/custody.test"},
    {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"},
    {"Sec-Fetch-Site": "none"},
    {"Sec-Fetch-Site": "cross-site", "Origin": HOME},
]


@pytest.mark.parametrize("said", FOREIGN)
def test_what_another_site_has_a_browser_send_is_turned_away(
    admin: Browser, said: dict[str, str]
) -> None:
    """With the cookie it came with, and before anything was done."""
    body = {"name": "x", "role": "administrator", "id": "p-forged"}
    problem_of(admin.http.post("/v1/people", json=body, headers=said), 403)
    problem_of(admin.http.delete("/v1/people/p-admin/sessions", headers=said), 403)
    assert [p["id"] for p in admin.get("/v1/people").json()["people"]] == ["p-admin"]


@pytest.mark.parametrize("said", FOREIGN)
def test_another_site_signs_nobody_in(
    browser: Browser, store: Store, clock: Clock, said: dict[str, str]
) -> None:
    """Or what a nurse records would go to an account of the other's choice."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    body = {"person": "p-desk", "password": PASSWORD}
    answer = browser.http.post("/v1/sign-in", json=body, headers=said)
    problem_of(answer, 403)
    assert "set-cookie" not in answer.headers


def test_nothing_lets_other_sites_read(admin: Browser) -> None:
    """No answer bears a header of CORS (Fetch standard), to whatever is asked beforehand."""
    asked = {"Origin": "https://evil.example", "Access-Control-Request-Method": "POST"}
    for answer in (
        admin.http.options("/v1/people", headers=asked),
        admin.http.get("/v1/people", headers=asked),
    ):
        assert not [name for name in answer.headers if name.startswith("access-control")]


# --- more than was asked


@pytest.mark.parametrize(
    ("method", "address", "body"),
    [
        ("POST", "/v1/sign-in", {"person": "p-admin", "password": "x", "role": "administrator"}),
        ("POST", "/v1/sign-in", {"person": "p-admin", "password": "x", "proof": "second_factor"}),
        ("POST", "/v1/people", {"name": "x", "role": "ward", "facility": "elsewhere"}),
        ("POST", "/v1/people", {"name": "x", "role": "ward", "password": "chosen"}),
        ("PATCH", "/v1/people/p-admin", {"id": "p-other"}),
        ("PATCH", "/v1/people/p-admin", {"disabled_at": None}),
        ("PATCH", "/v1/people/p-admin", {"scope": {"units": [], "facility": "elsewhere"}}),
        ("POST", "/v1/me/password", {"old": "x", "new": "y", "person": "p-other"}),
        ("POST", "/v1/programs", {"name": "x", "role": "ward", "kind": "device"}),
        ("POST", "/v1/devices", {"name": "x", "role": "ward", "expires_at": "2100-01-01"}),
    ],
)
def test_a_field_that_was_not_asked_for_is_refused(
    admin: Browser, method: str, address: str, body: dict[str, Any]
) -> None:
    """Mass assignment: nothing is passed over, so nothing is taken by mistake."""
    told = problem_of(admin.send(method, address, body), 422)
    assert told["errors"]


@pytest.mark.parametrize(
    "body",
    [
        b'{"person": "p-desk", "person": "p-admin", "password": "x"}',
        b'{"person": NaN, "password": "x"}',
        b'{"a":' * 100_000,
        b"[" * 150_000,
        b'{"person": ' + b"9" * 5_000 + b"}",
        b"\xff\xfe{}",
        b"",
    ],
)
def test_a_body_that_is_made_to_break_breaks_nothing(browser: Browser, body: bytes) -> None:
    """Nested without end, with a name twice, with a number of thousands of digits."""
    answer = browser.http.post("/v1/sign-in", content=body, headers={"Origin": HOME})
    assert answer.status_code in (413, 422)
    problem_of(answer, answer.status_code)


def test_a_body_without_end_is_not_read(browser: Browser) -> None:
    """Before anybody is known it is bounded as after."""
    body = b'{"person": "' + b"x" * 300_000 + b'"}'
    problem_of(browser.http.post("/v1/sign-in", content=body, headers={"Origin": HOME}), 413)


# --- texts that mean something elsewhere


@pytest.mark.parametrize("text", ["x\r\nSet-Cookie: a=b", "x\ny", "x\x00y", "x\x7fy"])
def test_a_name_cannot_end_a_line(admin: Browser, handler: Device, text: str) -> None:
    """So it cannot add a header, nor a line of the log, wherever it comes out."""
    problem_of(admin.post("/v1/people", {"name": text, "role": "ward"}), 422)
    problem_of(admin.post("/v1/programs", {"name": text, "role": "ward"}), 422)
    leaving = event("dispatched", *ids(1), carrier="carrier-quillow", consignee="plant-kiln")
    answer = handler.post("/v1/consignments", leaving | {"consignment": text})
    problem_of(answer, 422)
    assert "set-cookie" not in answer.headers


SQL = ["p-admin' OR '1'='1", "'; DROP TABLE person; --", "p-admin%", "p_admin"]


@pytest.mark.parametrize("text", SQL)
def test_sql_in_place_of_an_id_finds_and_harms_nothing(admin: Browser, text: str) -> None:
    """It is a value and never part of a question."""
    problem_of(admin.get(f"/v1/people/{quote(text, safe='')}"), 422)
    problem_of(admin.send("DELETE", f"/v1/clients/{quote(text, safe='')}"), 404)
    problem_of(admin.sign_in(text), 401)
    assert admin.get("/v1/containers", unit=text).status_code in (200, 422)
    assert [p["id"] for p in admin.get("/v1/people").json()["people"]] == ["p-admin"]


@pytest.mark.parametrize(
    "text", ["{{7*7}}", "${7*7}", "<script>alert(1)</script>", "%(name)s {0}", "=1+1", "@SUM(A1)"]
)
def test_text_that_is_code_elsewhere_comes_back_as_it_was(admin: Browser, text: str) -> None:
    """As JSON, which no browser takes for a page."""
    added = admin.post("/v1/people", {"name": text, "role": "ward", "id": "p-new"})
    assert added.json()["person"]["name"] == text
    found = admin.get("/v1/people/p-new")
    assert found.json()["name"] == text
    assert found.headers["content-type"] == "application/json"
    assert found.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("first", ["=", "+", "-", "@"])
def test_a_formula_typed_into_the_record_is_text_in_the_export(
    handler: Device, officer: Device, first: str
) -> None:
    """A spreadsheet would run it on the officer's machine (OWASP, CSV injection)."""
    formula = f'{first}HYPERLINK("https://evil.example")'
    leaving = {"carrier": "carrier-quillow", "consignee": "plant-kiln", "consignment": formula}
    handler.tell(event("dispatched", *ids(1), **leaving))
    answer = officer.get("/v1/manifests/2026-Q3", headers={"Accept": "text/csv"})
    assert "HYPERLINK" in answer.text
    for cell in answer.text.replace('"', "").replace("\r\n", ",").split(","):
        assert not cell.startswith(f"{first}HYPERLINK")
    assert f"'{first}HYPERLINK" in answer.text


# --- sent elsewhere, kept elsewhere


@pytest.mark.parametrize(
    "address",
    ["//evil.example", "//evil.example/v1/me", "/v1/people/", "/v1/me?next=https://evil.example"],
)
def test_nobody_is_sent_elsewhere(admin: Browser, address: str) -> None:
    """No address and no header of the caller's makes an answer lead to another host."""
    for host in ("custody.test", "evil.example"):
        answer = admin.http.get(f"{HOME}{address}", headers={"Host": host}, follow_redirects=False)
        assert "location" not in answer.headers
        assert "evil.example" not in str(answer.headers)


def test_what_is_private_is_kept_in_no_cache(admin: Browser, browser: Browser) -> None:
    """Neither a good answer nor a problem; a shared tablet goes from hand to hand."""
    answers: list[httpx.Response] = [
        admin.get("/v1/me"),
        admin.get("/v1/people"),
        admin.get("/v1/access-log"),
        admin.post("/v1/programs", {"name": "x", "role": "ward"}),
        admin.get("/v1/people/p-nobody"),
        admin.get("/v1/nothing"),
        admin.sign_in("p-nobody"),
        admin.post("/v1/sign-out"),
    ]
    assert {answer.headers["cache-control"] for answer in answers} == {"no-store"}


# --- another's


def test_one_facilitys_administrator_reaches_nobody_of_another(
    app: FastAPI, admin: Browser, store: Store, clock: Clock
) -> None:
    """The facility is the session's own, whatever id is guessed."""
    store.set_up(load_site().model_copy(update={"id": "elsewhere"}), clock.now, LABEL_KEY)
    new = NewPerson("Tove Sandgren", Role.WARD, id="p-theirs")
    administrator.add_person(store, ELSEWHERE, new, clock.now)
    administrator.invite_device(store, ELSEWHERE, "their-tablet", Role.WARD, new.scope, clock.now)
    for method, address in (
        ("GET", "/v1/people/p-theirs"),
        ("PATCH", "/v1/people/p-theirs"),
        ("POST", "/v1/people/p-theirs/activation"),
        ("POST", "/v1/people/p-theirs/badge"),
        ("DELETE", "/v1/people/p-theirs/badge"),
        ("DELETE", "/v1/people/p-theirs/second-factor"),
        ("DELETE", "/v1/people/p-theirs/sessions"),
        ("DELETE", "/v1/clients/their-tablet"),
    ):
        body = {"name": "x"} if method == "PATCH" else None
        problem_of(admin.send(method, address, body), 404)
    for address in ("/v1/people", "/v1/clients", "/v1/access-log"):
        assert "their" not in admin.get(address).text
        assert "Sandgren" not in admin.get(address).text


def test_the_same_id_elsewhere_is_somebody_else(app: FastAPI, store: Store, clock: Clock) -> None:
    """A password set at one facility opens nothing at another."""
    store.set_up(load_site().model_copy(update={"id": "elsewhere"}), clock.now, LABEL_KEY)
    with_password(store, clock.now, "p-desk", Role.WARD)
    new = NewPerson("Tove Sandgren", Role.WARD, id="p-desk")
    administrator.add_person(store, ELSEWHERE, new, clock.now)
    desk = Browser(app)
    problem_of(desk.sign_in("p-desk", facility="elsewhere"), 401)
    assert desk.sign_in("p-desk", facility=FACILITY).json()["facility"] == FACILITY


def test_a_revoked_token_and_an_ended_session_are_worth_nothing(
    http: TestClient, admin: Browser, store: Store, clock: Clock, ward: Device
) -> None:
    """Nor does sending it again after a while, or with others, bring it back."""
    token = administrator.admit_program(
        store, ADMINISTRATOR, "link", Role.WARD, clock.now, timedelta(days=1)
    )
    bearer = {"Authorization": f"Bearer {token}"}
    assert http.get("/v1/me", headers=bearer).status_code == 200
    admin.send("DELETE", "/v1/clients/link")
    session = admin.session
    problem_of(admin.http.get("/v1/me", headers=bearer), 401)
    admin.post("/v1/sign-out")
    for _ in range(2):
        problem_of(http.get("/v1/me", headers=bearer), 401)
        problem_of(http.get("/v1/me", headers={"Cookie": f"{SESSION_COOKIE}={session}"}), 401)
        clock.move(minutes=1)


def test_a_good_token_does_not_lend_itself_to_a_bad_session(admin: Browser, ward: Device) -> None:
    """Of two credentials the weaker's is not added to the stronger's: a program stays itself."""
    headers = {"Authorization": "Bearer token-ward", "Origin": HOME}
    assert admin.http.get("/v1/me", headers=headers).json()["id"] == "ward-device"
    problem_of(admin.http.post("/v1/people", json={}, headers=headers), 403)


def test_a_bag_recorded_by_nobody_known_is_not_recorded(http: TestClient, ward: Device) -> None:
    """A cookie of a device that was never enrolled is none."""
    [bag] = ids(1)
    said = {"Origin": "http://testserver", "Cookie": "__Host-custody-device=guess"}
    problem_of(http.post("/v1/events", json=[sealed(bag)], headers=said), 401)
    problem_of(ward.get(f"/v1/containers/{bag}"), 404)
