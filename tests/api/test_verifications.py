"""A bundle that is brought to the service and checked by it."""

import zipfile
from collections.abc import Callable
from hashlib import sha256
from io import BytesIO
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service.bundles import names
from service.custody.words import Role
from service.duties import verifying
from service.store.store import Store
from tests.api.client import Clock, Device, ids, problem_of, sealed
from tests.bundles.made import changed, whole

DOOR = "/v1/verifications"
[BAG] = ids(1, seed=21)


@pytest.fixture
def bundle(officer: Device, clock: Clock) -> bytes:
    """The third quarter's bundle of a record with one bag, signed by the service itself."""
    officer.tell(sealed(BAG))
    clock.move(days=100)
    answer = officer.get("/v1/manifests/2026-Q3", {"Accept": "application/zip"})
    assert answer.status_code == 200
    content: bytes = answer.content
    return content


def _outcomes(answer: Any) -> dict[str, str]:
    assert answer.status_code == 200, answer.text
    return {check["name"]: check["outcome"] for check in answer.json()["checks"]}


@pytest.mark.parametrize("key", ["facility", "bundle"])
def test_what_the_service_made_holds(officer: Device, bundle: bytes, key: str) -> None:
    """Against its own key, and by itself."""
    answer = officer.post(f"{DOOR}?key={key}", bundle)
    found = _outcomes(answer)
    assert set(found.values()) <= {"holds", "warning"}, found
    assert answer.json()["counts"]["holds"] > 15


def test_a_changed_entry_is_found(officer: Device, bundle: bytes) -> None:
    """And the file is named."""
    other = changed(bundle, names.ENTRIES, lambda content: content.replace(b"3400", b"3500"))
    answer = officer.post(DOOR, other)
    assert _outcomes(answer)["files"] == "fails"
    assert any(names.ENTRIES in check["said"] for check in answer.json()["checks"])


def test_what_another_signed_fails_against_the_key_of_the_facility(
    officer: Device, bundle: bytes
) -> None:
    """Though it agrees with itself."""
    _, others = whole()
    assert _outcomes(officer.post(f"{DOOR}?key=facility", others))["key"] == "fails"
    assert "fails" not in _outcomes(officer.post(f"{DOOR}?key=bundle", others)).values()


def test_before_the_log_was_signed_there_is_no_key_to_hold_to(officer: Device) -> None:
    """It is said, and none is made for it."""
    assert "never signed" in problem_of(officer.post(DOOR, b"PK"), 404)["detail"]


@pytest.mark.parametrize(
    ("brought", "why"),
    [(b"", "no zip file"), (b"what", "no zip file"), (b"PK\3\4 cut", "cut short")],
)
def test_what_is_no_bundle_is_told_in_a_sentence(
    officer: Device, bundle: bytes, brought: bytes, why: str
) -> None:
    """Nothing was checked."""
    assert why in problem_of(officer.post(DOOR, brought), 422)["detail"]


def test_an_archive_that_would_fill_the_memory_is_not_unpacked(
    officer: Device, bundle: bytes
) -> None:
    """A bundle may unpack to some twenty times its size, however well its bytes are packed."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr(names.ENTRIES, bytes(40_000_000))
    assert len(out.getvalue()) < 100_000
    assert "no bundle has as many" in problem_of(officer.post(DOOR, out.getvalue()), 422)["detail"]


def test_a_bundle_may_be_larger_than_other_bodies_up_to_a_bound(
    app_with: Callable[..., FastAPI], bundle: bytes
) -> None:
    """The bound is a setting of its own."""
    small, room = len(bundle) - 1, len(bundle)
    for most, expected in ((small, 413), (room, 200)):
        app = app_with(body_bytes_max=1_000, bundle_bytes_max=most)
        with TestClient(app) as http:
            answer = Device(http, Role.OFFICER).post(DOOR, bundle)
        assert answer.status_code == expected, answer.text


def test_one_bundle_is_checked_at_a_time(officer: Device, bundle: bytes) -> None:
    """Who comes meanwhile is told to come again, at once."""
    with verifying._turn:
        answer = officer.post(DOOR, bundle)
    assert "another bundle" in problem_of(answer, 503)["detail"]
    assert answer.headers["retry-after"]
    assert officer.post(DOOR, bundle).status_code == 200


def test_who_may_not_is_not_asked_for_the_body(ward: Device, store: Store) -> None:
    """A ward has nothing to check."""
    assert problem_of(ward.post(DOOR, b"PK"), 403)


def test_that_a_bundle_was_brought_is_entered(
    officer: Device, bundle: bytes, http: TestClient
) -> None:
    """By whom, which one and against which key; nothing of what was in it."""
    officer.post(f"{DOOR}?key=bundle", bundle)
    log = Device(http, Role.ADMINISTRATOR).get("/v1/access-log?limit=1000").json()
    [entry] = [e["entry"] for e in log["entries"] if e["entry"]["kind"] == "bundle_checked"]
    assert entry["actor"] == "officer-device"
    assert entry["about"] == {"key": "bundle", "sha256": sha256(bundle).hexdigest()}
