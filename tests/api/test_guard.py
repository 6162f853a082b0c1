"""What stands around every request: bodies that come late or never, threads that are all taken."""

import asyncio
from collections import deque
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from contextlib import asynccontextmanager, contextmanager
from pathlib import Path
from typing import Any

import pytest
from anyio.to_thread import current_default_thread_limiter
from starlette.types import Message, Receive, Scope, Send

from service.api import guard
from service.api.guard import Announced, BodyCap
from service.app import create_app
from service.duties import lookup
from service.settings import Settings
from service.store.store import Store
from tests.api.client import Clock

WAIT_S = 10
BAG = "/v1/events"
HUNG_UP: Message = {"type": "http.disconnect"}


def part(body: bytes, *, more: bool = False) -> Message:
    """A part of a body."""
    return {"type": "http.request", "body": body, "more_body": more}


class Wire:
    """What a server hands on: it waits until something came, then takes it, as uvicorn does."""

    def __init__(self, *came: Message) -> None:
        self._came = deque(came)
        self._any = asyncio.Event()

    def comes(self, message: Message) -> None:
        """Something comes in."""
        self._came.append(message)
        self._any.set()

    async def receive(self) -> Message:
        """Give the next of it."""
        while not self._came:
            self._any.clear()
            await self._any.wait()
        return self._came.popleft()


async def told_nobody(_: Message) -> None:
    """No answer is asked for."""


Reading = Callable[[Receive], Awaitable[Any]]


class Desk:
    """An application that reads as a test says, and notes whether it was announced."""

    def __init__(self, reading: Reading) -> None:
        self._reading = reading
        self.announced = False
        self.was_announced: bool | None = None
        self.read: Any = None

    @contextmanager
    def expected(self) -> Iterator[None]:
        """The block within which a request is announced."""
        self.announced = True
        yield
        self.announced = False

    async def __call__(self, _: Scope, receive: Receive, __: Send) -> None:
        """Read the body."""
        self.was_announced = self.announced
        self.read = await self._reading(receive)

    async def visit(self, receive: Receive, method: str = "POST", path: str = BAG) -> None:
        """Have one request come."""
        around = Announced(self, frozenset({BAG}), self.expected)
        scope = {"type": "http", "method": method, "path": path, "headers": []}
        async with asyncio.timeout(WAIT_S):
            await around(scope, receive, told_nobody)


async def all_of_it(receive: Receive) -> list[Message]:
    """Read until the body ends or the sender is gone."""
    read = [await receive()]
    while read[-1].get("more_body"):
        read.append(await receive())
    return read


