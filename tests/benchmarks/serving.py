"""Servers under load: ours as its operator starts it, the peers, and the client that loads them."""

import json
import os
import secrets
import shutil
import struct
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from http.client import HTTPConnection
from pathlib import Path
from uuid import uuid4

from service.custody.identifiers import new_id
from tests.faults.world import ROOT, World, free_port

READY_S = 30
MEMORY = Path("/dev/shm")  # noqa: S108  a file system without a disk, where there is one


@cache
def client() -> Path:
    """Build the client that sends; it is kept as long as this process runs.

    Raises:
        RuntimeError: there is no C compiler.
    """
    if shutil.which("gcc") is None:
        raise RuntimeError("no gcc: the client that loads servers cannot be built (install gcc)")
    built = Path(tempfile.mkdtemp(prefix="custody-load-")) / "load"
    source = Path(__file__).with_name("load.c")
    words = ("-O2", "-D_GNU_SOURCE", "-Wall", "-Wextra", "-Werror")
    subprocess.run(["gcc", *words, "-o", str(built), str(source)], check=True)
    return built


@dataclass(frozen=True, slots=True)
class Load:
    """How a load went.

    Attributes:
        rate: Requests a second.
        p50_s, p99_s: The time that half, and 99 of 100, answers took at most.
    """

    rate: float
    p50_s: float
    p99_s: float


def requests(count: int, tokens: Sequence[str], batch: int = 0) -> Iterator[bytes]:
    """Registrations as they go over the wire, each token in turn; ``batch`` in a list each."""
    now = datetime.now(UTC).isoformat()
    for n in range(count):
        told = [_event(now) for _ in range(batch)] if batch else _event(now)
        body = json.dumps(told).encode()
        head = (
            "POST /v1/events HTTP/1.1\r\nHost: bench\r\nContent-Type: application/json\r\n"
            f"Authorization: Bearer {tokens[n % len(tokens)]}\r\n"
            f"Content-Length: {len(body)}\r\n\r\n"
        )
        yield head.encode() + body


def _event(now: str) -> dict[str, object]:
    return {
        "kind": "registered", "id": str(uuid4()), "containers": [new_id(secrets.randbelow)],
        "occurred_at": now, "actor": "nurse-1", "category": "red", "unit": "icu",
        "container_kind": "bag", "weight_g": 3400,
    }  # fmt: skip


def load(ports: Sequence[int], clients: int, sent: Iterator[bytes]) -> Load:
    """Send all of it, from so many clients at once, spread over the ports.

    Raises:
        RuntimeError: an answer was none of success, or none came.
    """
    with tempfile.NamedTemporaryFile() as file:
        for request in sent:
            file.write(struct.pack("=I", len(request)) + request)
        file.flush()
        words = [str(client()), ",".join(map(str, ports)), str(clients), file.name]
        done = subprocess.run(words, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(f"the load failed: {done.stderr}")
    took_s, count, unfit, p50, _, p99, _ = map(float, done.stdout.split())
    if unfit:
        raise RuntimeError(f"{unfit:.0f} of {count:.0f} were not taken: {done.stderr}")
    return Load(count / took_s, p50 / 1e6, p99 / 1e6)


@contextmanager
def peer(name: str, url: str = "-") -> Iterator[int]:
    """A peer that serves while the block runs; gives its port."""
    port = free_port()
    words = [sys.executable, "-m", "tests.benchmarks.peers", name, str(port), url]
    process = subprocess.Popen(words, cwd=ROOT)
    try:
        _await(port, process)
        yield port
    finally:
        process.kill()
        process.wait()


def _await(port: int, process: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + READY_S
    while not answers(port):
        if process.poll() is not None or time.monotonic() > until:
            raise RuntimeError("the peer did not come up")
        time.sleep(0.01)


def answers(port: int) -> bool:
    """Say whether a server is there and well."""
    connection = HTTPConnection("127.0.0.1", port, timeout=5)
    try:
        connection.request("GET", "/health")
        return connection.getresponse().status == 200
    except OSError:
        return False
    finally:
        connection.close()


def commits(world: World) -> float:
    """How many transactions a service has recorded entries in."""
    connection = HTTPConnection("127.0.0.1", world.port, timeout=30)
    connection.request("GET", "/metrics", headers={"Authorization": f"Bearer {world.token}"})
    text = connection.getresponse().read().decode()
    connection.close()
    [line] = [x for x in text.splitlines() if x.startswith("custody_commits_total ")]
    return float(line.split()[1])


@contextmanager
def room(*, in_memory: bool = False) -> Iterator[Path]:
    """A folder on the disk, or in memory where there is such a file system."""
    where = MEMORY if in_memory and os.access(MEMORY, os.W_OK) else None
    with tempfile.TemporaryDirectory(dir=where, prefix="custody-bench-") as name:
        yield Path(name)
