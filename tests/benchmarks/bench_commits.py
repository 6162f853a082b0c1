"""Commits per event under concurrent clients: the shared commit, over real HTTP on loopback.

Run: ``.venv/bin/python -m tests.benchmarks.bench_commits``. Prints, asserts nothing.
"""

import asyncio
import json
import multiprocessing
import secrets
import socket
import sys
import tempfile
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import uuid4

import uvicorn

from scenario.hospital import load_site
from service.access.caller import Caller
from service.app import create_app
from service.custody.identifiers import new_id
from service.custody.words import Role
from service.settings import Settings
from service.store import identities
from service.store.store import Store

EVENTS = 1_600
SPAWN = multiprocessing.get_context("spawn")


def send(port: int, clients: int, told: "multiprocessing.Queue[float]") -> None:
    """Send one event a request, from so many clients at once."""
    told.put(asyncio.run(_send(port, clients)))


async def _send(port: int, clients: int) -> float:
    """A plain client: one that checks and builds as much as a library does is the slower half."""
    left = iter([_request() for _ in range(EVENTS)])

    async def work() -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        for request in left:
            writer.write(request)
            head = await reader.readuntil(b"\r\n\r\n")
            assert head.startswith(b"HTTP/1.1 200"), head
            length = int(head.lower().split(b"content-length: ")[1].split(b"\r\n")[0])
            await reader.readexactly(length)
        writer.close()

    begun = time.perf_counter()
    await asyncio.gather(*(work() for _ in range(clients)))
    return time.perf_counter() - begun


def _request() -> bytes:
    told = {
        "kind": "registered", "id": str(uuid4()), "containers": [new_id(secrets.randbelow)],
        "occurred_at": datetime.now(UTC).isoformat(), "actor": "nurse-1", "category": "red",
        "unit": "icu", "container_kind": "bag", "weight_g": 3400,
    }  # fmt: skip
    body = json.dumps(told).encode()
    head = "POST /v1/events HTTP/1.1\r\nHost: bench\r\nAuthorization: Bearer bench\r\n"
    return f"{head}Content-Length: {len(body)}\r\n\r\n".encode() + body


def main() -> None:
    """Print events a second and commits per event, for 1 to 128 clients."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store(f"sqlite:///{Path(folder) / 'bench.sqlite3'}")
        site, now = load_site(), datetime.now(UTC)
        store.set_up(site, now, b"k" * 32)
        program = Caller(site.id, "bench", Role.OFFICER)
        with store.changing(site.id) as connection:
            identities.admit(connection, program, "bench", now, now + timedelta(days=1))
        settings = Settings(
            _env_file=None, key_dir=Path(folder) / "keys", requests_per_minute=10**9
        )
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        config = uvicorn.Config(create_app(settings, store=store), port=port, log_level="error")
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run)
        thread.start()
        while not server.started:
            time.sleep(0.01)
        sys.stdout.write("clients  events/s  commits/event\n")
        for clients in (1, 8, 32, 128):
            before = store.commits
            told: multiprocessing.Queue[float] = SPAWN.Queue()
            sender = SPAWN.Process(target=send, args=(port, clients, told))
            sender.start()
            took = told.get()
            sender.join()
            ratio = (store.commits - before) / EVENTS
            sys.stdout.write(f"{clients:7}  {EVENTS / took:8.0f}  {ratio:13.3f}\n")
        server.should_exit = True
        thread.join()
        store.close()


if __name__ == "__main__":
    main()
