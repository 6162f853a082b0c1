"""What passes: an id for every request, a line of the log for each, and how often each may come.

Plain ASGI, as ``guard``; all of it is of one process and forgotten with it.
"""

import hashlib
import logging
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from functools import lru_cache
from math import ceil
from random import Random
from typing import Any

from fastapi import FastAPI
from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from service.access.throttle import source_of
from service.api.access_problems import later
from service.settings import Settings
from service.web.credentials import DEVICE_COOKIE, SESSION_COOKIE

SIGN_INS = frozenset({"/v1/sign-in", "/v1/sign-in/badge", "/v1/password", "/v1/devices/enrolment"})
"""Where somebody not known yet shows a secret that could be guessed at."""
REMEMBERED = 20_000
"""Callers and addresses counted at a time; of more, who came longest ago is forgotten."""
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
_MINUTE_S = 60.0

_log = logging.getLogger("custody.requests")
_IDS = Random(secrets.randbits(128))  # noqa: S311
"""Ids of requests are no secrets: asking the kernel for each has this thread wait for others."""
Who = tuple[str, str]
"""Facility and name of a caller, or nothing and an address."""


def install_access(app: FastAPI, settings: Settings) -> None:
    """Put all of this around an application; what is put around it later stands outside."""
    app.add_middleware(
        Rate,
        requests_a_minute=settings.requests_per_minute,
        failures_a_minute=settings.failed_sign_ins_per_minute,
    )
    app.add_middleware(RequestLines)
    app.add_middleware(RequestId)
    if settings.trusted_proxies:
        hosts = [host.strip() for host in settings.trusted_proxies.split(",")]
        app.add_middleware(ProxyHeadersMiddleware, trusted_hosts=hosts)


class RequestId:
    """Gives every request an id of our own making, and its answer the header ``Request-Id``."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        given = f"{_IDS.getrandbits(96):024x}"
        scope.setdefault("state", {})["request_id"] = given

        async def send_with_id(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message)["Request-Id"] = given
            await send(message)

        await self._app(scope, receive, send_with_id)


class RequestLines:
    """Writes a line for every request: what was asked for by its pattern, never as it was sent."""

    def __init__(self, app: ASGIApp, clock: Callable[[], float] = time.monotonic) -> None:
        self._app = app
        self._clock = clock

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        begun = self._clock()
        told = Answered(send)
        try:
            await self._app(scope, receive, told.send)
        except BaseException:
            told.status = told.status or 500
            raise
        finally:
            _log.info("request", extra=_line(scope, told.status, self._clock() - begun))


class Meter:
    """How often each may come: so many a minute, at once or spread out.

    The generic cell rate algorithm (ITU-T I.371, from memory): kept of each is only the time at
    which all that it did would be done at an even pace, which may lie a minute ahead.
    """

    def __init__(self, a_minute: int, remembered: int = REMEMBERED) -> None:
        self._apart = _MINUTE_S / a_minute
        self._remembered = remembered
        self._done: OrderedDict[Who, float] = OrderedDict()

    def wait(self, who: Who, now: float) -> float:
        """Give the seconds until one more may come, 0 if it may now; counts nothing."""
        ahead = self._done.get(who, now) - now
        return max(0.0, ahead + self._apart - _MINUTE_S)

    def count(self, who: Who, now: float, times: int = 1) -> None:
        """Count that it came; -1 takes back what was counted."""
        self._done[who] = max(self._done.get(who, now), now) + times * self._apart
        self._done.move_to_end(who)
        while len(self._done) > self._remembered:
            self._done.popitem(last=False)


class Rate:
    """Turns away who comes too often: a caller whom a credential made known, else an address.

    A credential counts as a caller only once it was found good: made-up ones are their address's.
    Of an address, attempts that fail are counted apart and more tightly; who is known already goes
    on coming from it, for a whole hospital may have one address.
    """

    def __init__(
        self,
        app: ASGIApp,
        requests_a_minute: int,
        failures_a_minute: int,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._app = app
        self._clock = clock
        self._requests = Meter(requests_a_minute)
        self._failures = Meter(failures_a_minute)
        self._known: OrderedDict[bytes, Who] = OrderedDict()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http" or scope["path"] == "/health":
            await self._app(scope, receive, send)
            return
        request, now = Request(scope), self._clock()
        address, shown = ("", _address(scope)), _shown(request)
        known = self._known.get(shown)
        wait = self._requests.wait(known or address, now)
        if known is None:
            wait = max(wait, self._failures.wait(address, now))
        if wait:
            why = "too many requests, or too many that failed: come again in a moment"
            await later(request, why, ceil(wait))(scope, receive, send)
            return
        self._requests.count(known or address, now)
        # Counted before it is known to fail: many guesses sent at once are all counted.
        guess = known is None and scope["path"] in SIGN_INS
        if guess:
            self._failures.count(address, now)
        told = Answered(send)
        try:
            await self._app(scope, receive, told.send)
        finally:
            failed = told.status == 401
            if guess and not failed:
                self._failures.count(address, now, -1)
            self._learn(scope, shown)
            if failed and not guess and shown and shown not in self._known:
                self._failures.count(address, self._clock())

    def _learn(self, scope: Scope, shown: bytes) -> None:
        """Remember whose the credential is, or that it is nobody's any more."""
        caller = _caller(scope)
        if shown and caller is not None:
            self._known[shown] = (caller.facility, caller.name)
            self._known.move_to_end(shown)
            while len(self._known) > REMEMBERED:
                self._known.popitem(last=False)
        elif scope["path"] not in SIGN_INS:
            self._known.pop(shown, None)


class Answered:
    """Sends on, and keeps the status of the answer; 0 as long as there is none."""

    def __init__(self, send: Send) -> None:
        self._send = send
        self.status = 0

    async def send(self, message: Message) -> None:
        """Send on a message of the answer."""
        if message["type"] == "http.response.start":
            self.status = message["status"]
        await self._send(message)


def _caller(scope: Scope) -> Any:
    return scope.get("state", {}).get("caller")


def _line(scope: Scope, status: int, seconds: float) -> dict[str, Any]:
    caller, method = _caller(scope), scope["method"]
    return {
        "method": method if method in METHODS else "other",
        "route": getattr(scope.get("route"), "path", ""),
        "status": status,
        "ms": round(seconds * 1000, 1),
        "request": scope.get("state", {}).get("request_id", ""),
        "facility": caller.facility if caller else "",
        "actor": caller.name if caller else "",
    }


def _address(scope: Scope) -> str:
    return _source_of(scope["client"][0] if scope.get("client") else "")


_source_of = lru_cache(maxsize=1_024)(source_of)


def _shown(request: Request) -> bytes:
    """Give a hash of the credentials that came along; empty where none did."""
    cookies = request.cookies
    parts = (
        request.headers.get("authorization", ""),
        cookies.get(DEVICE_COOKIE, ""),
        cookies.get(SESSION_COOKIE, ""),
    )
    return hashlib.sha256("\n".join(parts).encode()).digest() if any(parts) else b""
