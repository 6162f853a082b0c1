"""What stands around every answer: headers that browsers heed, and caps on bodies and requests.

Plain ASGI, so that nothing is held in memory twice and streamed answers stay streamed.
"""

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SAFE_HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}
"""Set on every answer that does not set them itself (OWASP ASVS 5.0, chapter 3.4, from memory)."""


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
                for name, value in SAFE_HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, receive, send_safely)


class BodyCap:
    """Stops reading a body as soon as it is, or says that it will be, too large."""

    def __init__(self, app: ASGIApp, bytes_max: int) -> None:
        self._app = app
        self._bytes_max = bytes_max

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        declared = Headers(scope=scope).get("content-length", "")
        seen = 0

        async def receive_capped() -> Message:
            nonlocal seen
            if declared.isdecimal() and int(declared) > self._bytes_max:
                raise self._too_large()
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > self._bytes_max:
                raise self._too_large()
            return message

        await self._app(scope, receive_capped, send)

    def _too_large(self) -> HTTPException:
        return HTTPException(
            413, f"the body is larger than {self._bytes_max} bytes: send fewer events at a time"
        )


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

    Then those that came together can be committed together. One whose body trickles in is not
    waited for.
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
        first = await _first(receive)
        begun = [first]

        async def receive_on() -> Message:
            if not begun:
                return await receive()
            message = begun.pop()
            if isinstance(message, HTTPException):
                raise message  # where it is turned into an answer
            return message

        with self._expected() if _is_whole(first) else nullcontext():
            await self._app(scope, receive_on, send)


async def _first(receive: Receive) -> Message | HTTPException:
    try:
        return await receive()
    except HTTPException as error:
        return error


def _is_whole(message: Message | HTTPException) -> bool:
    return (
        not isinstance(message, HTTPException)
        and message["type"] == "http.request"
        and not message.get("more_body")
    )
