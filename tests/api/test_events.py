"""Recording events: what is recorded, repeated, refused, and flagged."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

import pytest

from tests.api.client import NOON, Device, event, ids, problem_of, scanned, sealed

[BAG, OTHER, THIRD] = ids(3)


def test_an_event_sent_again_is_told_as_repeated(ward: Device, officer: Device) -> None:
    """A lost answer is no reason for two records."""
    said = sealed(BAG)
    ward.tell(said)
    [again] = ward.tell(said)
    assert again["outcome"] == "repeated"
    assert len(officer.get("/v1/events").json()["entries"]) == 1


def test_an_event_sent_several_times_at_once_is_recorded_once(ward: Device) -> None:
    """Whichever comes first is recorded; the others are told as repeated."""
    said = sealed(BAG)
    with ThreadPoolExecutor(4) as pool:
        outcomes = [o["outcome"] for [o] in pool.map(lambda _: ward.tell(said), range(4))]
    assert sorted(outcomes) == ["recorded", "repeated", "repeated", "repeated"]


def test_an_id_cannot_come_back_with_other_content(ward: Device) -> None:
    """The second is refused and says how to correct an event."""
    said = sealed(BAG)
    ward.tell(said)
    told = problem_of(ward.post("/v1/events", said | {"weight_g": 1}), 422)
    assert "amended" in told["detail"]


def test_one_bad_event_does_not_stop_the_others(ward: Device) -> None:
    """Each has its own outcome, in order; a list is always answered with 200."""
    answer = ward.post("/v1/events", [sealed(BAG), sealed(OTHER, unit="icy"), 5, sealed(THIRD)])
    assert answer.status_code == 200
    outcomes = [o["outcome"] for o in answer.json()]
    assert outcomes == ["recorded", "refused", "refused", "recorded"]
    assert "there is no unit 'icy' here" in answer.json()[1]["reason"]
    assert answer.json()[2]["id"] is None


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"category": "purple"}, "there is no category 'purple' here"),
        ({"unit": "ward-99"}, "there is no unit 'ward-99' here"),
        ({"scale": "kitchen"}, "there is no scale 'kitchen' here"),
        ({"weight_g": -1}, "weight_g must be greater than or equal to 0"),
        ({"weight_g": 90_000}, "90000 g is more than a bag can weigh here"),
        ({"weight_g": "3400"}, "weight_g must be a whole number"),
        ({"weight_g": 3400.5}, "weight_g must be a whole number"),
        ({"weight_g": True}, "weight_g must be a whole number"),
        ({"occurred_at": "2026-07-02T12:00:00Z"}, "min in the future"),
        ({"occurred_at": "2026-07-01T12:00:00"}, "has no time zone"),
        ({"occurred_at": 1782907200}, "occurred_at is not a date and time"),
        ({"occurred_at": "yesterday"}, "occurred_at is not a date and time"),
        ({"actor": ""}, "actor"),
        ({"actor": "a\u0000b"}, "actor holds a control character"),
        ({"fill_fraction": "1e-99999999"}, "fill_fraction"),
        ({"containers": []}, "exactly one container"),
        ({"containers": ["M9S346Q3D251"]}, "check character of M9S3 46Q3 D251 is wrong"),
        ({"containers": ["ABC"]}, "a container id has 12"),
        ({"colour": "yellow"}, "colour is not a field of this kind of event"),
        ({"kind": "vanished"}, "kind is none of"),
        ({"id": "7"}, "id is not a UUID"),
    ],
)  # fmt: skip
def test_what_is_malformed_is_refused_in_words(
    ward: Device, change: dict[str, Any], words: str
) -> None:
    """A single refused event is a 422 that says what to put right; nothing is recorded."""
    answer = ward.post("/v1/events", sealed(BAG) | change)
    told = problem_of(answer, 422)
    assert words in told["detail"]
    assert told["outcome"]["outcome"] == "refused"
    assert told["outcome"]["reason"] == told["detail"]
    assert ward.get(f"/v1/containers/{BAG}").status_code == 404


def test_a_wrong_act_is_recorded_and_flagged(ward: Device) -> None:
    """An overfilled bag is a fact; the answer says the rule, its clause and the next action."""
    [outcome] = ward.tell(sealed(BAG, fill_fraction="0.9"))
    [violation] = outcome["violations"]
    assert violation["code"] == "packing.overfilled"
    assert violation["severity"] == "unsafe"
    assert violation["clause"]
    assert violation["next_action"]
    assert violation["evidence"] == [outcome["id"]]
    assert ward.container(BAG)["violations"] == [violation]


def test_a_label_that_is_not_ours_is_recorded_and_flagged(ward: Device, officer: Device) -> None:
    """The bag is there whatever its label says: it is taken down with `label.not_genuine`."""
    [outcome] = ward.tell(sealed(scanned(BAG, key=b"another key")))
    assert [v["code"] for v in outcome["violations"]] == ["label.not_genuine"]
    [entry] = officer.get("/v1/events").json()["entries"]
    assert entry["false_codes"] == [BAG]


def test_a_false_label_with_a_wrong_check_character_can_be_looked_up(ward: Device) -> None:
    """What was recorded under an impossible id is found by that id."""
    false = f"{BAG[:-1]}{'2' if BAG[-1] != '2' else '3'}"
    code = f"HTTPS://CUSTODY.EXAMPLE/{false}/0000000"
    ward.tell(sealed(code))
    assert ward.container(false.lower())["violations"][0]["code"] == "label.not_genuine"


def test_a_container_nobody_registered_is_recorded_and_flagged(handler: Device) -> None:
    """What is collected without a record of its sealing is a gap in custody."""
    [outcome] = handler.tell(event("collected", BAG, from_party="icu", to_party="handlers"))
    assert "custody.gap" in [v["code"] for v in outcome["violations"]]
    assert handler.container(BAG)["state"] == "collected"


def test_an_amendment_corrects_and_both_stay_visible(ward: Device) -> None:
    """The container shows the corrected weight, and what was first said."""
    said = sealed(BAG, fill_fraction="0.9")
    ward.tell(said)
    right = said | {"fill_fraction": "0.7", "weight_g": 3500}
    ward.tell(event("amended", BAG, supersedes=said["id"], reason="slip", corrected=right))
    found = ward.container(BAG)
    assert found["weight_g"] == 3500
    assert found["violations"] == []
    [happened] = found["history"]
    assert happened["event"]["weight_g"] == 3500
    assert happened["as_first_recorded"]["weight_g"] == 3400
    [amendment] = found["amendments"]
    assert amendment["event"]["reason"] == "slip"
    assert happened["amended_by"] == amendment["event"]["id"]


def test_a_device_clock_that_is_wrong_is_measured_and_put_right(
    ward: Device, officer: Device
) -> None:
    """Ten minutes ahead at sending: the event is kept as written, and counts as of noon."""
    ahead = NOON + timedelta(minutes=10)
    ward.tell(sealed(BAG, at=ahead), headers={"Custody-Device-Time": ahead.isoformat()})
    [entry] = officer.get("/v1/events").json()["entries"]
    assert entry["clock_offset_s"] == 600
    assert entry["event"]["occurred_at"] == "2026-07-01T12:10:00Z"
    assert ward.container(BAG)["sealed_at"] == "2026-07-01T12:00:00Z"


@pytest.mark.parametrize("time", ["noon", "2026-07-01T12:00:00", "1782907200"])
def test_a_device_time_that_cannot_be_read_is_refused(ward: Device, time: str) -> None:
    """To take it as right would be a guess: nothing is recorded."""
    answer = ward.post("/v1/events", [sealed(BAG)], {"Custody-Device-Time": time})
    assert "Custody-Device-Time" in problem_of(answer, 422)["detail"]


def test_what_comes_out_can_be_sent_in(ward: Device, officer: Device) -> None:
    """The record gives events in the form in which they are taken: each is told as repeated."""
    said = sealed(BAG, fill_fraction=0.7, note="leans to the left")
    wrong = event("amended", BAG, supersedes=said["id"], reason="slip", corrected=said)
    ward.tell(said, wrong)
    kept = [e["event"] for e in officer.get("/v1/events").json()["entries"]]
    assert [o["outcome"] for o in officer.tell(*kept)] == ["repeated", "repeated"]


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "the body is not JSON"),
        (b"{", "the body is not JSON"),
        (b"12", "neither an event (an object) nor a list"),
        (b'"\xff"', "not UTF-8"),
        (b'{"weight_g": NaN}', "NaN is no number"),
        (b'{"weight_g": -Infinity}', "-Infinity is no number"),
        (b'{"id": 1, "id": 2}', "'id' stands twice"),
        (b"[" * 100_000, "nested too deeply"),
        (b"[" + b"9" * 5_000 + b"]", "too many digits"),
        (b"[" + b",".join([b"1"] * 2_001) + b"]", "at most 2000"),
    ],
)
def test_a_body_that_is_no_list_of_events_is_refused(ward: Device, body: bytes, words: str) -> None:
    """JSON is read as RFC 8259 (2017) §2, §6 and §8.1 have it: no NaN, UTF-8 only."""
    assert words in problem_of(ward.post("/v1/events", body), 422)["detail"]


def test_two_thousand_and_no_more_fit_one_submission(ward: Device) -> None:
    """At the limit is allowed; an empty list is answered with an empty list."""
    answer = ward.post("/v1/events", b"[" + b",".join([b"1"] * 2_000) + b"]")
    assert len(answer.json()) == 2_000
    assert ward.post("/v1/events", []).json() == []
