"""Devices that speak to the service over HTTP, and events as they write them."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import count
from random import Random
from typing import Any

import httpx
from fastapi.testclient import TestClient

from service.access.caller import Caller
from service.custody.identifiers import new_id, tag
from service.custody.words import Role
from service.store import identities
from service.store.store import Store

NOON = datetime(2026, 7, 1, 12, tzinfo=UTC)
LABEL_KEY = b"a key for tests, 32 bytes long!!"
_numbers = count(1)


@dataclass
class Clock:
    """A clock that stands still until it is moved."""

    now: datetime

    def __call__(self) -> datetime:
        """Give the time."""
        return self.now

    def move(self, **span: float) -> None:
        """Move it on."""
        self.now += timedelta(**span)


def let_in(store: Store, program: Caller, token: str, until: datetime) -> None:
    """Let a program in by a token that a test can know beforehand."""
    with store.changing(program.facility) as connection:
        identities.admit(connection, program, token, NOON, until)


def ids(number: int, seed: int = 1) -> list[str]:
    """Some container ids."""
    random = Random(seed)
    return [new_id(random.randrange) for _ in range(number)]


def event_id() -> str:
    """An id laid out as UUIDv7 (RFC 9562 §5.7)."""
    return f"019f1a50-0000-7000-8000-{next(_numbers):012x}"


def scanned(container: str, key: bytes = LABEL_KEY) -> str:
    """The code that a label of this container holds."""
    return f"HTTPS://CUSTODY.EXAMPLE/{container}/{tag(container, key)}"


def event(kind: str, *containers: str, at: datetime | str = NOON, **said: Any) -> dict[str, Any]:
    """An event as a device writes it."""
    written = at if isinstance(at, str) else at.isoformat()
    return {
        "id": event_id(),
        "kind": kind,
        "containers": list(containers),
        "occurred_at": written,
        "actor": "badge-1",
        **said,
    }


def sealed(container: str, at: datetime | str = NOON, **said: Any) -> dict[str, Any]:
    """A bag of soiled waste sealed in intensive care."""
    usual = {
        "category": "yellow-c",
        "unit": "icu",
        "container_kind": "bag",
        "weight_g": 3400,
        "scale": "ward-scale-a",
        "fill_fraction": 0.7,
    }
    return event("registered", container, at=at, **(usual | said))


@dataclass
class Device:
    """A device of one role with its token."""

    http: TestClient
    role: Role

    def _headers(self, more: dict[str, str] | None) -> dict[str, str]:
        return {"Authorization": f"Bearer token-{self.role}", **(more or {})}

    def get(self, address: str, headers: dict[str, str] | None = None, **asked: Any) -> Any:
        """Ask for something."""
        return self.http.get(address, params=asked, headers=self._headers(headers))

    def post(self, address: str, body: Any, headers: dict[str, str] | None = None) -> Any:
        """Send a body as JSON, or bytes as they are."""
        sent = {"content": body} if isinstance(body, bytes) else {"json": body}
        return self.http.post(address, headers=self._headers(headers), **sent)

    def tell(self, *events: dict[str, Any], headers: dict[str, str] | None = None) -> list[Any]:
        """Send events and give their outcomes; all must have been taken."""
        answer = self.post("/v1/events", list(events), headers)
        assert answer.status_code == 200, answer.text
        outcomes: list[Any] = answer.json()
        refused = [o["reason"] for o in outcomes if o["outcome"] == "refused"]
        assert not refused, refused
        return outcomes

    def container(self, container: str) -> Any:
        """Look one container up."""
        answer = self.get(f"/v1/containers/{container}")
        assert answer.status_code == 200, answer.text
        return answer.json()


def problem_of(answer: httpx.Response, status: int) -> dict[str, Any]:
    """Give the problem that an answer is, after a look at its shape (RFC 9457 §3.1)."""
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    told: dict[str, Any] = answer.json()
    assert told["type"].startswith("/problems/")
    assert told["status"] == status
    assert told["title"]
    assert told["detail"]
    assert told["instance"].startswith("/")
    return told
