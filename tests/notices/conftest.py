"""Programs and a mail server that are told, on this machine."""

import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest
from aiosmtpd.controller import Controller

from tests.faults.world import free_port


@dataclass
class Program:
    """A program that takes requests, and answers each with the next of its statuses."""

    url: str = ""
    statuses: list[int] = field(default_factory=list)
    requests: list[tuple[dict[str, str], bytes]] = field(default_factory=list)
    told: threading.Event = field(default_factory=threading.Event)


@pytest.fixture
def program() -> Iterator[Program]:
    """A program that answers 204 unless told otherwise."""
    found = Program()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            found.requests.append((dict(self.headers.items()), body))
            found.told.set()
            self.send_response(found.statuses.pop(0) if found.statuses else 204)
            self.send_header("Location", "/elsewhere")
            self.end_headers()

        def log_message(self, *_: object) -> None:
            return None

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    found.url = f"http://127.0.0.1:{server.server_port}/hook?from=custody"
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield found
    server.shutdown()
    thread.join()
    server.server_close()


@dataclass
class Letters:
    """What came to a mail server, and whom it does not know."""

    port: int = 0
    unknown: set[str] = field(default_factory=set)
    came: list[tuple[list[str], bytes]] = field(default_factory=list)

    async def handle_RCPT(  # noqa: N802
        self, _server: Any, _session: Any, envelope: Any, address: str, _options: Any
    ) -> str:
        """Take an address that is known."""
        if address in self.unknown:
            return "550 nobody of that name"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802
        """Take a letter."""
        self.came.append((list(envelope.rcpt_tos), envelope.content))
        return "250 OK"


@pytest.fixture
def letters() -> Iterator[Letters]:
    """A mail server."""
    found = Letters(free_port())
    server = Controller(found, hostname="127.0.0.1", port=found.port)
    server.start()
    yield found
    server.stop()
