"""Those outside are told of what is due and late: at least once, and as a rule once."""

import email
import email.policy
import hashlib
import hmac
import json
from base64 import b64encode
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
import tomli_w
from cloudevents.v1.http import from_http
from fastapi.testclient import TestClient
from http_message_signatures import HTTPMessageVerifier, HTTPSignatureKeyResolver, algorithms
from typer.testing import CliRunner

from service.app import create_app
from service.cli import app as command_line
from service.custody.identifiers import grouped
from service.custody.words import Severity
from service.duties.notices import tell
from service.notices.deliver import deliverer
from service.notices.recipients import Post, Recipient
from service.settings import Settings
from service.store.notices import waiting
from service.store.store import Store
from tests.api.client import Clock, ids
from tests.notices.conftest import Letters, Program
from tests.store.record import new_facility
from tests.trade import bag

SEALED = datetime(2026, 7, 1, 12, tzinfo=UTC)
KEY = b"an invented key, 32 bytes or more"
BAGS = sorted(ids(3))


@pytest.fixture
def clock() -> Clock:
    """A clock that stands at the sealing until it is moved."""
    return Clock(SEALED)


@pytest.fixture
def store(database: str) -> Iterator[Store]:
    """A store of the test's own."""
    kept = Store(database)
    yield kept
    kept.close()


@pytest.fixture
def facility(store: Store) -> str:
    """A facility with three bags of soiled waste, sealed at once: 48 hours each."""
    made = new_facility(store, time_zone="Asia/Kolkata")
    story = bag("yellow-c")
    for container in BAGS:
        story.sealed(SEALED, container)
    store.append(made, story.entries)
    return made


@pytest.fixture
def key_file(tmp_path: Path) -> Path:
    """The key that both sides know."""
    path = tmp_path / "webhook-key"
    path.write_bytes(KEY + b"\n")
    return path


def program_of(facility: str, program: Program, key_file: Path, **said: Any) -> Recipient:
    """A program that is told."""
    return Recipient(
        name="ward-board", facility=facility, webhook=program.url, key_file=key_file, **said
    )


def untold(store: Store, facility: str) -> int:
    """How many notices wait."""
    with store.reading() as connection:
        return sum(each.number for each in waiting(connection, facility))


def test_a_program_is_told_once_of_each_bag_that_is_near_and_of_each_that_is_late(
    store: Store, facility: str, program: Program, key_file: Path, clock: Clock
) -> None:
    """Nothing while there is time; then near, then late; looked at again and again, told once."""
    to, deliver = program_of(facility, program, key_file), deliverer(None, clock)
    assert tell(store, to, deliver, clock) == 0

    clock.move(hours=44)
    assert tell(store, to, deliver, clock) == 3
    assert tell(store, to, deliver, clock) == 0

    clock.move(hours=5)
    assert tell(store, to, deliver, clock) == 3
    told = [from_http(headers, body) for headers, body in program.requests]
    assert [(t["type"], t["subject"]) for t in told] == [
        (f"custody.violation.{code}", container)
        for code in ("holding.near", "holding.exceeded")
        for container in BAGS
    ]
    assert len({t["id"] for t in told}) == 6
    assert told[0]["source"] == f"/facilities/{facility}"
    assert told[-1].get_data()["next_action"]


class _Key(HTTPSignatureKeyResolver):
    def resolve_public_key(self, key_id: str) -> bytes:
        assert key_id == "ward-board"
        return KEY


