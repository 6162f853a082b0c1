"""A service of its own process on a folder of its own, to be started, killed and looked into."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from typing import Any

from typer.testing import CliRunner, Result

from scenario.hospital import load_site
from service.cli import app
from service.custody.words import Role
from service.duties import administrator, officer
from service.duties.access import Caller
from service.store.store import Store

ROOT = Path(__file__).parent.parent.parent
DATABASE = "custody.sqlite3"
READY_S = 120
"""How long a service may take to start or stop; on a busy machine, and it is no measurement."""
SERVE = ("-c", "from service.start import custody; custody()", "serve")
"""The product as its operator starts it."""


@dataclass(frozen=True)
class Blank:
    """A facility that was just set up, in a folder to be copied from, and an officer's token."""

    folder: Path
    facility: str
    token: str


def set_up(folder: Path, url: str = "") -> Blank:
    """Set up the invented hospital in an empty folder, or in the database of that address."""
    folder.mkdir(parents=True, exist_ok=True)
    store = Store(url or f"sqlite:///{folder / DATABASE}")
    site, now = load_site(), datetime.now(UTC)
    caller = Caller(site.id, "fault tests", Role.ADMINISTRATOR)
    officer.set_up(store, caller, site, now)
    days = timedelta(days=3650)
    token = administrator.admit_program(store, caller, "officer", Role.OFFICER, now, days)
    store.close()
    return Blank(folder, site.id, token)


def free_port() -> int:
    """A port on which nothing listens now."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def commands() -> set[str]:
    """The commands that the operator has."""
    return {str(c.name or getattr(c.callback, "__name__", "")) for c in app.registered_commands}


class NotReadyError(RuntimeError):
    """The service did not come up; the message holds what it said."""


@dataclass
class World:
    """A folder with a database in it, and the service that runs on it, if it does."""

    folder: Path
    facility: str
    token: str
    environment: dict[str, str] = field(default_factory=dict)
    command: tuple[str, ...] = SERVE
    port: int = 0
    server: str = ""
    _process: subprocess.Popen[bytes] | None = None

    @classmethod
    def copy_of(cls, blank: Blank, folder: Path, **said: Any) -> "World":
        """A world that begins with a facility just set up."""
        shutil.copytree(blank.folder, folder)
        return cls(folder, blank.facility, blank.token, **said)

    @property
    def database(self) -> Path:
        """The database file."""
        return self.folder / DATABASE

    @property
    def url(self) -> str:
        """Its address, or that of the server where the record is kept instead."""
        return self.server or f"sqlite:///{self.database}"

    def _settings(self) -> dict[str, str]:
        keys = str(self.folder / "keys")
        return {
            "CUSTODY_DATABASE_URL": self.url,
            "CUSTODY_KEY_DIR": keys,
            "CUSTODY_REQUESTS_PER_MINUTE": "1000000000",  # one device sends what a town would
        }

    # --- the service

    def launch(self) -> subprocess.Popen[bytes]:
        """Start a service process on the folder; what it says goes to a file beside the record."""
        self.port = free_port()
        environment = os.environ | self._settings() | self.environment
        with (self.folder / "service.log").open("ab") as said:
            return subprocess.Popen(
                [sys.executable, *self.command, "--port", str(self.port)],
                cwd=ROOT,
                env=environment,
                stdout=said,
                stderr=said,
            )

    def start(self) -> float:
        """Start the service and wait until it is ready; give how many seconds that took.

        Raises:
            NotReadyError: it ended, or was not ready in time.
        """
        self.kill()
        began = time.monotonic()
        self._process = self.launch()
        while not self.is_ready():
            if self._process.poll() is not None or time.monotonic() - began > READY_S:
                self.kill()
                said = (self.folder / "service.log").read_text("utf-8", "replace")[-2000:]
                raise NotReadyError(f"the service did not come up: {said}")
            time.sleep(0.02)  # between two looks at /health, never instead of one
        assert self._process.poll() is None, "it is another service that answers"
        return time.monotonic() - began

    def is_ready(self) -> bool:
        """Say whether the service answers that it can work."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=5)
        try:
            connection.request("GET", "/health")
            return connection.getresponse().status == 200
        except (OSError, HTTPException):
            return False
        finally:
            connection.close()

    def kill(self) -> None:
        """End the service as kill -9 does: it can do nothing more."""
        self._end(signal.SIGKILL)

    def stop(self) -> None:
        """End the service in good order."""
        self._end(signal.SIGTERM)

    def _end(self, how: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(timeout=READY_S)
            self._process = None

    def __enter__(self) -> "World":
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()

    # --- the operator's commands, while the service is down

    def run(self, *words: str) -> Result:
        """Run a command of the operator; a traceback is a fault of the command."""
        assert words[0] in commands(), f"the command custody {words[0]} is not there yet"
        result = CliRunner(env=self._settings()).invoke(app, list(words))
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    def checked(self) -> list[str]:
        """Have the database checked; what it finds wrong, as sentences."""
        if "check" not in commands():
            return ["the command custody check is not there yet"]
        result = self.run("check")
        return [] if result.exit_code == 0 else [f"custody check says: {result.output}"]

    def entries(self) -> list[tuple[int, dict[str, Any]]]:
        """The whole record as the service gives it: numbers and events in order of arrival.

        A server whose process was killed may go on for a moment before it ends all others: whoever
        is told to come again then does.
        """
        found: list[tuple[int, dict[str, Any]]] = []
        after, until = 0, time.monotonic() + READY_S
        while True:
            status, page = self.ask(f"/v1/events?after={after}&limit=1000")
            if status == 503 and time.monotonic() < until:
                continue
            assert status == 200, page
            found += ((e["seq"], e["event"]) for e in page["entries"])
            if not page["entries"]:
                return found
            after = page["next"]

    def ask(self, address: str) -> tuple[int, Any]:
        """Ask the service for something."""
        from tests.faults.clients import Line  # it needs a world

        with Line(self.port, self.token) as line:
            answer = line.send("GET", address)
            return answer.status, answer.body
