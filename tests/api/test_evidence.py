"""The signed log over HTTP, too many requests, a full disk, and repeated events."""

import gc
import threading
from datetime import timedelta
from errno import ENOSPC
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

import pytest
from fastapi.testclient import TestClient
from xlsxwriter.exceptions import FileCreateError

from service.api import spooled
from service.app import create_app
from service.bundles.verify import verify
from service.custody.events import Entry
from service.custody.words import Role
from service.duties import access
from service.duties import officer as officers
from service.ledger.checkpoint import Checkpoint, parse
from service.ledger.leaf import read
from service.ledger.merkle import check_consistency, check_inclusion, leaf_hash
from service.ledger.note import Verifier, opened
from service.settings import Settings
from service.store import keyfiles
from service.store.queries import entries_after
from service.store.store import Store
from tests.api.client import NOON, Clock, Device, event_id, ids, problem_of, sealed
from tests.api.disk import failing, full

WAIT_S = 10
DOORS = ["checkpoint", "checkpoint/key", "proofs/consistency?first=0&second=1"]


def ask(device: Device, door: str) -> Any:
    """Knock at a door with what stands behind its question mark."""
    address, _, asked = door.partition("?")
    return device.get(f"/v1/{address}", **dict[str, Any](parse_qsl(asked)))


def signed(device: Device) -> Checkpoint:
    """The present checkpoint, opened with the key that the service names."""
    key, note = device.get("/v1/checkpoint/key"), device.get("/v1/checkpoint")
    for answer in (key, note):
        assert answer.status_code == 200
        assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    read_note = opened(note.text, [Verifier.parse(key.text)])
    assert len(read_note.signed_by) == 1
    return parse(read_note.text)


def steps(answer: Any) -> list[bytes]:
    """The hashes of a proof."""
    assert answer.status_code == 200, answer.text
    return [bytes.fromhex(step) for step in answer.json()["proof"]]


def test_a_checkpoint_covers_what_was_acknowledged(officer: Device) -> None:
    """It is signed by the log's key, and names the log by address and facility."""
    before = signed(officer)
    officer.tell(*(sealed(bag) for bag in ids(3)))
    after = signed(officer)

    assert after.origin == "custody.example/lantern-hill"
    assert after.size == before.size + 3
    assert after.root != before.root


def test_an_events_proof_leads_to_the_signed_root(officer: Device) -> None:
    """Of the present log and of an earlier one (RFC 9162, section 2.1.3)."""
    told = [sealed(bag) for bag in ids(5)]
    officer.tell(*told[:2])
    first = signed(officer)
    officer.tell(*told[2:])
    last = signed(officer)

    ways: list[tuple[Checkpoint, dict[str, Any]]] = [(first, {"size": first.size}), (last, {})]
    for state, asked in ways:
        answer = officer.get(f"/v1/proofs/inclusion/{told[0]['id']}", **asked)
        proof, found = steps(answer), answer.json()
        leaf = found["leaf"].encode()
        assert (found["size"], found["root"]) == (state.size, state.root.hex())
        check_inclusion(leaf_hash(leaf), found["number"], state.size, proof, state.root)
        entry = read(leaf)
        assert isinstance(entry, Entry)
        assert str(entry.event.id) == told[0]["id"]


def test_two_checkpoints_are_shown_to_be_of_one_log(officer: Device) -> None:
    """The later begins with the earlier (RFC 9162, section 2.1.4)."""
    first = signed(officer)
    officer.tell(*(sealed(bag) for bag in ids(6)))
    last = signed(officer)
    asked: dict[str, Any] = {"first": first.size, "second": last.size}
    proof = steps(officer.get("/v1/proofs/consistency", **asked))

    check_consistency(first.size, first.root, last.size, last.root, proof)


@pytest.mark.parametrize("role", [Role.WARD, Role.HANDLER, Role.PLANT])
def test_evidence_is_not_for_those_who_work_with_waste(http: TestClient, role: Role) -> None:
    """403, as with the record and the manifest."""
    for door in (*DOORS, f"proofs/inclusion/{event_id()}"):
        told = problem_of(ask(Device(http, role), door), 403)
        assert "administrator, inspector, officer" in told["detail"]


@pytest.mark.parametrize("role", [Role.INSPECTOR, Role.ADMINISTRATOR])
def test_inspector_and_administrator_are_given_it_too(http: TestClient, role: Role) -> None:
    """Every door."""
    for door in DOORS:
        assert ask(Device(http, role), door).status_code == 200


