"""Every error is a problem in the form of RFC 9457 (2023), and tells nothing of the inside."""

from collections.abc import Iterator
from contextlib import closing

import pytest
from fastapi.testclient import TestClient

from service.custody.words import Role
from service.duties import lookup
from service.store import faults
from service.store.database import Database
from service.store.store import Store
from tests.api.browser import FACILITY
from tests.api.client import Device, ids, problem_of, sealed

SAFE = {
    "cache-control": "no-store",
    "x-content-type-options": "nosniff",
    "content-security-policy": "default-src 'none'; frame-ancestors 'none'",
}


def test_an_unknown_address_is_a_problem(http: TestClient) -> None:
    """Also where nothing of ours was ever at."""
    told = problem_of(http.get("/v2/bags and más"), 404)
    assert told["type"] == "/problems/not-found"
    assert told["instance"] == "/v2/bags%20and%20m%C3%A1s"


def test_a_wrong_method_is_a_problem_that_names_the_right_ones(http: TestClient) -> None:
    """All methods of the address are named, though each is a door of its own (RFC 9110 §15.5.6)."""
    answer = http.delete("/v1/events")
    problem_of(answer, 405)
    assert answer.headers["allow"] == "GET, POST"


def test_an_unknown_parameter_is_refused(officer: Device) -> None:
    """A misspelt filter that is passed over would show the wrong list."""
    told = problem_of(officer.get("/v1/containers", categry="red"), 422)
    assert told["errors"][0]["where"] == "query.categry"
    assert told["detail"] == "query.categry is not a parameter of this address"


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/v1/containers/M9S346Q3D250", 404),
        ("/v1/containers/M9S346Q3D251", 422),
        ("/v1/containers?limit=0", 422),
        ("/v1/containers?limit=1001", 422),
        ("/v1/containers?due_before=2026-07-01T10:00:00", 422),
        ("/v1/containers?due_before=2026-07-01T10:00:00Z&after=x", 422),
        ("/v1/containers?due_before=2026-07-01T10:00:00Z&after=x~y", 422),
        ("/v1/violations?after=2026", 422),
        ("/v1/violations?after=2026-07-01T10:00:00Z~A~minus", 422),
        ("/v1/violations?code=holding.fine", 422),
        ("/v1/violations?at=tomorrow", 422),
        ("/v1/events?after=-1", 422),
        ("/v1/consignments/none", 404),
        ("/v1/regimes/atlantis", 404),
        ("/v1/regimes/..%2Fsettings", 404),
        ("/v1/manifests/2026-Q5", 422),
        ("/v1/manifests/0001-Q1", 422),
    ],
)
def test_what_cannot_be_found_or_read_is_a_problem(
    officer: Device, address: str, status: int
) -> None:
    """In the same form everywhere."""
    answer = officer.http.get(address, headers={"Authorization": "Bearer token-officer"})
    problem_of(answer, status)


def test_a_plus_that_became_a_space_is_pointed_out(officer: Device) -> None:
    """The commonest slip with a time in an address; `%2B` is taken."""
    address = "/v1/violations?at=2026-07-01T17:30:00{}05:30"
    headers = {"Authorization": "Bearer token-officer"}
    answer = officer.http.get(address.format("+"), headers=headers)
    assert "write + as %2B" in problem_of(answer, 422)["detail"]
    answer = officer.http.get(address.format("%2B"), headers=headers)
    assert answer.json()["at"] == "2026-07-01T12:00:00Z"


def test_a_form_we_do_not_have_is_a_problem(officer: Device) -> None:
    """406 names the forms there are."""
    answer = officer.get("/v1/manifests/2026-Q3", {"Accept": "image/png"})
    assert "application/zip" in problem_of(answer, 406)["detail"]


def test_a_body_that_says_it_is_too_large_is_not_read(ward: Device) -> None:
    """Its length alone is enough; at the limit it is read."""
    problem_of(ward.post("/v1/events", b" " * 200_001), 413)
    problem_of(ward.post("/v1/events", b" " * 200_000), 422)


def test_a_body_that_does_not_say_its_length_is_read_no_further_than_the_limit(
    http: TestClient,
) -> None:
    """Sent in pieces without a length, it is stopped at the piece that goes over."""
    sent = 0

    def pieces() -> Iterator[bytes]:
        nonlocal sent
        for _ in range(50):
            sent += 10_000
            yield b" " * 10_000

    answer = http.post(
        "/v1/events", content=pieces(), headers={"Authorization": "Bearer token-ward"}
    )
    problem_of(answer, 413)


def test_a_fault_of_ours_shows_nothing_of_the_inside(
    officer: Device, monkeypatch: pytest.MonkeyPatch
) -> None:
    """500 in the same form; what went wrong is in the log alone."""

    def broken(*_: object) -> None:
        raise RuntimeError("secret of the house")

    monkeypatch.setattr(lookup, "containers", broken)
    answer = officer.get("/v1/containers")
    problem_of(answer, 500)
    assert "secret" not in answer.text
    assert SAFE.items() <= dict(answer.headers).items()


def test_a_database_held_by_another_asks_to_come_again(
    store: Store, database: str, monkeypatch: pytest.MonkeyPatch, http: TestClient
) -> None:
    """503 with Retry-After, nothing recorded; afterwards the same request is taken."""
    monkeypatch.setattr("service.store.database.BUSY_S", 0.01)
    store.database.close()
    ward = Device(http, Role.WARD)
    body = sealed(*ids(1))
    with closing(Database(database)) as other, other.writing(FACILITY):
        answer = ward.post("/v1/events", body)
    problem_of(answer, 503)
    assert answer.headers["retry-after"] == "5"
    assert ward.post("/v1/events", body).json()[0]["outcome"] == "recorded"


def test_where_the_database_lies_is_told_to_the_log_alone(
    ward: Device, store: Store, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Such as that the file of its claim cannot be written."""

    def unusable() -> None:
        raise faults.UnusableError("/srv/house/custody.sqlite3.writer cannot be written")

    monkeypatch.setattr(store.database, "claim", unusable)
    answer = ward.post("/v1/events", sealed(*ids(1)))
    problem_of(answer, 503)
    assert "/srv" not in answer.text
    assert "/srv/house/custody.sqlite3.writer" in caplog.text


def test_health_says_when_the_database_does_not_answer(
    http: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """503, so that whoever watches sends nobody here."""
    monkeypatch.setattr(lookup, "answers", lambda _: False)
    problem_of(http.get("/health"), 503)


@pytest.mark.parametrize("address", ["/health", "/v1/site", "/nowhere", "/openapi.json"])
def test_every_answer_has_the_safe_headers(http: TestClient, address: str) -> None:
    """Nothing is kept, guessed at or framed by a browser."""
    assert SAFE.items() <= dict(http.get(address).headers).items()
