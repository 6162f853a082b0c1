"""Cycles at the door: a run with its load, its trace, its verdict; bad input is told."""

from collections.abc import Callable
from hashlib import sha256
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service.store.store import Store
from tests.api.client import Clock, Device, ids, problem_of, sealed
from tests.machines import FAILING, PASSING

BAG, OTHER = ids(2, seed=11)
RUN: dict[str, Any] = {
    "id": "019f1a50-0000-7000-8000-00000000c0de",
    "occurred_at": "2026-07-01T11:21:00Z",
    "started_at": "2026-07-01T10:00:00Z",
    "actor": "operator-1",
    "machine": "kiln-autoclave-1",
    "step": "autoclave",
    "party": "plant-kiln",
    "cycle": "K-1",
    "containers": [BAG],
}


@pytest.fixture
def ran(officer: Device, plant: Device) -> Device:
    """A plant that ran a cycle with a red bag."""
    officer.tell(sealed(BAG, at="2026-07-01T06:00:00Z", category="red"))
    assert plant.post("/v1/cycles", RUN).status_code == 201
    return plant


def put(device: Device, content: bytes, cycle: str = "K-1", kind: str = "text/csv") -> Any:
    """Attach a trace."""
    sent = {"Authorization": f"Bearer token-{device.role}", "Content-Type": kind}
    return device.http.put(f"/v1/cycles/{cycle}/trace", content=content, headers=sent)


def test_a_run_with_its_load_is_two_events_however_often_it_is_sent(ran: Device) -> None:
    """The same request again is answered with 200 and repeats both."""
    again = ran.post("/v1/cycles", RUN)
    assert again.status_code == 200
    assert [o["outcome"] for o in again.json()["outcomes"]] == ["repeated", "repeated"]
    assert ran.get("/v1/cycles/K-1").json()["load"] == [BAG]


def test_a_cycle_without_a_number_is_given_one(plant: Device) -> None:
    """The same id gives the same number."""
    said = {k: v for k, v in RUN.items() if k not in ("cycle", "containers")}
    one = plant.post("/v1/cycles", said)
    assert one.json()["cycle"].startswith("K")
    assert plant.post("/v1/cycles", said).json()["cycle"] == one.json()["cycle"]


def test_a_trace_gives_the_verdict_with_rule_and_figure(ran: Device) -> None:
    """61 min at 121.5 °C: passed under Schedule II, F0 above 60 min, lines to be drawn."""
    answer = put(ran, PASSING)
    assert answer.status_code == 200, answer.text
    cycle = answer.json()["cycle"]
    assert cycle["verdict"] == "pass"
    assert "Schedule II" in cycle["clause"]
    [trace] = cycle["traces"]
    assert trace["f0_min"] > 60
    assert trace["log_reduction"] == pytest.approx(trace["f0_min"] / 1.5, rel=1e-4)
    assert trace["judgement"]["windows"][0]["dwell_min"] >= 60
    assert len(trace["chart"]["minutes"]) == len(trace["chart"]["lethality_min"])
    fetched = ran.get("/v1/cycles/K-1/trace", sha256=trace["sha256"])
    assert fetched.content == PASSING


def test_the_same_bytes_change_nothing_and_other_bytes_are_kept_beside(ran: Device) -> None:
    """Both traces are kept; the one that fails outweighs the one that passes."""
    assert put(ran, PASSING).json()["outcome"]["outcome"] == "recorded"
    assert put(ran, PASSING).json()["outcome"]["outcome"] == "repeated"
    cycle = put(ran, FAILING).json()["cycle"]
    assert len(cycle["traces"]) == 2
    assert cycle["verdict"] == "fail"
    told = {v["code"] for v in ran.container(BAG)["violations"]}
    assert "treatment.failed" in told