@pytest.mark.parametrize(
    ("door", "status", "words"),
    [
        (f"inclusion/{event_id()}", 404, "no event"),
        ("inclusion/nonsense", 422, "event_id"),
        ("inclusion/{known}?size=99", 422, "the log has 2 entries, not 99"),
        ("inclusion/{known}?size=1", 422, "1"),
        ("inclusion/{known}?size=-1", 422, "0"),
        ("consistency?first=2&second=1", 422, "2"),
        ("consistency?first=1&second=99", 422, "the log has 2 entries, not 99"),
        ("consistency?first=1", 422, "second"),
        ("consistency?first=1&second=1e99", 422, "second"),
    ],
)
def test_a_proof_that_there_is_none_of_is_refused_in_words(
    officer: Device, door: str, status: int, words: str
) -> None:
    """What is not on record, and sizes that the log never had."""
    told = sealed(*ids(1))
    officer.tell(told)
    answer = ask(officer, f"proofs/{door.format(known=told['id'])}")
    assert words in str(problem_of(answer, status))


def test_a_bundle_fetched_over_http_verifies(officer: Device, clock: Clock) -> None:
    """With the key and a checkpoint fetched before."""
    officer.tell(*(sealed(bag) for bag in ids(4)))
    note = officer.get("/v1/checkpoint").text
    key = Verifier.parse(officer.get("/v1/checkpoint/key").text)
    clock.move(days=120)
    answer = officer.get("/v1/manifests/2026-Q3", {"Accept": "application/zip"})

    assert answer.headers["content-type"] == "application/zip"
    found = list(verify(BytesIO(answer.content), key=key, checkpoints=[note]))
    assert [check for check in found if check.holds is not True] == []


