"""The service on a port of this machine, with people who can sign in, for a real browser."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import uvicorn

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
    """A running service."""

    address: str
    store: Store
    facility: str


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
        app = create_app(settings, store=store)
        server = uvicorn.Server(uvicorn.Config(app, log_config=None, access_log=False))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        thread.start()
        try:
            yield Served(f"http://localhost:{port}", store, site.id)
        finally:
            server.should_exit = True
            thread.join()
            store.close()
