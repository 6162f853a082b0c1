"""What a door does with the protocol itself: headers, methods, things said twice."""

import re
from collections.abc import Callable

import httpx
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service.api.guard import OVER_TLS, SAFE_HEADERS
from service.custody.words import Role
from service.pages.static_files import names, read
from service.store.store import Store
from tests.api.browser import HOME, Browser, signed_in, take_on
from tests.api.client import Clock, Device, problem_of

EVERY = ["/health", "/v1/site", "/nowhere", "/openapi.json", "/v1/me?a=1&a=2"]
WARD = {"Authorization": "Bearer token-ward"}


def _headers(answer: httpx.Response) -> dict[str, str]:
    return {name.title(): value for name, value in answer.headers.items()}


@pytest.mark.parametrize("address", EVERY)
def test_every_answer_keeps_other_sites_and_the_devices_senses_out(
    http: TestClient, address: str
) -> None:
    """Neither a window nor a page of another site holds it; nobody sees or hears through it."""
    answer = http.get(address, headers=WARD)
    found = answer.headers
    assert SAFE_HEADERS.items() <= _headers(answer).items()
    assert found["cross-origin-opener-policy"] == "same-origin"
    assert found["cross-origin-resource-policy"] == "same-origin"
    for sense in ("camera", "microphone", "geolocation"):
        assert f"{sense}=()" in found["permissions-policy"]


@pytest.mark.parametrize("address", EVERY)
def test_over_tls_a_browser_is_told_to_stay_there(browser: Browser, address: str) -> None:
    """For a year (RFC 6797, section 6.1.1), whatever the answer."""
    found = browser.http.get(address).headers["strict-transport-security"]
    assert found == "max-age=31536000; includeSubDomains"