def test_a_request_is_signed_so_that_what_was_changed_on_the_way_is_known(
    store: Store, facility: str, program: Program, key_file: Path, clock: Clock
) -> None:
    """RFC 9421 section 3.2 and 3.3.3: the base rebuilt by hand, HMAC by the standard library."""
    clock.move(hours=44)
    tell(store, program_of(facility, program, key_file), deliverer(None, clock), clock)
    headers, body = program.requests[0]

    digest = b64encode(hashlib.sha256(body).digest()).decode()
    assert headers["Content-Digest"] == f"sha-256=:{digest}:"
    params = headers["Signature-Input"].removeprefix("custody=")
    assert f"created={int(clock.now.timestamp())}" in params
    base = "\n".join(
        (
            '"@method": POST',
            f'"@target-uri": {program.url}',
            f'"content-type": {headers["Content-Type"]}',
            f'"content-digest": {headers["Content-Digest"]}',
            f'"@signature-params": {params}',
        )
    )
    mine = b64encode(hmac.digest(KEY, base.encode(), "sha256")).decode()
    assert headers["Signature"] == f"custody=:{mine}:"

    # And by the library's own verifier, as the other side would.
    came = httpx.Request("POST", program.url, headers=headers, content=body)
    verifier = HTTPMessageVerifier(signature_algorithm=algorithms.HMAC_SHA256, key_resolver=_Key())
    verifier.verify(came, max_age=timedelta(days=36_500))


@pytest.mark.parametrize("status", [500, 404, 301])
def test_what_was_not_taken_is_sent_again_with_longer_waits(
    store: Store, facility: str, program: Program, key_file: Path, clock: Clock, status: int
) -> None:
    """Turned away twice, then taken; the third try comes no sooner than two minutes on."""
    to, deliver = program_of(facility, program, key_file), deliverer(None, clock)
    clock.move(hours=44)
    program.statuses = [status] * 6
    assert tell(store, to, deliver, clock) == 0
    assert untold(store, facility) == 3
    assert tell(store, to, deliver, clock) == 0
    assert len(program.requests) == 3

    clock.move(minutes=1)
    assert tell(store, to, deliver, clock) == 0
    assert len(program.requests) == 6
    clock.move(minutes=1)
    assert tell(store, to, deliver, clock) == 0
    assert len(program.requests) == 6
    clock.move(minutes=1)
    assert tell(store, to, deliver, clock) == 3
    assert untold(store, facility) == 0
    assert len({json.loads(body)["id"] for _, body in program.requests}) == 3


def test_one_that_is_turned_away_does_not_keep_the_others_back(
    store: Store, facility: str, program: Program, key_file: Path, clock: Clock
) -> None:
    """The first of three is refused; the two after it go out."""
    clock.move(hours=44)
    program.statuses = [422]
    assert tell(store, program_of(facility, program, key_file), deliverer(None, clock), clock) == 2
    with store.reading() as connection:
        [left] = waiting(connection, facility)
    assert (left.recipient, left.number) == ("ward-board", 1)
    assert "422" in left.fault


def test_a_process_that_dies_before_the_answer_has_them_sent_again(
    store: Store, facility: str, program: Program, key_file: Path, clock: Clock
) -> None:
    """At least once: taken to be sent, never noted as sent, they are free again after a while."""
    to = program_of(facility, program, key_file)
    clock.move(hours=44)

    def dies(*_: object) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        tell(store, to, dies, clock)
    assert tell(store, to, deliverer(None, clock), clock) == 0
    clock.move(minutes=11)
    assert tell(store, to, deliverer(None, clock), clock) == 3


def test_people_get_one_letter_for_all_that_came_together(
    store: Store, facility: str, letters: Letters, clock: Clock
) -> None:
    """With what is wrong, the clause, what to do, in the facility's own time."""
    post = Post(host="127.0.0.1", port=letters.port, tls="none", sender="custody@lantern.example")
    to = Recipient(name="officers", facility=facility, mail=("a@x.example", "b@x.example"))
    clock.move(hours=49)
    assert tell(store, to, deliverer(post, clock), clock) == 3

    [(addresses, raw)] = letters.came
    assert addresses == ["a@x.example", "b@x.example"]
    letter = email.message_from_bytes(raw, policy=email.policy.default)
    assert letter["Subject"] == f"Waste custody {facility}: 3 to see to"
    assert letter["Auto-Submitted"] == "auto-generated"
    body = letter.get_body()
    assert body is not None
    text = body.get_content()
    for container in BAGS:
        assert text.count(grouped(container)) == 1
    assert "since 03 Jul 2026 17:30 (Asia/Kolkata)" in text
    assert text.count("Do: ") == 3


