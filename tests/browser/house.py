"""The service on a port of this machine, with people who can sign in, for a real browser."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import uvicorn
from starlette.types import ASGIApp, Message, Receive, Send
from starlette.types import Scope as Connection

from scenario.hospital import load_site
from service.access.caller import WHOLE, Caller, Scope
from service.app import create_app
from service.custody.words import Role
from service.duties import administrator, signing_in
from service.settings import Settings
from service.store.store import Store
from tests.api.client import LABEL_KEY

PASSWORD = "seven kettles under birch"


@dataclass(frozen=True)
class Served:
    """A running service, and how many bytes it sent of each answer, head and body."""

    address: str
    store: Store
    facility: str
    sent: list[tuple[str, int]]


class Weighed:
    """Weighs what an application answers: also what a browser fetches out of a page's sight."""

    def __init__(self, app: ASGIApp, sent: list[tuple[str, int]]) -> None:
        self._app = app
        self._sent = sent

    async def __call__(self, scope: Connection, receive: Receive, send: Send) -> None:
        """Handle one connection."""

        async def weighed(message: Message) -> None:
            size = len(message.get("body", b""))
            size += sum(len(name) + len(value) + 4 for name, value in message.get("headers", ()))
            self._sent.append((scope.get("path", ""), size))
            await send(message)

        await self._app(scope, receive, weighed)


def person(store: Store, facility: str, id_: str, role: Role, scope: Scope = WHOLE) -> None:
    """Take somebody on who can sign in with ``PASSWORD``."""
    now = datetime.now(UTC)
    head = Caller(facility, "tests", Role.ADMINISTRATOR)
    until = now.replace(year=now.year + 1) if role is Role.INSPECTOR else None
    new = administrator.NewPerson(id_, role, scope, id_, until)
    _, code = administrator.add_person(store, head, new, now)
    signing_in.set_password(store, facility, code, PASSWORD, "", now)


@contextmanager
def served(folder: Path) -> Iterator[Served]:
    """Serve the invented hospital, newly set up, until the block ends."""
    store = Store(f"sqlite:///{folder / 'custody.sqlite3'}")
    store.database.claim()
    site = load_site()
    store.set_up(site, datetime.now(UTC), LABEL_KEY)
    for role in (Role.WARD, Role.HANDLER, Role.PLANT, Role.INSPECTOR):
        person(store, site.id, f"p-{role}", role)
    settings = Settings(_env_file=None, key_dir=folder / "keys", requests_per_minute=10**9)
    with socket.create_server(("127.0.0.1", 0)) as listening:
        port = listening.getsockname()[1]
        sent: list[tuple[str, int]] = []
        app = Weighed(create_app(settings, store=store), sent)
        server = uvicorn.Server(uvicorn.Config(app, log_config=None, access_log=False))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        try:
            yield Served(f"http://localhost:{port}", store, site.id, sent)
        finally:
            server.should_exit = True
            thread.join()
            store.close()
