"""Lists: pages that are complete and stable, filters, and violations at a moment in the past."""

from datetime import timedelta
from typing import Any

import pytest

from tests.api.client import NOON, Clock, Device, event, ids, sealed

BAGS = ids(7)


def _pages(device: Device, address: str, rows: str, **asked: Any) -> list[list[Any]]:
    """Follow `next` to the end."""
    pages: list[list[Any]] = []
    after: dict[str, Any] = {}
    while True:
        page = device.get(address, **asked, **after).json()
        pages.append(page[rows])
        if page["next"] is None or not page[rows]:
            return pages
        after = {"after": page["next"]}


@pytest.mark.parametrize("limit", [1, 2, 3, 7, 100])
def test_pages_of_containers_are_complete(ward: Device, limit: int) -> None:
    """Page by page each is seen once, in order of id."""
    ward.tell(*(sealed(bag) for bag in BAGS))
    pages = _pages(ward, "/v1/containers", "containers", limit=limit)
    assert [c["container"] for page in pages for c in page] == sorted(BAGS)
    assert all(len(page) <= limit for page in pages)


@pytest.mark.parametrize("limit", [1, 2, 3, 100])
def test_pages_by_due_time_are_complete(ward: Device, clock: Clock, limit: int) -> None:
    """Due times do not follow ids, and two may be due at one instant: none is passed over."""
    clock.move(hours=8)
    for place, bag in enumerate(BAGS):
        ward.tell(sealed(bag, at=NOON - timedelta(hours=place // 2)))
    soon = (NOON + timedelta(hours=46)).isoformat()
    pages = _pages(ward, "/v1/containers", "containers", limit=limit, due_before=soon)
    found = [(c["due_at"], c["container"]) for page in pages for c in page]
    assert found == sorted(found)
    assert {container for _, container in found} == set(BAGS[4:])


@pytest.mark.parametrize("limit", [1, 2, 100])
def test_pages_of_violations_are_complete(ward: Device, limit: int) -> None:
    """Several of one container, several at one instant: each is seen once."""
    faulty = {"fill_fraction": "0.9", "closed": False}
    ward.tell(*(sealed(bag, **faulty) for bag in BAGS))
    pages = _pages(ward, "/v1/violations", "violations", limit=limit)
    found = [(v["container"], v["code"]) for page in pages for v in page]
    codes = ("packing.open", "packing.overfilled")
    assert sorted(found) == sorted((bag, code) for bag in BAGS for code in codes)


def test_pages_stay_as_they_were_when_more_comes_in(ward: Device) -> None:
    """What is added behind the cursor changes no page that was read, and none is seen twice."""
    early, late = sorted(BAGS)[:6], sorted(BAGS)[6]
    ward.tell(*(sealed(bag) for bag in early))
    first = ward.get("/v1/containers", limit=3).json()
    ward.tell(sealed(late))
    second = ward.get("/v1/containers", limit=100, after=first["next"]).json()
    assert [c["container"] for c in first["containers"] + second["containers"]] == sorted(BAGS)


def test_the_record_is_followed_by_its_numbers(ward: Device, officer: Device) -> None:
    """`next` is given on the last page too: who asks again with it gets what came since."""
    ward.tell(*(sealed(bag) for bag in BAGS[:3]))
    first = officer.get("/v1/events", limit=2).json()
    assert [e["seq"] for e in first["entries"]] == [2, 3]
    second = officer.get("/v1/events", limit=2, after=first["next"]).json()
    assert [e["seq"] for e in second["entries"]] == [4]
    assert officer.get("/v1/events", after=second["next"]).json() == {"entries": [], "next": 4}
    ward.tell(sealed(BAGS[3]))
    assert officer.get("/v1/events", after=second["next"]).json()["next"] == 5


def test_pages_of_consignments_are_complete(handler: Device) -> None:
    """By number, each once."""
    leaving = {"carrier": "carrier-quillow", "consignee": "plant-kiln"}
    for place, bag in enumerate(BAGS):
        handler.tell(event("dispatched", bag, consignment=f"C-{place}", **leaving))
    pages = _pages(handler, "/v1/consignments", "consignments", limit=3)
    assert [c["id"] for page in pages for c in page] == [f"C-{n}" for n in range(7)]


@pytest.mark.parametrize(
    ("asked", "places"),
    [
        ({"category": "red"}, [1]),
        ({"unit": "theatres"}, [2]),
        ({"state": "collected"}, [3]),
        ({"custodian": "handlers"}, [3]),
        ({"open": "true"}, [0, 1, 2, 3]),
        ({"sealed_from": "2026-07-01T11:00:00Z"}, [0, 1, 3]),
        ({"sealed_until": "2026-07-01T11:00:00Z"}, [2]),
        ({"sealed_from": "2026-07-01T16:30:00+05:30", "category": "yellow-c"}, [0, 3]),
        ({"due_before": "2026-07-03T11:00:00Z"}, [2]),
    ],
)
def test_containers_are_found_by_what_is_known_of_them(
    ward: Device, handler: Device, asked: dict[str, str], places: list[int]
) -> None:
    """Each filter alone, and two together."""
    ward.tell(
        sealed(BAGS[0]),
        sealed(BAGS[1], category="red"),
        sealed(BAGS[2], unit="theatres", at=NOON - timedelta(hours=3)),
        sealed(BAGS[3]),
        event("labelled", BAGS[4], count=1, layout="a4-8"),
    )
    handler.tell(event("collected", BAGS[3], from_party="icu", to_party="handlers"))
    found = ward.get("/v1/containers", **asked).json()["containers"]
    assert {c["container"] for c in found} == {BAGS[place] for place in places}


def test_violations_can_be_asked_for_as_they_stood(ward: Device, clock: Clock) -> None:
    """Near its limit at 44 h, over it at 49 h, neither at noon; tomorrow can be asked for today."""
    ward.tell(sealed(BAGS[0]))

    def codes(hours: int, **asked: Any) -> list[str]:
        at = (NOON + timedelta(hours=hours)).isoformat()
        found = ward.get("/v1/violations", at=at, **asked).json()["violations"]
        return [v["code"] for v in found]

    assert codes(1) == []
    assert codes(44) == ["holding.near"]
    assert codes(49) == ["holding.exceeded"]
    assert codes(49, standing="false") == ["holding.near", "holding.exceeded"]
    assert codes(49, severity="unsafe") == []
    assert codes(49, code="holding.exceeded", container=BAGS[0]) == ["holding.exceeded"]
    assert codes(49, container=BAGS[1]) == []
    at = (NOON + timedelta(hours=49)).isoformat()
    counts = ward.get("/v1/violations/counts", at=at).json()["counts"]
    assert [(c["code"], c["opened"], c["standing"]) for c in counts] == [
        ("holding.exceeded", 1, 1),
        ("holding.near", 1, 0),
    ]
    assert ward.get("/v1/violations").json()["violations"] == []
    clock.move(hours=49)
    assert [v["code"] for v in ward.container(BAGS[0])["violations"]] == [
        "holding.near",
        "holding.exceeded",
    ]