def test_a_letter_that_one_reader_did_not_get_is_sent_again(
    store: Store, facility: str, letters: Letters, clock: Clock
) -> None:
    """Some are told twice rather than one never; the letter bears the same id."""
    post = Post(host="127.0.0.1", port=letters.port, tls="none", sender="custody@lantern.example")
    to = Recipient(name="officers", facility=facility, mail=("a@x.example", "b@x.example"))
    letters.unknown = {"b@x.example"}
    clock.move(hours=49)
    assert tell(store, to, deliverer(post, clock), clock) == 0
    letters.unknown = set()
    clock.move(minutes=1)
    assert tell(store, to, deliverer(post, clock), clock) == 3
    came = [email.message_from_bytes(raw)["Message-ID"] for _, raw in letters.came]
    assert len(came) == 2
    assert len(set(came)) == 1


def test_who_asks_for_a_severity_hears_of_every_code_in_it(
    store: Store, facility: str, program: Program, key_file: Path, clock: Clock
) -> None:
    """Recipients name codes of the catalogue or severities."""
    clock.move(hours=49)
    late = program_of(facility, program, key_file, tell=(Severity.LATE,))
    unsafe = program_of(facility, program, key_file, tell=(Severity.UNSAFE,)).model_copy(
        update={"name": "safety"}
    )
    assert tell(store, late, deliverer(None, clock), clock) >= 3
    assert tell(store, unsafe, deliverer(None, clock), clock) == 0


def set_up(database: str, folder: Path, program: Program, key_file: Path, **said: Any) -> Path:
    """A record with one bag in it; the path of the operator's file."""
    with closing(Store(database)) as kept:
        facility = new_facility(kept)
        kept.append(facility, bag("yellow-c").sealed(SEALED, BAGS[0]).entries)
    board = {"name": "board", "facility": facility, "webhook": program.url}
    file = folder / "notices.toml"
    file.write_text(tomli_w.dumps({"to": [board | {"key_file": str(key_file)} | said]}))
    return file


def test_the_service_tells_by_itself(
    database: str,
    tmp_path: Path,
    program: Program,
    key_file: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """While it runs, from the file that its settings name; nobody asks it to."""
    file = set_up(database, tmp_path, program, key_file)
    monkeypatch.setattr("service.app.TELL_S", 0.01)
    given = Settings(_env_file=None, database_url=database, key_dir=tmp_path / "keys", notices=file)
    with TestClient(create_app(given, Clock(SEALED + timedelta(hours=44)))):
        assert program.told.wait(30)
    assert json.loads(program.requests[0][1])["subject"] == BAGS[0]


def test_the_operator_sees_what_waits_and_sends_it(
    folder: Path,
    database: str,
    program: Program,
    key_file: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """``custody notices waiting`` and ``send``: 1 while somebody was not told, then 0."""
    file = set_up(database, folder, program, key_file, tell=["holding.exceeded"])
    monkeypatch.setenv("CUSTODY_NOTICES", str(file))
    monkeypatch.setattr("service.commands.notifying.now", Clock(SEALED + timedelta(hours=50)))
    program.statuses = [503]
    run = CliRunner().invoke

    first = run(command_line, ["notices", "send"])
    assert (first.exit_code, first.output) == (1, "board: 0 sent\n")
    left = run(command_line, ["notices", "waiting", "--json"])
    assert left.exit_code == 1
    [waits] = json.loads(left.stdout)
    assert (waits["recipient"], waits["number"]) == ("board", 1)
    assert "503" in waits["fault"]
    monkeypatch.setattr("service.commands.notifying.now", Clock(SEALED + timedelta(hours=51)))
    assert run(command_line, ["notices", "send"]).exit_code == 0
    assert run(command_line, ["notices", "waiting"]).exit_code == 0
