"""The service's own log: one line a request, by pattern and id, and nothing of what was sent."""

import io
import json
import logging
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service import logs
from service.duties import lookup
from tests.api.client import Device, ids, sealed

ALLOWED = {
    "event", "level", "logger", "timestamp",
    "method", "route", "status", "ms", "request", "facility", "actor",
}  # fmt: skip


@pytest.fixture
def written(request: pytest.FixtureRequest) -> Iterator[io.StringIO]:
    """What is logged meanwhile, as JSON or as the test asks; the loggers are then as before."""
    names = ["", "uvicorn.access", *logs.OURS]
    loggers = [logging.getLogger(name) for name in names]
    before = [(x.handlers[:], x.level, x.propagate) for x in loggers]
    stream = io.StringIO()
    logs.set_up(getattr(request, "param", "json"), stream)
    yield stream
    for logger, (handlers, level, propagate) in zip(loggers, before, strict=True):
        logger.handlers, logger.propagate = handlers, propagate
        logger.setLevel(level)


def _lines(written: io.StringIO) -> list[dict[str, Any]]:
    return [json.loads(line) for line in written.getvalue().splitlines()]


def test_a_line_tells_who_asked_for_what_and_how_it_went(
    ward: Device, written: io.StringIO
) -> None:
    """By the pattern of the address: which container was looked up stays between the two."""
    [bag] = ids(1)
    answer = ward.get(f"/v1/containers/{bag}", headers={"X-Secret": "in-a-header"})
    [line] = _lines(written)
    assert set(line) == ALLOWED
    assert line["event"] == "request"
    assert line["method"] == "GET"
    assert line["route"] == "/v1/containers/{container}"
    assert line["status"] == 404
    assert line["ms"] >= 0
    assert line["request"] == answer.headers["request-id"]
    assert (line["facility"], line["actor"]) == ("lantern-hill", "ward-device")
    assert line["timestamp"].endswith("Z")


def test_nothing_of_what_was_sent_is_in_the_log(
    http: TestClient, ward: Device, written: io.StringIO
) -> None:
    """No address, query, header, cookie or body; not of what is refused either."""
    [bag] = ids(1)
    ward.tell(sealed(bag, note="note-of-a-body"))
    ward.get("/v1/containers", unit="unit-of-a-query")
    http.get("/nowhere/name-of-a-path?x=unit-of-a-query")
    http.get("/v1/site", headers={"Authorization": "Bearer token-of-nobody"})
    http.cookies.set("__Host-custody", "token-of-a-cookie")
    http.post("/v1/sign-in", content=b'{"person": "person-x", "password": "word-of-a-body"')
    http.request("STEAL-name-of-a-method", "/v1/site")
    text = written.getvalue()
    for told in (bag, "-of-", "token", "person-x", "testclient"):
        assert told not in text, told
    assert [line["status"] for line in _lines(written)] == [200, 200, 404, 401, 403, 405]
    assert [line["route"] for line in _lines(written)][2] == ""
    assert [line["method"] for line in _lines(written)][-1] == "other"


def test_a_fault_is_in_the_log_with_its_trace_and_no_value(
    app: FastAPI, written: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The line of the request says 500; the trace shows the way, not what variables held."""

    def broken(*_: object) -> bool:
        held = "value-of-a-variable"
        raise RuntimeError(f"broken at {len(held)}")

    monkeypatch.setattr(lookup, "answers", broken)
    TestClient(app, raise_server_exceptions=False).get("/health")
    [line] = _lines(written)
    assert (line["route"], line["status"]) == ("/health", 500)
    try:
        broken()
    except RuntimeError:
        logging.getLogger("uvicorn.error").exception("Exception in ASGI application")
    trace = _lines(written)[-1]
    assert "RuntimeError: broken at 19" in trace["exception"]
    assert "value-of-a-variable" not in trace["exception"].replace('held = "value', "")
    assert trace["level"] == "error"


def test_all_that_speaks_comes_out_alike(written: io.StringIO) -> None:
    """The service, and the server around it; its own lines of addresses do not come at all."""
    logging.getLogger("custody").error("a refusal of %s was not entered", "ward-tablet-3")
    logging.getLogger("uvicorn.error").info("Started", extra={"color_message": "\x1b[1mStarted"})
    logging.getLogger("uvicorn.access").info("GET /v1/containers/M9S346Q3D250")
    logging.getLogger("alembic").info("Context impl")
    told = [(line["logger"], line["event"]) for line in _lines(written)]
    assert told == [
        ("custody", "a refusal of ward-tablet-3 was not entered"),
        ("uvicorn.error", "Started"),
    ]
    assert "color_message" not in written.getvalue()


def test_a_line_stays_one_line(written: io.StringIO) -> None:
    """Whoever can have a line feed logged cannot write a line of their own."""
    logging.getLogger("custody").error("it is called %s", 'x\n{"event": "made up"}')
    assert len(_lines(written)) == 1


@pytest.mark.parametrize("written", ["text"], indirect=True)
def test_as_text_for_who_reads_it_at_a_screen(ward: Device, written: io.StringIO) -> None:
    """The same values, and no control characters."""
    ward.get("/v1/site")
    [line] = written.getvalue().splitlines()
    for told in ("request", "method=GET", "route=/v1/site", "status=200", "actor=ward-device"):
        assert told in line, told
    assert "\x1b" not in line
