"""Labels over HTTP: blank ones ahead of use, filled ones after sealing."""

from concurrent.futures import ThreadPoolExecutor
from io import BytesIO

import pypdf
import pytest

from tests.api.client import Device, event_id, ids, problem_of, sealed


def _order(**said: object) -> dict[str, object]:
    return {"id": event_id(), "count": 10, "stock": "a4-8", "actor": "clerk"} | said


def test_blank_labels_come_as_paper(ward: Device, officer: Device) -> None:
    """Ten labels of eight a sheet are two pages, and one `labelled` event."""
    answer = ward.post("/v1/labels", _order())
    assert answer.headers["content-type"] == "application/pdf"
    assert len(pypdf.PdfReader(BytesIO(answer.content)).pages) == 2
    [entry] = officer.get("/v1/events").json()["entries"]
    assert entry["event"]["kind"] == "labelled"
    assert entry["event"]["count"] == 10


def test_the_same_order_again_reserves_nothing(ward: Device, officer: Device) -> None:
    """As paper or as a list, on any stock: the same ids under the same request."""
    order = _order()
    first = ward.post("/v1/labels", order, {"Accept": "application/json"}).json()
    again = ward.post("/v1/labels", order, {"Accept": "application/json"}).json()
    assert first == again
    assert len(set(first["ids"])) == 10
    assert ward.post("/v1/labels", order | {"stock": "roll-75x50-203"}).status_code == 200
    assert len(officer.get("/v1/events").json()["entries"]) == 1


def test_the_same_order_twice_at_once_reserves_once(ward: Device, officer: Device) -> None:
    """A device that lost patience gets the same labels as the request it gave up."""
    order, accept = _order(), {"Accept": "application/json"}
    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(lambda _: ward.post("/v1/labels", order, accept).json(), range(4)))
    assert all(answer == answers[0] for answer in answers)
    assert len(officer.get("/v1/events").json()["entries"]) == 1


def test_the_codes_open_the_service_and_are_genuine(ward: Device) -> None:
    """A bag registered by its scanned code has nothing wrong with its label."""
    codes = ward.post("/v1/labels", _order(), {"Accept": "application/json"}).json()["codes"]
    assert codes[0].startswith("HTTPS://CUSTODY.EXAMPLE/")
    [outcome] = ward.tell(sealed(codes[0]))
    assert outcome["violations"] == []


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"stock": "papyrus"}, "there are a4-8"),
        ({"count": 0}, "count must be greater than or equal to 1"),
        ({"count": 2_001}, "count must be less than or equal to 2000"),
        ({"count": "3"}, "count must be a whole number"),
        ({"id": "1"}, "id is not a UUID"),
        ({"base_url": "https://elsewhere.example"}, "base_url is not a field"),
    ],
)
def test_an_order_that_cannot_be_printed_is_refused(
    ward: Device, officer: Device, change: dict[str, object], words: str
) -> None:
    """In words, and nothing is reserved."""
    assert words in problem_of(ward.post("/v1/labels", _order(**change)), 422)["detail"]
    assert officer.get("/v1/events").json()["entries"] == []


def test_an_id_that_is_on_record_for_something_else_is_refused(ward: Device) -> None:
    """Ten labels once, five under the same id: which are meant cannot be known."""
    order = _order()
    ward.post("/v1/labels", order)
    told = problem_of(ward.post("/v1/labels", order | {"count": 5}), 422)
    assert "make a new one" in told["detail"]


def test_a_filled_label_says_what_the_container_is(ward: Device) -> None:
    """Its category, unit and weight stand on it in words."""
    [bag] = ids(1)
    ward.tell(sealed(bag))
    body = {"containers": [f"{bag[:4]} {bag[4:8]} {bag[8:]}"], "stock": "roll-100x50-203"}
    answer = ward.post("/v1/labels/filled", body)
    text = pypdf.PdfReader(BytesIO(answer.content)).pages[0].extract_text()
    assert "3.400 kg" in text
    assert "Intensive care" in text


def test_a_container_that_was_never_registered_has_no_filled_label(ward: Device) -> None:
    """There would be nothing to print on it."""
    body = {"containers": ids(1), "stock": "a4-8"}
    problem_of(ward.post("/v1/labels/filled", body), 404)


def test_the_stocks_are_listed(ward: Device) -> None:
    """By the name that an order takes."""
    stocks = {s["name"]: s for s in ward.get("/v1/labels/stocks").json()}
    assert stocks["a4-8"]["labels_a_page"] == 8
    assert stocks["roll-100x50-203"]["is_roll"]
