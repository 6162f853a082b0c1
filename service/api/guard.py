"""What stands around every answer: headers that browsers heed, and bounds on bodies and requests.

Plain ASGI, so that nothing is held in memory twice and streamed answers stay streamed.
"""

import asyncio
from collections import deque
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, nullcontext, suppress
from types import MappingProxyType
from urllib.parse import parse_qsl

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SAFE_HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}
"""Set on every answer that does not set them itself (OWASP ASVS 5.0, chapter 3.4, from memory)."""

OVER_TLS = {"Strict-Transport-Security": "max-age=31536000; includeSubDomains"}
"""Set on what goes out over TLS, and nowhere else (RFC 6797, section 7.2)."""

SOON_S = 0.05
"""How long a body may take to come whole for its request to be announced."""


def safe_headers(scope: Scope) -> dict[str, str]:
    """Give the headers for the answer to a request.

    A server or a trusted proxy says by which scheme it came.
    """
    return SAFE_HEADERS | (OVER_TLS if scope.get("scheme") == "https" else {})


class SafeHeaders:
    """Adds the safe headers to every answer."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in safe_headers(scope).items():
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, receive, send_safely)


class BodyCap:
    """Stops reading a body once it is, or says that it will be, too large, or does not come on.

    ``larger`` names the addresses that take more. A fault is told again however often the body is
    asked for.
    """

    def __init__(
        self,
        app: ASGIApp,
        bytes_max: int,
        wait_s_max: float,
        larger: Mapping[str, int] = MappingProxyType({}),
    ) -> None:
        self._app = app
        self._bytes_max = bytes_max
        self._larger = larger
        self._wait_s_max = wait_s_max

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        most = self._larger.get(scope.get("path", ""), self._bytes_max)
        declared = Headers(scope=scope).get("content-length", "")
        seen = int(declared) if declared.isdecimal() and int(declared) > most else 0
        coming = True

        async def receive_capped() -> Message:
            nonlocal seen, coming
            if seen > most:
                raise _too_large(most)
            message = await (self._in_time(receive) if coming else receive())
            coming = bool(message.get("more_body"))
            seen += len(message.get("body", b""))
            if seen > most:
                raise _too_large(most)
            return message

        await self._app(scope, receive_capped, send)

    async def _in_time(self, receive: Receive) -> Message:
        try:
            async with asyncio.timeout(self._wait_s_max):
                return await receive()
        except TimeoutError as error:
            raise HTTPException(
                408,
                f"nothing of the body came for {self._wait_s_max:g} s: send the same again",
                {"Connection": "close"},  # what may come after all is no new request
            ) from error


def _too_large(most: int) -> HTTPException:
    return HTTPException(413, f"the body is larger than {most} bytes: send less at a time")


class NamedOnce:
    """Turns away a request to a door that says one thing twice: each reader could take another.

    Names in the address, and the header with the credential. A page may be asked about several.
    """

    def __init__(
        self, app: ASGIApp, doors: str, otherwise: Callable[[Request, str], Response]
    ) -> None:
        self._app = app
        self._doors = doors
        self._otherwise = otherwise

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        door = scope["type"] == "http" and scope["path"].startswith(self._doors)
        twice = _said_twice(scope) if door else ""
        answer = self._otherwise(Request(scope), twice) if twice else self._app
        await answer(scope, receive, send)


def _said_twice(scope: Scope) -> str:
    if len(Headers(scope=scope).getlist("authorization")) > 1:
        return "Authorization"
    asked: str = scope["query_string"].decode("latin-1")
    seen: set[str] = set()
    for name, _ in parse_qsl(asked, keep_blank_values=True):
        if name in seen:
            return name
        seen.add(name)
    return ""


class Room:
    """Takes so many requests at a time; who comes beyond that is told to come again, at once.

    Nobody waits unseen: a queue without end would only put off the refusal, and take memory.
    """

    def __init__(
        self, app: ASGIApp, requests_max: int, otherwise: Callable[[Request], Response]
    ) -> None:
        self._app = app
        self._most = requests_max
        self._otherwise = otherwise
        self._inside = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http" or scope["path"] == "/health":
            await self._app(scope, receive, send)
            return
        if self._inside >= self._most:
            await self._otherwise(Request(scope))(scope, receive, send)
            return
        self._inside += 1
        try:
            await self._app(scope, receive, send)
        finally:
            self._inside -= 1


class Announced:
    """Announces a request that brings events as soon as all of it has come.

    Then those that came together can be committed together. One whose body takes longer than
    ``SOON_S`` goes on unannounced: it is not waited for, and its token is asked for without it.
    """

    def __init__(
        self,
        app: ASGIApp,
        paths: frozenset[str],
        expected: Callable[[], AbstractContextManager[None]],
    ) -> None:
        self._app = app
        self._paths = paths
        self._expected = expected

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        brings = scope["type"] == "http" and scope["method"] == "POST"
        if not brings or scope["path"] not in self._paths:
            await self._app(scope, receive, send)
            return
        begun = await _begun(receive)

        async def receive_on() -> Message:
            return begun.popleft() if begun else await receive()

        with self._expected() if _is_whole(begun) else nullcontext():
            await self._app(scope, receive_on, send)


async def _begun(receive: Receive) -> deque[Message]:
    """Take what comes of a body soon; a fault in it is told again to who reads on.

    A server's ``receive`` that is called off has taken nothing: it waits, then takes.
    """
    begun: deque[Message] = deque()
    with suppress(TimeoutError, HTTPException):
        async with asyncio.timeout(SOON_S):
            while not begun or begun[-1].get("more_body"):
                begun.append(await receive())
    return begun


def _is_whole(begun: deque[Message]) -> bool:
    return bool(begun) and begun[-1]["type"] == "http.request" and not begun[-1].get("more_body")
