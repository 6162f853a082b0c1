"""A PostgreSQL server of the tests' own, on this machine, thrown away afterwards."""

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.faults.world import free_port

PROGRAMS = Path("/usr/lib/postgresql")
"""Where Debian puts each version's programs, which are not on the path."""
OWNER = "postgres"
"""PostgreSQL does not run as root; Debian's package makes this user."""
MEMORY = Path("/dev/shm")  # noqa: S108  a file system, where there is one, not a file
ROOM_BYTES = 2 * 2**30
UNLIKE_PYTHON = ("--encoding=UTF8", "--locale-provider=icu", "--icu-locale=en-US")
"""A database that sorts as a dictionary does: what relies on Python's order is found out."""


def programs() -> Path | None:
    """Give the folder of the newest server that is installed, or None."""
    found = sorted(PROGRAMS.glob("*/bin/initdb"), key=lambda p: int(p.parent.parent.name))
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    return Path(on_path).parent if on_path else None


def demand_server() -> Path:
    """Give the folder of the server's programs, or skip the test and say why."""
    found = programs()
    if found is None:
        missing = "PostgreSQL is not installed: apt-get install postgresql"
        if os.environ.get("CUSTODY_REQUIRE_ALL"):
            pytest.fail(missing)
        pytest.skip(missing)
    return found


@dataclass
class Cluster:
    """One server with its folder.

    Attributes:
        settings: What differs from a server as it comes.
    """

    bin: Path
    folder: Path
    port: int
    settings: dict[str, str]

    def url(self, database: str = "postgres") -> str:
        """The address of a database on it."""
        return f"postgresql+psycopg://custody@127.0.0.1:{self.port}/{database}"

    def run(self, program: str, *words: str) -> str:
        """Run one of its programs as its owner; what it says is in the error if it fails."""
        done = subprocess.run(
            [str(self.bin / program), *words],
            user=OWNER if os.geteuid() == 0 else None,
            cwd=self.folder,
            check=False,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, f"{program}: {done.stdout}{done.stderr}"
        return done.stdout

    def create(self) -> None:
        """Lay its files."""
        where = ["-D", str(self.folder / "data")]
        self.run("initdb", *where, *UNLIKE_PYTHON, "-U", "custody", "-A", "trust", "--no-sync")

    def start(self) -> None:
        """Start it and wait until it answers."""
        told = {
            "port": str(self.port),
            "listen_addresses": "127.0.0.1",
            "unix_socket_directories": str(self.folder),
            "max_connections": "200",
            **self.settings,
        }
        options = " ".join(f"-c {name}={value}" for name, value in told.items())
        log = str(self.folder / "log")
        # Not by `run`: the server would hold the pipe that `run` waits for.
        where = ["-D", str(self.folder / "data"), "-w", "-l", log, "-o", options]
        subprocess.run(
            [str(self.bin / "pg_ctl"), *where, "start"],
            user=OWNER if os.geteuid() == 0 else None,
            cwd=self.folder,
            check=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def stop(self, mode: str = "fast") -> None:
        """Stop it: ``fast`` in good order, ``immediate`` as if the machine had stopped."""
        self.run("pg_ctl", "-D", str(self.folder / "data"), "-m", mode, "-w", "stop")

    def made(self, database: str, *options: str) -> str:
        """Make a database; give its address."""
        where = ["-h", "127.0.0.1", "-p", str(self.port), "-U", "custody"]
        self.run("createdb", *where, *options, database)
        return self.url(database)

    def ask(self, said: str, database: str = "postgres") -> list[tuple[Any, ...]]:
        """Have it do or answer something, as whom nothing is forbidden."""
        import psycopg  # which those who test on files alone do not have

        address = self.url(database).replace("+psycopg", "")
        with psycopg.connect(address, autocommit=True) as plain:
            done = plain.execute(said.encode())
            return done.fetchall() if done.description else []


def quick() -> Path | None:
    """Where a server's syncs cost nothing, for tests that are not about what survives.

    To have it not sync at all is no choice: the service refuses such a server.
    """
    roomy = MEMORY.is_dir() and shutil.disk_usage(MEMORY).free > ROOM_BYTES
    return MEMORY if roomy and os.access(MEMORY, os.W_OK) else None


@contextmanager
def cluster(settings: dict[str, str] | None = None, where: Path | None = None) -> Iterator[Cluster]:
    """A server that runs while the block does; ``where``: the folder that its own is made in."""
    found = demand_server()
    folder = Path(tempfile.mkdtemp(prefix="custody-pg-", dir=where))
    if os.geteuid() == 0:
        owner = pwd.getpwnam(OWNER)
        os.chown(folder, owner.pw_uid, owner.pw_gid)
    made = Cluster(found, folder, free_port(), settings or {})
    try:
        made.create()
        made.start()
        yield made
        made.stop("immediate")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