def test_a_log_whose_entries_were_lost_is_not_signed(
    officer: Device, store: Store, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """500: it is no matter of waiting, but of a backup; the words say so, and the service's log."""
    signed(officer)
    last = tmp_path / "keys" / "lantern-hill" / "last.txt"
    officer.tell(sealed(*ids(1)))
    signed(officer)
    with store.database.writing("lantern-hill") as connection:
        connection.exec_driver_sql("UPDATE log SET size = 1")
    assert last.exists()
    for door in ("checkpoint", "manifests/2026-Q3"):
        caplog.clear()
        answer = officer.get(f"/v1/{door}")
        assert "entries are lost or changed" in problem_of(answer, 500)["detail"]
        assert "retry-after" not in answer.headers
        assert "entries are lost or changed" in caplog.text


def test_where_the_keys_lie_is_told_to_the_log_alone(
    officer: Device, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Who asks learns that they cannot be used; who runs the service, what to do where."""
    signed(officer)
    (tmp_path / "keys" / "lantern-hill" / "key-1.pem").chmod(0o644)
    for door in ("checkpoint", "checkpoint/key", "manifests/2026-Q3"):
        caplog.clear()
        answer = officer.get(f"/v1/{door}")
        told = problem_of(answer, 500)
        assert "the service's own log says why" in told["detail"]
        assert "retry-after" not in answer.headers
        assert "key-1" not in answer.text
        assert str(tmp_path) not in answer.text
        assert f"chmod 600 {tmp_path}" in caplog.text


# --- room


def test_beyond_so_many_requests_a_sender_is_told_to_come_again(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At once, by a problem, while health still answers; afterwards there is room."""
    inside, free = threading.Event(), threading.Event()
    asked = access.recognised

    def slowly(*told: Any, **also: Any) -> access.Recognised | None:
        inside.set()
        assert free.wait(WAIT_S)
        return asked(*told, **also)

    monkeypatch.setattr(access, "recognised", slowly)
    settings = Settings(_env_file=None, requests_max=1, key_dir=tmp_path / "keys")
    with TestClient(create_app(settings, lambda: NOON, store)) as http:
        device, answers = Device(http, Role.OFFICER), list[Any]()
        slow = threading.Thread(target=lambda: answers.append(device.get("/v1/site")))
        slow.start()
        assert inside.wait(WAIT_S)
        refused = device.post("/v1/events", [sealed(*ids(1))])
        health = http.get("/health")
        free.set()
        slow.join(WAIT_S)

        told = problem_of(refused, 503)
        assert "send the same again" in told["detail"]
        assert refused.headers["retry-after"] == "5"
        assert refused.headers["x-content-type-options"] == "nosniff"
        assert health.status_code == 200
        assert [answer.status_code for answer in answers] == [200]
        assert device.post("/v1/events", [sealed(*ids(1))]).status_code == 200


# --- the disk


@pytest.mark.parametrize(("disk", "status"), [(full, 507), (failing, 503)])
def test_what_cannot_be_written_is_not_acknowledged_and_writing_goes_on_later(
    officer: Device, store: Store, disk: Any, status: int
) -> None:
    """Nothing of the batch is on record; reads go on; the same again is then recorded."""
    bags = ids(900)
    officer.tell(sealed(bags[0]))
    batch = [sealed(bag, NOON - timedelta(seconds=n)) for n, bag in enumerate(bags[1:300])]
    with disk(store):
        answer = officer.post("/v1/events", batch)
        told = problem_of(answer, status)
        assert "nothing was recorded" in told["detail"]
        assert answer.headers["retry-after"] == "5"
        assert len(officer.get("/v1/events").json()["entries"]) == 1
        assert officer.get("/health").status_code == 200
    assert [o["outcome"] for o in officer.tell(*batch)] == ["recorded"] * len(batch)
    assert signed(officer).size == 2 + len(batch)


@pytest.mark.filterwarnings("ignore:Exception ignored in. <function ZipFile.__del__")
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="/dev/full is Linux's")
@pytest.mark.parametrize(
    ("door", "form"),
    [
        ("manifests/2026-Q3", "application/zip"),
        ("manifests/2026-Q3", "application/ld+json"),
        ("epcis?from=2026-07-01T00:00:00Z&until=2026-07-02T00:00:00Z", "*/*"),
    ],
)
def test_a_full_disk_has_no_room_for_a_large_answer_either(
    officer: Device, monkeypatch: pytest.MonkeyPatch, store: Store, door: str, form: str
) -> None:
    """507, not a part of it; with room, the same again is answered."""
    officer.tell(*(sealed(bag) for bag in ids(30)))
    address, _, asked = door.partition("?")
    query = dict[str, Any](parse_qsl(asked))
    with monkeypatch.context() as disk:
        disk.setattr(spooled, "TemporaryFile", partial(Path("/dev/full").open, "w+b"))
        answer = officer.get(f"/v1/{address}", {"Accept": form}, **query)
        assert "the disk is full" in problem_of(answer, 507)["detail"]
        assert answer.headers["retry-after"] == "5"
    gc.collect()  # a zip file that was not finished tries once more as it is dropped
    assert store.database._engine.pool.checkedout() == 0  # type: ignore[attr-defined]
    assert officer.get(f"/v1/{address}", {"Accept": form}, **query).status_code == 200


def test_a_full_disk_is_told_as_such_whoever_met_it_first(
    officer: Device, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Libraries wrap what the system said: that of the spreadsheets in a fault of its own."""

    def no_room(*_: Any) -> Any:
        try:
            raise OSError(ENOSPC, "No space left on device", "/where/nobody/need/know")
        except OSError as error:
            raise FileCreateError(error)  # noqa: B904 - as the library raises it

    monkeypatch.setattr(officers, "paper", no_room)
    answer = officer.get("/v1/manifests/2026-Q3", {"Accept": "text/csv"})
    problem_of(answer, 507)
    assert "/where" not in answer.text


def test_a_full_disk_for_the_keys_is_told_as_such(
    officer: Device, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is signed is kept before it is given out: there is no room for that."""
    signed(officer)
    officer.tell(sealed(*ids(1)))

    def no_room(*_: Any) -> Any:
        raise OSError(ENOSPC, "No space left on device")

    with monkeypatch.context() as disk:
        disk.setattr(keyfiles, "_write", no_room)
        assert "nothing was signed" in problem_of(officer.get("/v1/checkpoint"), 507)["detail"]
    assert signed(officer).size == 2


# --- stopping


def test_who_records_while_the_service_stops_is_told_to_come_again(
    officer: Device, store: Store
) -> None:
    """503, by name; what was acknowledged before is on record."""
    kept, late = ids(2)
    officer.tell(sealed(kept))
    store.close()
    answer = officer.post("/v1/events", sealed(late))
    assert "the service is stopping" in problem_of(answer, 503)["detail"]
    assert answer.headers["retry-after"] == "5"
    with store.reading() as connection:
        [(_, entry)] = entries_after(connection, store.facilities()[0], 0, 10)
    assert entry.event.named() == (kept,)


# --- events told twice


def test_a_repeated_event_is_answered_as_the_first_was(officer: Device) -> None:
    """Whoever lost the first answer learns what is wrong from the second."""
    [bag] = ids(1)
    told = sealed(bag, fill_fraction=0.95)
    [first], [again] = officer.tell(told), officer.tell(told)

    assert (first["outcome"], again["outcome"]) == ("recorded", "repeated")
    assert [v["code"] for v in first["violations"]] == ["packing.overfilled"]
    assert again["violations"] == first["violations"]
