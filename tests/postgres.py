"""A PostgreSQL server of the tests' own, on this machine, thrown away afterwards."""

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from tests.faults.world import free_port
from tests.needs import without

PROGRAMS = Path("/usr/lib/postgresql")
"""Where Debian puts each version's programs, which are not on the path."""
OWNER = "postgres"
"""PostgreSQL does not run as root; Debian's package makes this user."""
MEMORY = Path("/dev/shm")  # noqa: S108  a file system, where there is one, not a file
READY_S, GONE_S = 60, 20
READY = ("ready", "standby")
HOW = {"fast": signal.SIGINT, "immediate": signal.SIGQUIT}
"""PostgreSQL's manual, "Shutting Down the Server"."""
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
        without("PostgreSQL is not installed: apt-get install postgresql")
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
    _process: subprocess.Popen[bytes] | None = None

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
        where = ["-D", str(self.data)]
        self.run("initdb", *where, *UNLIKE_PYTHON, "-U", "custody", "-A", "trust", "--no-sync")

    def start(self) -> None:
        """Start it and wait until it answers."""
        told = {
            "port": str(self.port),
            "listen_addresses": "127.0.0.1",
            "unix_socket_directories": str(self.folder),
            "max_connections": "200",
            # In its own folder, which is removed; the system's own would outlive a kill.
            "dynamic_shared_memory_type": "mmap",
            **self.settings,
        }
        options = [word for name, value in told.items() for word in ("-c", f"{name}={value}")]
        with (self.folder / "log").open("ab") as log:
            # A child of ours, not of `pg_ctl`: when it was killed, it is we who are asked about it.
            self._process = subprocess.Popen(
                [str(self.bin / "postgres"), "-D", str(self.data), *options],
                user=OWNER if os.geteuid() == 0 else None,
                group=OWNER if os.geteuid() == 0 else None,
                extra_groups=[] if os.geteuid() == 0 else None,
                cwd=self.folder,
                stdout=log,
                stderr=log,
            )
        end = time.monotonic() + READY_S
        while not self._is_ready():
            said = (self.folder / "log").read_text()[-2000:]
            assert self._process.poll() is None and time.monotonic() < end, said
            time.sleep(0.02)  # between two looks

    def _is_ready(self) -> bool:
        """Say whether it takes connections: it says so in its own file, under its own number."""
        try:
            said = (self.data / "postmaster.pid").read_text().split()
        except FileNotFoundError:
            return False
        return said[:1] == [str(self._process and self._process.pid)] and said[-1] in READY

    @property
    def data(self) -> Path:
        """The folder of its files."""
        return self.folder / "data"

    def processes(self) -> list[int]:
        """Its processes that run now: those that work in the folder of its files (Linux)."""
        found = []
        for each in Path("/proc").glob("[0-9]*/cwd"):
            with suppress(OSError):  # it ended meanwhile, or is somebody else's
                if each.readlink() == self.data:
                    found.append(int(each.parent.name))
        return found

    def kill(self, *, all_at_once: bool = False) -> None:
        """End its first process as ``kill -9`` does; the others notice, or go with it.

        ``all_at_once``: as when its machine fails, but for what is in that one's memory of files.
        """
        assert self._process is not None, "it was never started"
        self._process.kill()
        self._process.wait()
        end = time.monotonic() + GONE_S
        while held := self.processes():
            assert time.monotonic() < end, "the server's processes do not end"
            for pid in held if all_at_once else ():
                with suppress(ProcessLookupError):  # it ended meanwhile
                    os.kill(pid, signal.SIGKILL)
            time.sleep(0.002)  # between two looks

    def copied(self, name: str) -> "Cluster":
        """A second server that takes what this one writes, and can be put in its place."""
        other = replace(self, folder=self.folder / name, port=free_port())
        _owned(other.folder)
        where = ["-h", "127.0.0.1", "-p", str(self.port), "-U", "custody"]
        self.run("pg_basebackup", *where, "-D", str(other.data), "-R", "-c", "fast", "--no-sync")
        return other

    def promote(self) -> None:
        """Have a server that only followed another take entries itself."""
        self.run("pg_ctl", "-D", str(self.data), "-w", "promote")

    def stop(self, mode: str = "fast") -> None:
        """Stop it: ``fast`` in good order, ``immediate`` as if the machine had stopped."""
        assert self._process is not None, "it was never started"
        self._process.send_signal(HOW[mode])
        self._process.wait(GONE_S)

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
    _owned(folder)
    made = Cluster(found, folder, free_port(), settings or {})
    try:
        made.create()
        made.start()
        yield made
    finally:
        if made.processes():
            made.kill(all_at_once=True)
        shutil.rmtree(folder, ignore_errors=True)


def _owned(folder: Path) -> None:
    """Make a folder that the server may write in."""
    folder.mkdir(exist_ok=True)
    if os.geteuid() == 0:
        owner = pwd.getpwnam(OWNER)
        os.chown(folder, owner.pw_uid, owner.pw_gid)