def test_the_event_holds_the_hash_of_the_bytes(ran: Device, officer: Device) -> None:
    """So the leaf of the log proves which file was attached."""
    put(ran, PASSING)
    entries = officer.get("/v1/events").json()["entries"]
    [attached] = [e["event"] for e in entries if e["event"]["kind"] == "trace_attached"]
    assert attached["sha256"] == sha256(PASSING).hexdigest()
    assert attached["columns"] == ["time_s", "temperature_c", "pressure_kpa"]


_STILL = "time_s,temperature_c\n" + "".join(f"{t},121.5\n" for t in range(0, 5_400, 30))
_BACK = "time_s,temperature_c\n0,20\n60,121\n30,122\n"
_HOT = "time_s,temperature_c,pressure_kpa\n" + "".join(
    f"{t},{77 + min(t, 720) / 720 * 174 + t % 3 * 0.1:.1f},208\n" for t in range(0, 5_400, 30)
)


@pytest.mark.parametrize(
    ("content", "word"),
    [
        ("time_s,temperature_c\n0,hot\n30,121\n", "line 2"),
        (_BACK, "back"),
        (_HOT, "°F"),
        (_STILL, "dead probe"),
        ("nothing to see here", "column"),
    ],
    ids=["text", "backwards", "fahrenheit", "dead-probe", "no-table"],
)
def test_a_file_that_cannot_be_judged_is_kept_and_told(
    ran: Device, content: str, word: str
) -> None:
    """Nothing is repaired and nothing lost: the verdict says what is wrong with the file."""
    cycle = put(ran, content.encode()).json()["cycle"]
    assert cycle["verdict"] == "cannot_be_judged"
    said = " ".join(r["said"] for r in cycle["traces"][0]["judgement"]["reasons"])
    assert word in said, said


def test_bytes_that_are_no_text_are_kept_and_told(ran: Device) -> None:
    """A spreadsheet of a logger's program, say."""
    assert put(ran, b"\xff\xfe\x00\x01PK").json()["cycle"]["verdict"] == "cannot_be_judged"


def test_what_cannot_be_a_trace_is_refused_in_plain_words(ran: Device) -> None:
    """No such cycle, no bytes, no file type of a logger."""
    problem_of(put(ran, PASSING, "K-9"), 404)
    assert "empty" in problem_of(put(ran, b""), 422)["detail"]
    assert "image/png" in problem_of(put(ran, b"x", kind="image/png"), 422)["detail"]


def test_a_cycle_that_ends_before_it_starts_is_refused(plant: Device) -> None:
    """Time does not run backwards."""
    told = problem_of(plant.post("/v1/cycles", RUN | {"started_at": RUN["occurred_at"]}), 422)
    assert "ends before it starts" in told["detail"]


def test_a_trace_larger_than_is_taken_is_refused(
    app_with: Callable[..., FastAPI], officer: Device, plant: Device
) -> None:
    """The bound is a setting; nothing of it is kept."""
    plant.post("/v1/cycles", RUN | {"containers": []})
    with TestClient(app_with(trace_bytes_max=100)) as http:
        answer = put(Device(http, plant.role), PASSING)
    assert "at most 100" in problem_of(answer, 413)["detail"]


def test_bytes_that_come_after_their_event_are_judged_then(
    ran: Device, store: Store, clock: Clock
) -> None:
    """An imported event names a file that is brought later; a rebuild changes nothing."""
    event = {
        "id": "019f1a50-0000-7000-8000-00000000c0df", "kind": "trace_attached", "containers": [],
        "occurred_at": "2026-07-01T11:30:00Z", "actor": "operator-1", "cycle": "K-1",
        "sha256": sha256(PASSING).hexdigest(), "media_type": "text/csv", "size_bytes": 9,
    }  # fmt: skip
    ran.tell(event)
    assert ran.get("/v1/cycles/K-1").json()["verdict"] == "cannot_be_judged"
    store.keep_traces("lantern-hill", {sha256(PASSING).hexdigest(): PASSING})
    kept = ran.get("/v1/cycles/K-1").json()
    assert kept["verdict"] == "pass"
    list(store.rebuild("lantern-hill"))
    assert ran.get("/v1/cycles/K-1").json() == kept
