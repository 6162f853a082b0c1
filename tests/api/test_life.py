"""One container from its label to the pit, and a consignment of two, through HTTP alone."""

from datetime import datetime, timedelta

from tests.api.client import NOON, Clock, Device, event, event_id, ids, problem_of, scanned, sealed


def _codes(device: Device, count: int) -> list[tuple[str, str]]:
    order = {"id": event_id(), "count": count, "stock": "a4-8", "actor": "clerk"}
    answer = device.post("/v1/labels", order, {"Accept": "application/json"})
    assert answer.status_code == 200, answer.text
    return list(zip(answer.json()["ids"], answer.json()["codes"], strict=True))


def test_a_sharps_container_from_label_to_pit(
    ward: Device, handler: Device, plant: Device, clock: Clock
) -> None:
    """Each hand records its part; at the end nothing is wrong and nothing is left to do."""
    [(box, code)] = _codes(ward, 1)
    assert ward.container(box)["state"] == "labelled"

    def later(hours: int) -> datetime:
        clock.now = NOON + timedelta(hours=hours)
        return clock.now

    white = {"category": "white", "container_kind": "sharps_container", "hub_cut": True}
    ward.tell(sealed(code, at=later(1), weight_g=900, **white))
    assert ward.container(box)["custodian"] == "icu"
    handler.tell(event("collected", code, at=later(2), from_party="icu", to_party="handlers"))
    handler.tell(event("stored", box, at=later(3), store="ambient-store"))
    left = event(
        "dispatched",
        box,
        at=later(5),
        carrier="carrier-quillow",
        consignee="plant-kiln",
        seal="S-1",
    )
    closed = handler.post("/v1/consignments", left)
    assert closed.status_code == 201, closed.text
    number = closed.json()["consignment"]
    assert closed.headers["location"] == f"/v1/consignments/{number}"
    assert handler.get("/v1/containers", consignment=number).json()["containers"]
    arrival = {"consignment": number, "seal": "S-1", "seal_intact": True, "complete": True}
    weighed = {"weight_g": 900, "scale": "kiln-scale"}
    plant.tell(event("received", code, at=later(7), party="plant-kiln", **arrival, **weighed))
    plant.tell(event("treated", box, at=later(8), step="dry_heat", party="plant-kiln", cycle="1"))
    assert "shred" in plant.container(box)["next_acts"]
    plant.tell(event("treated", box, at=later(9), step="shred", party="plant-kiln", cycle="2"))
    plant.tell(event("disposed", box, at=later(10), outlet="sharps_pit", party="plant-kiln"))

    found = plant.container(f"{box[:4].lower()}-{box[4:8]} {box[8:]}")
    assert found["violations"] == []
    assert found["state"] == "disposed"
    assert found["closed_at"] == "2026-07-01T22:00:00Z"
    assert found["steps"] == ["dry_heat", "shred"]
    assert found["next_acts"] == []
    kinds = [h["event"]["kind"] for h in found["history"]]
    assert kinds == [
        "labelled", "registered", "collected", "stored", "dispatched", "received",
        "treated", "treated", "disposed",
    ]  # fmt: skip


def test_a_consignment_shows_what_left_and_what_came(
    handler: Device, plant: Device, clock: Clock
) -> None:
    """Both weights stand side by side; what was turned away and what is still out are counted."""
    bags = ids(3)
    clock.move(hours=6)
    handler.tell(*(sealed(bag) for bag in bags))
    handler.tell(
        event("collected", *bags, at=NOON, from_party="icu", to_party="handlers"),
        event("double_bagged", *bags, at=NOON, tare_g=50),
    )
    leaving = {"carrier": "carrier-quillow", "consignee": "plant-kiln", "seal": "S-1"}
    left = event("dispatched", *bags, at=NOON + timedelta(hours=1), consignment="C/1", **leaving)
    handler.tell(left)
    arrived = {"at": NOON + timedelta(hours=2), "party": "plant-kiln", "consignment": "C/1"}
    plant.tell(
        event("received", bags[0], weight_g=3400, scale="kiln-scale", seal="S-1", **arrived),
        event("refused", bags[1], reason="it leaks", **arrived),
    )
    found = plant.get("/v1/consignments/C%2F1").json()
    assert found["received_at"] == "2026-07-01T14:00:00Z"
    assert found["totals"] == {
        "containers": 3,
        "received": 1,
        "refused": 1,
        "under_way": 1,
        "sent_g": 3 * 3450,
        "received_g": 3400,
        "weighed_twice": 1,
        "difference_g": 50,
    }
    assert plant.get("/v1/consignments").json()["consignments"] == [found]


def test_the_same_closing_again_gives_the_same_number(handler: Device) -> None:
    """A device that did not see the answer asks again and closes nothing twice."""
    body = event("dispatched", *ids(1), carrier="carrier-quillow", consignee="plant-kiln")
    first, again = (handler.post("/v1/consignments", body) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["consignment"] == again.json()["consignment"]
    assert again.json()["outcome"]["outcome"] == "repeated"


def test_only_a_departure_closes_a_consignment(handler: Device) -> None:
    """An event of another kind is not turned into one."""
    body = event("collected", *ids(1), carrier="carrier-quillow", consignee="plant-kiln")
    told = problem_of(handler.post("/v1/consignments", body), 422)
    assert told["detail"] == "only a 'dispatched' event closes a consignment"


def test_looking_changes_nothing(ward: Device, officer: Device) -> None:
    """A scanned code only shows: the record is the same after as many looks as one likes."""
    [bag] = ids(1)
    ward.tell(sealed(scanned(bag)))
    before = officer.get("/v1/events").json()
    for address in (f"/v1/containers/{bag}", "/v1/containers", "/v1/violations", "/v1/site"):
        assert officer.get(address).status_code == 200
    assert officer.get("/v1/events").json() == before
