"""Who is let in: tokens, their end, and what each role may do."""

from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from scenario.hospital import load_site
from service.access.caller import Caller
from service.custody.words import Role
from service.store import identities
from service.store.store import Store
from tests.api.client import Clock, Device, event, event_id, ids, let_in, problem_of, sealed


@pytest.mark.parametrize("header", ["Bearer nobody", "Bearer", "Basic dTpw", "Bearer \xe9"])
def test_a_token_nobody_was_given_is_refused(http: TestClient, header: str) -> None:
    """Unknown, empty, of another scheme or unreadable."""
    answer = http.get("/v1/site", headers={"Authorization": header.encode("latin-1")})
    problem_of(answer, 401)
    assert answer.headers["www-authenticate"].startswith("Bearer")


def test_a_token_ends_when_it_expires(ward: Device, clock: Clock) -> None:
    """It holds until its last moment and not beyond."""
    clock.move(days=364)
    assert ward.get("/v1/site").status_code == 200
    clock.move(days=1)
    problem_of(ward.get("/v1/site"), 401)


def test_a_token_ends_when_it_is_revoked(ward: Device, store: Store, clock: Clock) -> None:
    """At once, not at the end of a session."""
    with store.changing("lantern-hill") as connection:
        identities.revoke(connection, "lantern-hill", "ward-device", clock.now)
    problem_of(ward.get("/v1/site"), 401)


@pytest.mark.parametrize("role", [Role.WARD, Role.HANDLER, Role.PLANT])
def test_those_who_work_read_what_their_work_needs(http: TestClient, role: Role) -> None:
    """Lists, rules and the facility; not the whole record, nor its manifest."""
    device = Device(http, role)
    for address in ("containers", "violations", "violations/counts", "consignments", "regimes"):
        assert device.get(f"/v1/{address}").status_code == 200
    assert device.get("/v1/site").status_code == 200
    for address in ("events", "manifests/2026-Q3"):
        told = problem_of(device.get(f"/v1/{address}"), 403)
        assert "administrator, inspector, officer" in told["detail"]


def test_an_inspector_reads_everything_and_writes_nothing(http: TestClient) -> None:
    """Whoever looks at the record from outside cannot change it."""
    inspector = Device(http, Role.INSPECTOR)
    assert inspector.get("/v1/events").status_code == 200
    problem_of(inspector.post("/v1/events", [sealed(*ids(1))]), 403)
    body = event("dispatched", *ids(1), carrier="a", consignee="b")
    problem_of(inspector.post("/v1/consignments", body), 403)
    order = {"id": event_id(), "count": 1, "stock": "a4-8", "actor": "x"}
    problem_of(inspector.post("/v1/labels", order), 403)


def test_a_kind_of_event_that_is_not_the_roles_is_refused(ward: Device, plant: Device) -> None:
    """The others in the list stand."""
    bag, other = ids(2)
    treated = event("treated", bag, step="incinerate", party="plant-kiln", cycle="1")
    answer = ward.post("/v1/events", [treated, sealed(other)])
    assert [o["outcome"] for o in answer.json()] == ["refused", "recorded"]
    assert answer.json()[0]["reason"] == "a token for ward may not record 'treated'"
    order = {"id": event_id(), "count": 1, "stock": "a4-8", "actor": "x"}
    problem_of(plant.post("/v1/labels", order), 403)
    body = event("dispatched", bag, carrier="a", consignee="b")
    problem_of(ward.post("/v1/consignments", body), 403)


def test_one_facility_sees_nothing_of_another(
    http: TestClient, ward: Device, store: Store, clock: Clock
) -> None:
    """The token carries the facility; the same id elsewhere is not on record."""
    [bag] = ids(1)
    ward.tell(sealed(bag))
    other = load_site().model_copy(update={"id": "elsewhere"})
    store.set_up(other, clock.now, b"another key")
    program = Caller("elsewhere", "officer", Role.OFFICER)
    let_in(store, program, "elsewhere", clock.now + timedelta(days=1))
    headers = {"Authorization": "Bearer elsewhere"}
    problem_of(http.get(f"/v1/containers/{bag}", headers=headers), 404)
    assert http.get("/v1/events", headers=headers).json()["entries"] == []