@pytest.fixture(autouse=True)
def _no_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Soon is at once: a body that is not there is not waited for."""
    monkeypatch.setattr(guard, "SOON_S", 0)


# --- what is announced


@pytest.mark.parametrize(
    "parts",
    [
        [part(b"[]")],
        [part(b"")],
        [part(b"[", more=True), part(b"]")],
        [part(b"[", more=True), part(b"1", more=True), part(b"]", more=True), part(b"")],
    ],
)
def test_a_request_that_is_there_whole_is_announced(parts: list[Message]) -> None:
    """In however many parts; they are read as they came, and the announcement ends with it."""
    desk = Desk(all_of_it)
    asyncio.run(desk.visit(Wire(*parts).receive))
    assert desk.was_announced
    assert not desk.announced
    assert desk.read == parts


@pytest.mark.parametrize(("method", "path"), [("GET", BAG), ("POST", "/v1/labels")])
def test_what_brings_no_events_is_not_announced(method: str, path: str) -> None:
    """Nobody need wait for it, and nothing of it is read beforehand."""

    async def nothing(_: Receive) -> None:
        return None

    desk = Desk(nothing)
    asyncio.run(desk.visit(Wire().receive, method, path))
    assert desk.was_announced is False


def test_a_body_that_does_not_come_is_not_waited_for() -> None:
    """The request goes on without it, so that its token can be asked for."""

    async def nothing(_: Receive) -> str:
        return "asked for the token"

    desk = Desk(nothing)
    asyncio.run(desk.visit(Wire().receive))
    assert desk.was_announced is False
    assert desk.read == "asked for the token"


def test_nothing_is_lost_of_a_body_that_comes_late() -> None:
    """The parts that were there, and those that come later, in order."""
    parts = [part(b"a", more=True), part(b"b", more=True), part(b"c", more=True), part(b"d")]

    async def visit() -> Desk:
        wire = Wire(*parts[:2])

        async def late(receive: Receive) -> list[Message]:
            for each in parts[2:]:
                wire.comes(each)
            return await all_of_it(receive)

        desk = Desk(late)
        await desk.visit(wire.receive)
        return desk

    desk = asyncio.run(visit())
    assert desk.was_announced is False
    assert desk.read == parts


@pytest.mark.parametrize("before", [[], [part(b"[", more=True)]])
def test_a_sender_that_hangs_up_is_not_announced(before: list[Message]) -> None:
    """Who reads on is told so."""
    desk = Desk(all_of_it)
    asyncio.run(desk.visit(Wire(*before, HUNG_UP).receive))
    assert desk.was_announced is False
    assert desk.read == [*before, HUNG_UP]


# --- how long a body is waited for


def test_only_the_body_is_waited_for_so_long() -> None:
    """Who has sent all of it may take its time over the answer."""

    async def visit() -> list[Message]:
        wire = Wire(part(b"[", more=True), part(b"]"))
        read: list[Message] = []

        async def reading(_: Scope, receive: Receive, __: Send) -> None:
            read.extend([await receive(), await receive()])
            waiting = asyncio.ensure_future(receive())
            for _turn in range(10):
                await asyncio.sleep(0)
            wire.comes(HUNG_UP)
            read.append(await waiting)

        around = BodyCap(reading, bytes_max=10, wait_s_max=1e-9)
        await around({"type": "http", "headers": []}, wire.receive, told_nobody)
        return read

    assert asyncio.run(visit())[-1] == HUNG_UP


class Sender:
    """One request to the whole application, by the protocol between it and its server."""

    def __init__(self, app: Any) -> None:
        self._app = app

    async def ask(self, method: str, path: str, wire: Wire, token: str = "") -> tuple[int, Any]:
        """Give the status and the headers of the answer; it must come, whatever is held up."""
        sent: list[Message] = []

        async def send(message: Message) -> None:
            sent.append(message)

        headers = [(b"host", b"x"), *([(b"authorization", token.encode())] if token else [])]
        scope = {
            "type": "http", "http_version": "1.1", "method": method, "scheme": "http",
            "path": path, "raw_path": path.encode(), "query_string": b"", "headers": headers,
            "asgi": {"version": "3.0", "spec_version": "2.3"},
        }  # fmt: skip
        async with asyncio.timeout(WAIT_S):
            await self._app(scope, wire.receive, send)
        start = sent[0]
        return start["status"], {k.decode(): v.decode() for k, v in start["headers"]}


@pytest.fixture
def app(store: Store, clock: Clock, tmp_path: Path) -> Any:
    """The service with room for one request at a time, and no patience with bodies."""
    settings = Settings(_env_file=None, requests_max=1, body_s_max=1e-9, key_dir=tmp_path / "keys")
    return create_app(settings, clock, store)


def test_a_stranger_whose_body_never_comes_takes_no_room(app: Any) -> None:
    """The token is asked for without it; the next is served."""

    async def visit() -> list[int]:
        sender = Sender(app)
        stranger, _ = await sender.ask("POST", BAG, Wire())
        whole = Wire(part(b"[]"))
        served, _ = await sender.ask("POST", BAG, whole, "Bearer token-ward")
        return [stranger, served]

    assert asyncio.run(visit()) == [401, 200]


@pytest.mark.parametrize("begun", [[], [part(b"[", more=True)]])
def test_a_body_that_does_not_come_on_is_given_up(app: Any, begun: list[Message]) -> None:
    """408, and the connection is closed with it (RFC 9110 §15.5.9); the next is served."""

    async def visit() -> tuple[int, str, int]:
        sender = Sender(app)
        late, headers = await sender.ask("POST", BAG, Wire(*begun), "Bearer token-ward")
        whole = Wire(part(b"[]"))
        served, _ = await sender.ask("POST", BAG, whole, "Bearer token-ward")
        return late, headers["connection"], served

    assert asyncio.run(visit()) == (408, "close", 200)


# --- threads


@asynccontextmanager
async def all_threads_taken(app: Any) -> AsyncIterator[int]:
    """The service runs, and every thread that serves requests is busy; gives how many."""
    async with app.router.lifespan_context(app):
        threads = current_default_thread_limiter()
        most = int(threads.total_tokens)
        for number in range(most):
            threads.acquire_on_behalf_of_nowait(number)
        try:
            yield most
        finally:
            for number in range(most):
                threads.release_on_behalf_of(number)


def test_there_is_a_thread_for_every_request_one_to_sign_and_one_to_tell(app: Any) -> None:
    """A request that was announced does not wait for one: a commit would wait for it in vain."""

    async def visit() -> int:
        async with all_threads_taken(app) as most:
            return most

    assert asyncio.run(visit()) == 3


@pytest.mark.parametrize(("answers", "status"), [(True, 200), (False, 503)])
def test_health_is_told_though_all_threads_are_taken(
    app: Any, monkeypatch: pytest.MonkeyPatch, answers: bool, status: int
) -> None:
    """Good or bad: who watches would take silence for a dead service."""
    if not answers:
        monkeypatch.setattr(lookup, "answers", lambda _: False)

    async def visit() -> int:
        async with all_threads_taken(app):
            told, _ = await Sender(app).ask("GET", "/health", Wire(part(b"")))
        return told

    assert asyncio.run(visit()) == status
