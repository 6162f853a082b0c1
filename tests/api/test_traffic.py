"""What passes: an id for each request, and how often each may come; a ward is never locked out."""

import asyncio
import re
from collections.abc import Callable
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from starlette.types import Message, Receive, Scope, Send
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from service.access.caller import Caller
from service.access.permissions import OPEN_TO_ALL
from service.api import traffic
from service.api.routers import ROUTERS
from service.api.traffic import SIGN_INS, Meter, Rate, RequestId
from service.custody.words import Role
from service.settings import Settings
from tests.api.client import problem_of

WARD = Caller("lantern-hill", "ward-tablet-3", Role.WARD)


class Seconds:
    """A clock in seconds that a test moves."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        """Give the time."""
        return self.now


class Desk:
    """A service that knows the token "good", and notes who came through to it."""

    def __init__(self) -> None:
        self.came: list[str] = []
        self.good = {"Bearer good"}

    async def __call__(self, scope: Scope, _: Receive, send: Send) -> None:
        """Answer 200 to who is known, 401 to all others."""
        headers = dict(scope["headers"])
        shown = headers.get(b"authorization", b"").decode()
        self.came.append(shown)
        if shown in self.good:
            scope["state"]["caller"] = WARD
        status = 200 if shown in self.good or scope["path"] == "/open" else 401
        await send({"type": "http.response.start", "status": status, "headers": []})
        await send({"type": "http.response.body", "body": b""})


class Street:
    """The way to the desk, past the counting of who comes."""

    def __init__(self, requests: int = 5, failures: int = 2) -> None:
        self.seconds = Seconds()
        self.desk = Desk()
        self._rate = Rate(self.desk, requests, failures, self.seconds)

    def come(self, shown: str = "", path: str = "/open", host: str = "192.0.2.7") -> int:
        """Send a request; give the status of its answer."""
        return int(self.ask(shown, path, host)["status"])

    def ask(self, shown: str = "", path: str = "/open", host: str = "192.0.2.7") -> Message:
        """Send a request; give the start of its answer."""
        return asyncio.run(_asked(self._rate, shown, path, host))


async def _asked(app: Any, shown: str, path: str, host: str) -> Message:
    headers = [(b"authorization", shown.encode())] if shown else []
    scope: Scope = {
        "type": "http",
        "method": "POST",
        "path": path,
        "query_string": b"",
        "headers": headers,
        "client": (host, 4711),
        "state": {},
    }
    sent: list[Message] = []

    async def send(message: Message) -> None:
        sent.append(message)

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    await app(scope, receive, send)
    return sent[0]


# --- the meter


def test_a_minutes_worth_may_come_at_once() -> None:
    """Then one in each share of a minute."""
    meter, who = Meter(4), ("", "192.0.2.7")
    for _ in range(4):
        assert meter.wait(who, 0) == 0
        meter.count(who, 0)
    assert meter.wait(who, 0) == pytest.approx(15)
    assert meter.wait(who, 14.9) > 0
    assert meter.wait(who, 15) == 0
    assert meter.wait(("", "192.0.2.8"), 0) == 0


@given(st.integers(1, 50), st.lists(st.floats(0, 20), max_size=300))
def test_never_more_than_two_minutes_worth_in_any_minute(limit: int, gaps: list[float]) -> None:
    """However it is spread: a minute's worth at once, and what falls due within the minute."""
    meter, who, now, taken = Meter(limit), ("", "x"), 0.0, []
    for gap in gaps:
        now += gap
        if meter.wait(who, now) == 0:
            meter.count(who, now)
            taken.append(now)
    for begin in taken:
        assert sum(begin <= t < begin + 60 for t in taken) <= 2 * limit


def test_what_is_remembered_is_bounded() -> None:
    """Who sends from ever new addresses takes no memory without end."""
    meter = Meter(1, remembered=3)
    for number in range(1_000):
        meter.count(("", str(number)), 0)
    assert len(meter._done) == 3
    assert meter.wait(("", "999"), 0) > 0


# --- the rate


def test_who_comes_too_often_is_told_when_to_come_again() -> None:
    """429 with whole seconds; after them it goes on."""
    street = Street(requests=6)
    assert [street.come() for _ in range(6)] == [200] * 6
    answer = street.ask()
    assert answer["status"] == 429
    headers = dict(answer["headers"])
    assert headers[b"retry-after"] == b"10"
    assert headers[b"content-type"] == b"application/problem+json"
    assert headers[b"cache-control"] == b"no-store"
    assert len(street.desk.came) == 6
    street.seconds.now = 10
    assert street.come() == 200


def test_a_health_check_is_never_turned_away() -> None:
    """Whoever watches the service learns of it, not of the rate."""
    street = Street(requests=1)
    assert {street.come(path="/health") for _ in range(9)} == {401}


def test_addresses_are_counted_apart_and_an_ipv6_network_as_one() -> None:
    """A customer is given a /64 at least (RFC 6177, from memory): its addresses are one sender."""
    street = Street(requests=1)
    assert street.come(host="192.0.2.1") == 200
    assert street.come(host="192.0.2.2") == 200
    assert street.come(host="::ffff:192.0.2.2") == 429
    assert street.come(host="2001:db8::1") == 200
    assert street.come(host="2001:db8::2:1") == 429
    assert street.come(host="2001:db8:0:1::1") == 200


def test_made_up_tokens_are_their_addresses() -> None:
    """Another token with each request is no way around the rate."""
    street = Street(requests=3, failures=100)
    assert [street.come(f"Bearer {n}") for n in range(5)] == [200, 200, 200, 429, 429]


