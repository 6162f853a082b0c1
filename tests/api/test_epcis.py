"""The doors that give the record as EPCIS events: forms, refusals, and clients that hang up."""

import asyncio
import json
from datetime import timedelta
from tempfile import TemporaryFile
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.api import spooled
from service.app import create_app
from service.custody.words import Role
from service.settings import Settings
from service.store import queries
from service.store.faults import BusyError
from service.store.store import Store
from tests.api.client import NOON, Clock, Device, ids, problem_of, sealed

PERIOD = {"from": "2026-07-01T00:00:00Z", "until": "2026-07-02T00:00:00+05:30"}


def test_an_officer_fetches_a_period(officer: Device) -> None:
    """As JSON-LD, to be kept as a file, with containers named below the labels' address."""
    [bag] = ids(1)
    officer.tell(sealed(bag))
    answer = officer.get("/v1/epcis", **PERIOD)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/ld+json"
    name = 'filename="custody-lantern-hill-20260701T000000Z-20260701T183000Z.jsonld"'
    assert answer.headers["content-disposition"] == f"attachment; {name}"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["content-length"] == str(len(answer.content))
    [event] = answer.json()["epcisBody"]["eventList"]
    assert event["epcList"] == [f"https://custody.example/id/{bag}"]


def test_a_quarters_manifest_can_be_asked_for_as_events(officer: Device) -> None:
    """By its media type; the archive stays what is given to who asks for nothing."""
    officer.tell(sealed(ids(1)[0]))
    answer = officer.get("/v1/manifests/2026-Q3", {"Accept": "application/ld+json"})
    assert answer.headers["content-type"] == "application/ld+json"
    assert 'filename="custody-lantern-hill-2026-Q3.jsonld"' in answer.headers["content-disposition"]
    assert len(answer.json()["epcisBody"]["eventList"]) == 1


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({}, "from"),
        ({"from": "2026-07-01T00:00:00Z"}, "until"),
        (PERIOD | {"until": "2026-06-01T00:00:00Z"}, "'from' must lie before 'until'"),
        (PERIOD | {"from": "2026-07-01"}, "time"),
        (PERIOD | {"form": "xml"}, "form"),
    ],
)
def test_a_period_that_is_none_is_refused(
    officer: Device, asked: dict[str, str], words: str
) -> None:
    """In words that say what to put right."""
    told = problem_of(officer.get("/v1/epcis", **asked), 422)
    assert words in json.dumps(told)


@pytest.mark.parametrize("role", [Role.WARD, Role.HANDLER, Role.PLANT])
def test_it_is_not_for_those_who_work_with_waste(http: TestClient, role: Role) -> None:
    """403, as with the record and the manifest."""
    told = problem_of(Device(http, role).get("/v1/epcis", **PERIOD), 403)
    assert "administrator, inspector, officer" in told["detail"]


def test_what_cannot_begin_is_told_as_a_problem(
    officer: Device, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not as a document that breaks off."""

    def busy(*_: Any) -> Any:
        raise BusyError("the database is busy: try again in a moment")

    monkeypatch.setattr(queries, "carriers", busy)
    told = problem_of(officer.get("/v1/epcis", **PERIOD), 503)
    assert "try again" in told["detail"]
    assert store.database._engine.pool.checkedout() == 0  # type: ignore[attr-defined]


@pytest.mark.parametrize("told_by", ["receiving", "sending"])
def test_who_reads_slowly_or_hangs_up_holds_nothing(
    officer: Device, store: Store, clock: Clock, monkeypatch: pytest.MonkeyPatch, told_by: str
) -> None:
    """No connection to the database while it is sent, and no file when the client is gone.

    Servers of ASGI up to version 2.3 say so to who listens, later ones to who goes on sending
    (ASGI specification, HTTP & WebSocket, versions 2.3 and 2.4).
    """
    officer.tell(*(sealed(b, NOON - timedelta(seconds=i)) for i, b in enumerate(ids(300))))
    app = create_app(Settings(_env_file=None), clock, store)
    version = {"receiving": "2.3", "sending": "2.4"}[told_by]
    scope = _SCOPE | {"asgi": {"version": "3.0", "spec_version": version}}
    pool: Any = store.database._engine.pool
    held: list[int] = []
    files: list[Any] = []
    gone = asyncio.Event()

    def file() -> Any:
        files.append(TemporaryFile())  # noqa: SIM115 - whether it is closed is the question
        return files[-1]

    async def receive() -> dict[str, Any]:
        await gone.wait()
        return {"type": "http.disconnect"}

    async def send(message: Any) -> None:
        if message["type"] == "http.response.body":
            assert not files[0].closed
            held.append(pool.checkedout())
            if told_by == "sending":
                raise OSError("the client is gone")
            gone.set()
            await asyncio.sleep(0)

    monkeypatch.setattr(spooled, "TemporaryFile", file)
    asyncio.run(app(scope, receive, send))
    assert held[0] == 0
    assert [each.closed for each in files] == [True]


_SCOPE = {
    "type": "http",
    "http_version": "1.1",
    "method": "GET",
    "scheme": "http",
    "path": "/v1/epcis",
    "raw_path": b"/v1/epcis",
    "query_string": b"from=2026-07-01T00:00:00Z&until=2026-07-02T00:00:00Z",
    "headers": [(b"host", b"x"), (b"authorization", b"Bearer token-officer")],
}
