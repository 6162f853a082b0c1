"""What makes an event malformed by itself, in the words of the refusal."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

import pytest
from pydantic import ValidationError

from service.custody.events import EVENT, Entry
from service.custody.fields import EARLIEST, LATEST
from tests.trade import BAG, CART, at

USUAL: dict[str, Any] = {
    "id": UUID(int=1),
    "containers": [BAG],
    "occurred_at": "2026-07-06T10:00:00Z",
    "actor": "nurse",
}


def read(kind: str, **said: Any) -> Any:
    """Read an event as a client sends it."""
    return EVENT.validate_python(USUAL | {"kind": kind} | said)


@pytest.mark.parametrize(
    ("kind", "said", "reason"),
    [
        ("found", {"containers": []}, "names no container"),
        ("weighed", {"weight_g": 900, "containers": [BAG, "B"]}, "exactly one container"),
        ("packed", {"parent": BAG}, "cannot be packed into itself"),
        ("double_bagged", {"outer": BAG}, "cannot be its own outer bag"),
        ("labelled", {"count": 2, "layout": "a4"}, "count is 2 but 1 ids are named"),
        ("received", {"party": "plant", "containers": []}, "neither containers nor a completed"),
        ("received", {"party": "p", "containers": [], "consignment": "C"}, "neither containers"),
        ("received", {"party": "p", "containers": [], "complete": True}, "neither containers"),
        ("received", {"party": "plant", "containers": [BAG, "B"], "weight_g": 1}, "exactly one"),
        ("weighed", {"weight_g": 3.42}, "valid integer"),
        ("weighed", {"weight_g": -1}, "greater than or equal to 0"),
        ("weighed", {"weight_g": "900"}, "valid integer"),
        ("found", {"occurred_at": "2026-07-06T10:00:00"}, "timezone"),
        ("found", {"occurred_at": "1899-12-31T23:59:59Z"}, "greater than or equal to"),
        ("found", {"occurred_at": "9999-12-31T23:59:59-14:00"}, "less than"),
        ("found", {"occurred_at": "0001-01-01T00:00:00+14:00"}, "greater than or equal to"),
        ("found", {"colour": "red"}, "Extra inputs"),
        ("refused", {"party": "plant", "reason": ""}, "at least 1 character"),
        ("stored", {"store": "yard", "temperature_c": "NaN"}, "finite"),
        ("eaten", {}, "does not match any of the expected tags"),
        ("amended", {"supersedes": UUID(int=2), "reason": "x", "corrected": {
            **USUAL, "kind": "found"}}, "keeps the id"),
    ],
)  # fmt: skip
def test_refused(kind: str, said: dict[str, Any], reason: str) -> None:
    """Malformed: the person is told why."""
    with pytest.raises(ValidationError, match=reason):
        read(kind, **said)


def test_sealing_is_not_before_the_first_item() -> None:
    """A bag cannot come into use after it was sealed."""
    sealing = {"category": "soiled", "unit": "ward-3", "container_kind": "bag"}
    assert read("registered", **sealing, in_use_since="2026-07-06T10:00:00Z")
    with pytest.raises(ValidationError, match="later than the sealing"):
        read("registered", **sealing, in_use_since="2026-07-06T10:00:01Z")


def test_times_are_kept_in_utc() -> None:
    """A local time with its offset is the same instant."""
    event = read("found", occurred_at="2026-07-06T15:30:00+05:30")
    assert event.occurred_at == at("2026-07-06 10:00")
    assert event.occurred_at.tzinfo is UTC


@pytest.mark.parametrize("moment", [EARLIEST, LATEST - timedelta.resolution])
def test_the_ends_of_the_calendar_are_read(moment: datetime) -> None:
    """From 1900 to the last instant of 2199."""
    assert read("found", occurred_at=moment).occurred_at == moment


def test_an_event_names_its_parent_and_its_outer_bag_too() -> None:
    """They are looked up with it."""
    assert read("packed", parent=CART).named() == (BAG, CART)
    assert read("double_bagged", outer=CART).named() == (BAG, CART)
    assert read("unpacked", containers=[], parent=CART).named() == (CART,)


@pytest.mark.parametrize(("offset_s", "moved_s"), [(10, 0), (-10, 0), (11, -11), (-11, 11)])
def test_a_clock_ten_seconds_off_is_taken_as_right(offset_s: int, moved_s: int) -> None:
    """Beyond ten seconds the time is put right by the whole offset."""
    entry = Entry(read("found"), at("2026-07-06 10:00"), offset_s)
    assert entry.at - entry.event.occurred_at == timedelta(seconds=moved_s)


def test_decimals_keep_the_printed_figure() -> None:
    """0.1 in JSON is 0.1, never the nearest binary fraction."""
    event = EVENT.validate_json(
        '{"id":"00000000-0000-0000-0000-000000000001","kind":"stored","containers":["B"],'
        '"occurred_at":"2026-07-06T10:00:00Z","actor":"a","store":"s","temperature_c":4.10}'
    )
    assert str(event.temperature_c) == "4.1"
    assert event.model_dump(mode="json")["temperature_c"] == "4.1"