def test_a_known_device_has_a_rate_of_its_own() -> None:
    """What others do at the same address does not touch it, nor it them."""
    street = Street(requests=3)
    assert street.come("Bearer good") == 200
    assert [street.come() for _ in range(3)] == [200, 200, 429]
    assert [street.come("Bearer good") for _ in range(4)] == [200, 200, 200, 429]


def test_failed_attempts_are_counted_more_tightly() -> None:
    """Of an address; the words are the same, whichever limit was reached."""
    street = Street(requests=100, failures=2)
    assert [street.come("Bearer bad", "/v1/site") for _ in range(3)] == [401, 401, 429]
    assert street.come("Bearer bad", "/v1/site", host="192.0.2.8") == 401


def test_a_ward_goes_on_while_somebody_guesses_from_its_address() -> None:
    """The tablet that was known stays known; new sign-ins at that address wait a moment."""
    street = Street(requests=100, failures=2)
    assert street.come("Bearer good") == 200
    for _ in range(20):
        street.come(path="/v1/sign-in")
    assert street.come(path="/v1/sign-in") == 429
    assert {street.come("Bearer good") for _ in range(20)} == {200}
    street.seconds.now = 30
    assert street.come(path="/v1/sign-in") == 401


def test_guesses_sent_all_at_once_are_all_counted() -> None:
    """The limit holds for those under way too, not only for those that were answered."""
    street = Street(requests=100, failures=2)

    async def at_once() -> list[int]:
        asked = (_asked(street._rate, "", "/v1/sign-in", "192.0.2.7") for _ in range(9))
        return [int(answer["status"]) for answer in await asyncio.gather(*asked)]

    assert sorted(asyncio.run(at_once())) == [401, 401] + [429] * 7


def test_a_sign_in_that_succeeds_is_no_failure() -> None:
    """What was counted beforehand is given back."""
    street = Street(requests=100, failures=2)
    street.desk.good.add("")
    assert {street.come(path="/v1/sign-in") for _ in range(9)} == {200}


def test_who_asks_without_a_credential_guesses_nothing() -> None:
    """A page whose session has ended asks in vain; that is no attempt."""
    street = Street(requests=100, failures=2)
    assert {street.come(path="/v1/me") for _ in range(9)} == {401}


def test_a_token_that_was_ended_is_known_no_more() -> None:
    """It counts as its address's from then on."""
    street = Street(requests=100, failures=2)
    assert street.come("Bearer good") == 200
    street.desk.good.clear()
    assert [street.come("Bearer good", "/v1/site") for _ in range(4)] == [401, 401, 429, 429]


def test_every_door_where_secrets_are_guessed_is_watched() -> None:
    """They are the ones open to all, but for health."""
    open_doors = {
        route.path
        for router in ROUTERS
        for route in router.routes
        if getattr(route, "operation_id", "") in OPEN_TO_ALL - {"health"}
    }
    assert open_doors == SIGN_INS


# --- the id


def test_every_answer_bears_an_id_of_our_own(app: FastAPI) -> None:
    """A caller's is not taken over: it could be made to look like another's."""
    http = TestClient(app)
    theirs = {"Request-Id": "mine", "X-Request-Id": "mine"}
    answers = [http.get("/health", headers=theirs), http.get("/v1/me", headers=theirs)]
    ids = {answer.headers["request-id"] for answer in answers}
    assert len(ids) == 2
    assert all(re.fullmatch("[0-9a-f]{24}", given) for given in ids)


def test_the_application_turns_away_who_comes_too_often(
    app_with: Callable[..., FastAPI],
) -> None:
    """As a problem, with an id to ask about."""
    http = TestClient(app_with(requests_per_minute=3))
    assert [http.get("/openapi.json").status_code for _ in range(3)] == [200] * 3
    answer = http.get("/openapi.json")
    problem_of(answer, 429)
    assert 0 < int(answer.headers["retry-after"]) <= 20
    assert answer.headers["request-id"]
    assert http.get("/health").status_code == 200


# --- proxies


def _sent_by(app: FastAPI, forwarded: str) -> int:
    headers = {"X-Forwarded-For": forwarded}
    return TestClient(app, client=("10.0.0.2", 1)).get("/v1/me", headers=headers).status_code


def test_only_a_trusted_proxy_says_whom_it_speaks_for(app_with: Callable[..., FastAPI]) -> None:
    """Without one, the header is anybody's word and is passed over."""
    alone = app_with(requests_per_minute=1)
    assert [_sent_by(alone, f"198.51.100.{n}") for n in (1, 2)] == [401, 429]
    behind = app_with(requests_per_minute=1, trusted_proxies="10.0.0.0/8, 192.0.2.9")
    assert [_sent_by(behind, f"198.51.100.{n}") for n in (1, 2, 1)] == [401, 401, 429]
    # What the sender itself put before is not believed: the proxy's own word comes last.
    assert _sent_by(behind, "203.0.113.5, 198.51.100.1") == 429


@pytest.mark.parametrize("given", ["*", "everybody", "10.0.0.1/8", "10.0.0.300"])
def test_a_proxy_is_trusted_by_address_alone(given: str) -> None:
    """To trust all would be to let everybody say who they are."""
    with pytest.raises(ValidationError, match="trusted_proxies"):
        Settings(_env_file=None, trusted_proxies=given)


def test_the_order_in_which_they_stand(app_with: Callable[..., FastAPI]) -> None:
    """The address is known first, then the id, then the line; nothing is counted without one."""
    stands = [m.cls for m in app_with(trusted_proxies="10.0.0.0/8").user_middleware]
    ours: list[Any] = [ProxyHeadersMiddleware, RequestId, traffic.RequestLines, Rate]
    assert stands[: len(ours)] == ours