def test_a_fault_of_ours_tells_it_too(browser: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is answered outside of all that adds headers."""

    def fails(*_: object) -> None:
        raise RuntimeError("secret inside")

    monkeypatch.setattr("service.duties.access.recognised", fails)
    answer = browser.http.get("/v1/me", headers=WARD)
    problem_of(answer, 500)
    assert OVER_TLS.items() <= _headers(answer).items()


def test_without_tls_no_browser_is_told_so(http: TestClient) -> None:
    """RFC 6797, section 7.2: it counts for nothing there, and could be anybody's."""
    assert "strict-transport-security" not in http.get("/v1/me", headers=WARD).headers


@pytest.mark.parametrize(("proxies", "told"), [("192.0.2.7", True), ("192.0.2.8", False)])
def test_behind_a_proxy_it_is_the_proxys_word_that_counts(
    app_with: Callable[..., FastAPI], proxies: str, told: bool
) -> None:
    """If that is one of those which are trusted."""
    app = app_with(trusted_proxies=proxies)
    client = TestClient(app, base_url="http://custody.test", client=("192.0.2.7", 4711))
    found = client.get("/v1/me", headers={"X-Forwarded-Proto": "https"}).headers
    assert ("strict-transport-security" in found) is told


@pytest.mark.parametrize("method", ["TRACE", "CONNECT", "PUT", "TRACK", "OPTIONS"])
def test_a_method_that_no_door_takes_is_refused(http: TestClient, method: str) -> None:
    """TRACE would give a page the cookie back that it may not read."""
    answer = http.request(method, "/v1/me", headers=WARD)
    told = problem_of(answer, 405)
    assert answer.headers["allow"] == "GET"
    assert "token-ward" not in str(told)


@pytest.mark.parametrize(
    "name", ["X-HTTP-Method-Override", "X-HTTP-Method", "X-Method-Override", "X-Original-Method"]
)
def test_no_header_makes_another_method_of_it(http: TestClient, name: str) -> None:
    """What a proxy lets pass as reading is reading."""
    headers = {"Authorization": "Bearer token-administrator", name: "POST"}
    assert http.get("/v1/people", headers=headers).json() == {"people": []}


@pytest.mark.parametrize("name", ["X-Original-URL", "X-Rewrite-URL"])
def test_no_header_makes_another_address_of_it(http: TestClient, name: str) -> None:
    """What a proxy lets pass as this address is this address."""
    answer = http.get("/health", headers={name: "/v1/people"})
    assert answer.json() == http.get("/health").json()


@pytest.mark.parametrize(
    ("asked", "name"),
    [
        ("limit=1&limit=2", "limit"),
        ("limit=1&limit=1", "limit"),
        ("unit=icu&category=yellow-c&unit=theatres", "unit"),
        ("unit=icu&%75nit=theatres", "unit"),
        ("limit=&limit=2", "limit"),
    ],
)
def test_a_parameter_given_twice_is_refused(ward: Device, asked: str, name: str) -> None:
    """A proxy in front could have looked at the one, and the service gone by the other."""
    answer = ward.http.get(f"/v1/containers?{asked}", headers=WARD)
    assert f"'{name}' stands twice" in problem_of(answer, 422)["detail"]


def test_a_credential_given_twice_is_refused(http: TestClient) -> None:
    """It is not chosen between the two."""
    both = [("Authorization", "Bearer token-ward"), ("Authorization", "Bearer token-officer")]
    problem_of(http.get("/v1/me", headers=both), 422)


def test_a_credential_in_an_address_counts_for_nothing(http: TestClient) -> None:
    """Addresses are written down in many places (RFC 6750, section 5.3)."""
    for name in ("access_token", "token", "authorization"):
        problem_of(http.get(f"/v1/me?{name}=token-ward"), 401)


@pytest.mark.parametrize(
    ("address", "accept", "type_"),
    [
        ("/v1/site", "*/*", "application/json"),
        ("/openapi.json", "*/*", "application/json"),
        ("/nowhere", "*/*", "application/problem+json"),
        ("/v1/checkpoint", "*/*", "text/plain; charset=utf-8"),
        ("/v1/manifests/2026-Q3", "text/csv", "text/csv; charset=utf-8"),
        ("/v1/manifests/2026-Q3", "application/pdf", "application/pdf"),
    ],
)
def test_every_answer_says_what_it_is(
    officer: Device, address: str, accept: str, type_: str
) -> None:
    """Text with how its letters are written; JSON is UTF-8 by itself (RFC 8259, section 8.1)."""
    found = officer.get(address, headers={"Accept": accept})
    assert found.headers["content-type"] == type_


def test_what_is_for_keeping_is_downloaded_under_a_name_of_ours(officer: Device) -> None:
    """Nothing that was sent names a file."""
    for accept in ("application/zip", "application/pdf", "text/csv"):
        found = officer.get("/v1/manifests/2026-Q3", headers={"Accept": accept})
        said = found.headers["content-disposition"]
        assert said.startswith('attachment; filename="custody-lantern-hill-2026-Q3')


def test_a_packed_body_is_not_unpacked(ward: Device) -> None:
    """A small one could be unpacked to a huge one."""
    packed = b"\x1f\x8b\x08\x00" + b"\x00" * 100
    answer = ward.post("/v1/events", packed, {"Content-Encoding": "gzip"})
    problem_of(answer, 422)


@pytest.mark.parametrize(
    "address",
    [
        "/.env", "/.git/config", "/custody.sqlite3", "/custody-keys", "/docs", "/redoc",
        "/debug", "/server-status", "/static/../settings.py",
        "/v1/../../etc/passwd", "/v1/regimes/..%2f..%2fsettings", "/v1/regimes/%2e%2e",
    ],
)  # fmt: skip
def test_no_file_and_no_page_of_a_tool_is_served(officer: Device, address: str) -> None:
    """Neither what lies beside the service nor what its libraries could show."""
    problem_of(officer.get(address), 404)


def test_nobody_is_there_from_the_start(browser: Browser, store: Store) -> None:
    """No account comes with the service, under whatever name."""
    for name in ("admin", "administrator", "root", "custody", "test", *Role):
        problem_of(browser.sign_in(str(name), "admin"), 401)
    found = browser.http.get("/v1/people", headers={"Authorization": "Bearer token-administrator"})
    assert found.json() == {"people": []}


@pytest.mark.parametrize("address", ["/sign-in", "/begin", "/sign-in?to=<script>alert(1)</script>"])
def test_a_page_runs_only_what_the_service_serves(browser: Browser, address: str) -> None:
    """Nothing inline, nothing of another host, whatever came in the address."""
    answer = browser.get(address)
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert SAFE_HEADERS.keys() <= _headers(answer).keys()
    scripts = re.findall(r"<script\b[^>]*>", answer.text)
    assert scripts
    assert all(' src="/static/' in script for script in scripts)
    assert not re.findall(r"<[^>]*\s(?:on\w+|style)=", answer.text)
    assert all(
        found.startswith(("/", "#")) for found in re.findall(r'(?:src|href)="([^"]*)"', answer.text)
    )


@pytest.mark.parametrize(
    "address",
    [
        "/ward", "/ward/today", "/spill?stock=<b>&wanted=1&litres=1", "/run", "/leave", "/receive",
        "/load", "/find?q=<script>alert(1)</script>", "/wall", "/desk", "/balance", "/quarter",
        "/regimes", "/regimes/india-2016", "/people", "/settings", "/me",
    ],
)  # fmt: skip
def test_no_page_of_somebody_signed_in_runs_anything_else(
    browser: Browser, store: Store, clock: Clock, address: str
) -> None:
    """Every place there is: scripts and styles of the service alone, whatever was asked."""
    person = take_on(store, clock.now, "p-officer", Role.OFFICER)
    signed_in(store, browser, person, clock.now)
    answer = browser.http.get(address)
    assert answer.status_code == 200, answer.text
    policy = answer.headers["content-security-policy"]
    assert "script-src 'self';" in policy
    assert "unsafe" not in policy
    assert answer.headers["permissions-policy"].startswith("camera=(self)")
    scripts = re.findall(r"<script\b[^>]*>", answer.text)
    assert all(' src="/static/' in script for script in scripts)
    assert not re.findall(r"<[^>]*\s(?:on\w+|style)=", answer.text)
    assert 'value="<' not in answer.text


def test_no_script_of_ours_makes_markup_or_code_of_text() -> None:
    """What was recorded is shown as it stands (OWASP ASVS 5.0, 3.2.2, from memory).

    But for a part of a page that the service wrote, and escaped.
    """
    banned = re.compile(
        r"(?:inner|outer)HTML\s*\+?=(?!=| await answer\.text\(\);)|insertAdjacentHTML"
        r"|document\.write|\beval\(|new Function"
    )
    scripts = [name for name in names() if name.endswith(".js")]
    assert scripts
    assert [name for name in scripts if banned.search(read(name).decode())] == []


@pytest.mark.parametrize(
    "there",
    [
        "https://evil.example", "//evil.example", "/\\evil.example", "javascript:alert(1)",
        "/\t/evil.example", "/\n/evil.example", "/\r\\evil.example", "\t//evil.example", "",
    ],
)  # fmt: skip
def test_signing_in_leads_to_no_other_host(browser: Browser, there: str) -> None:
    """What is no address of ours leads to the beginning."""
    found = browser.get("/sign-in", to=there).text
    assert set(re.findall(r'data-to="([^"]*)"', found)) == {"/"}


def test_signing_in_leads_on_to_where_one_was_going(browser: Browser) -> None:
    """A page of the service, whatever it was asked."""
    found = browser.get("/sign-in", to="/find?q=café 7").text
    assert set(re.findall(r'data-to="([^"]*)"', found)) == {"/find?q=café 7"}


def test_a_host_that_is_made_up_leads_nowhere(browser: Browser) -> None:
    """No answer is built of the header Host; a page of another host sends nothing that counts."""
    said = {"Host": "evil.example", "Origin": HOME}
    answer = browser.http.post("/v1/sign-in", json={}, headers=said)
    problem_of(answer, 403)
    assert "evil.example" not in answer.text
