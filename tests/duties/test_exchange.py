"""Handing the record on as EPCIS events: for whom, of which period, and one state throughout."""

import json
import threading
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest

from service.custody.words import Role
from service.duties import cycles, exchange
from service.duties.access import NotAllowedError
from service.duties.record import Told
from service.manifests.quarter import QuarterError
from tests.api.client import NOON, event, ids, sealed
from tests.duties.desk import Desk
from tests.machines import PASSING

ORIGIN = "https://custody.example"
[BAG, OTHER, CART] = ids(3)
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


def told(desk: Desk, from_at: datetime = NOON - DAY, until: datetime = NOON + DAY) -> list[Any]:
    """The events of a period, as an inspector gets them."""
    parts = exchange.epcis(
        desk.store, desk.caller(Role.INSPECTOR), (from_at, until), NOON + DAY, ORIGIN
    )
    found: list[Any] = json.loads(b"".join(parts))["epcisBody"]["eventList"]
    return found


def amends(wrong: dict[str, Any], corrected: dict[str, Any] | None) -> dict[str, Any]:
    """An amendment of an event, an hour after noon."""
    said = {"supersedes": wrong["id"], "reason": "slip", "corrected": corrected}
    return event("amended", *wrong["containers"], at=NOON + HOUR, **said)


@pytest.mark.parametrize("role", [Role.WARD, Role.HANDLER, Role.PLANT])
def test_who_works_with_waste_does_not_get_the_whole_record(desk: Desk, role: Role) -> None:
    """It is for officers, inspectors and administrators, and is refused before anything is read."""
    with pytest.raises(NotAllowedError, match="administrator, inspector, officer"):
        exchange.epcis(desk.store, desk.caller(role), (NOON, NOON + DAY), NOON, ORIGIN)
    with pytest.raises(NotAllowedError, match="administrator, inspector, officer"):
        exchange.quarter(desk.store, desk.caller(role), "2026-Q3", NOON, ORIGIN)


def test_a_treated_load_comes_with_what_its_logger_showed(desk: Desk) -> None:
    """Told by the trace on record, whenever it was attached; without one, of no readings."""
    run = {
        "id": "019f1a50-0000-7000-8000-00000000c0de", "occurred_at": "2026-07-01T11:21:00Z",
        "started_at": "2026-07-01T10:00:00Z", "actor": "operator-1", "cycle": "K-1",
        "machine": "kiln-autoclave-1", "step": "autoclave", "party": "plant-kiln",
        "containers": [BAG],
    }  # fmt: skip
    desk.tell(sealed(BAG, NOON - 3 * HOUR, category="red"))
    cycles.run_cycle(desk.store, desk.caller(), run, Told(NOON))

    def readings() -> Any:
        [treated] = [e for e in told(desk) if e["custody:kind"] == "treated"]
        return treated.get("sensorElementList")

    assert readings() is None
    cycles.attach_trace(
        desk.store, desk.caller(), "K-1", PASSING, "text/csv", Told(NOON + DAY), 10**6
    )
    assert {r["type"] for e in readings() for r in e["sensorReport"]} == {
        "Temperature", "Pressure",
    }  # fmt: skip


@pytest.mark.parametrize("until", [NOON, NOON - HOUR])
def test_a_period_ends_after_it_begins(desk: Desk, until: datetime) -> None:
    """An empty one is a slip of the pen."""
    with pytest.raises(exchange.PeriodError, match="'from' must lie before 'until'"):
        exchange.epcis(desk.store, desk.caller(), (NOON, until), NOON, ORIGIN)


def test_a_period_has_its_first_instant_and_not_its_last(desk: Desk) -> None:
    """By the time of happening, in its order, whenever it was recorded."""
    bags = ids(3, seed=2)
    desk.tell(*(sealed(b, NOON - i * HOUR) for i, b in enumerate(bags)))
    found = told(desk, NOON - 2 * HOUR, NOON)
    assert [e["epcList"] for e in found] == [[f"{ORIGIN}/id/{b}"] for b in bags[:0:-1]]


def test_a_long_period_is_read_whole_and_in_order(desk: Desk) -> None:
    """More than one reading of the database brings."""
    many = ids(1_200, seed=3)
    desk.tell(*(sealed(b, NOON - timedelta(seconds=i)) for i, b in enumerate(many)))
    found = told(desk)
    assert [e["epcList"][0].rsplit("/")[-1] for e in found] == many[::-1]


def test_a_quarter_is_of_the_facilitys_own_calendar(desk: Desk) -> None:
    """The hospital is 5 h 30 min ahead of UTC: its July began at 18:30 UTC on 30 June."""
    start = datetime.fromisoformat("2026-06-30T18:30:00+00:00")
    desk.tell(sealed(BAG, start), sealed(OTHER, start - timedelta(seconds=1)))
    parts = exchange.quarter(desk.store, desk.caller(), "2026-Q3", NOON, ORIGIN)
    [only] = json.loads(b"".join(parts))["epcisBody"]["eventList"]
    assert only["epcList"] == [f"{ORIGIN}/id/{BAG}"]
    assert only["eventTime"] == "2026-07-01T00:00:00+05:30"
    with pytest.raises(QuarterError):
        exchange.quarter(desk.store, desk.caller(), "2026-Q5", NOON, ORIGIN)


def test_a_correction_made_later_is_in_the_document_of_what_it_corrects(desk: Desk) -> None:
    """The amendment itself happened after the period."""
    wrong = sealed(BAG, NOON - HOUR)
    desk.tell(wrong)
    desk.tell(amends(wrong, wrong | {"weight_g": 340}), hours=2)
    first, right = told(desk, NOON - 2 * HOUR, NOON)
    assert first["errorDeclaration"]["correctiveEventIDs"] == [right["eventID"]]


def test_an_event_whose_time_is_put_right_is_in_both_periods(desk: Desk) -> None:
    """Both tellings stand in each, so that either document can be read by itself."""
    wrong = sealed(BAG, NOON - 3 * DAY)
    desk.tell(wrong)
    desk.tell(amends(wrong, wrong | {"occurred_at": (NOON - HOUR).isoformat()}), hours=2)
    now, before = told(desk), told(desk, NOON - 4 * DAY, NOON - 2 * DAY)
    assert [e["eventTime"][8:10] for e in now] == ["28", "01"]
    assert now == before
    assert told(desk, NOON - 2 * DAY, NOON - DAY) == []


def test_a_cart_is_not_ended_by_the_disposal_of_what_was_in_it(desk: Desk) -> None:
    """It was never registered as waste; a bag that is named itself ends."""
    usual = {"outlet": "ash_landfill", "party": "plant-kiln"}
    desk.tell(
        sealed(BAG, NOON - 3 * HOUR),
        event("packed", BAG, at=NOON - 2 * HOUR, parent=CART),
        event("disposed", CART, at=NOON - HOUR, **usual),
        event("disposed", BAG, at=NOON, **usual),
    )
    assert [e["action"] for e in told(desk)] == ["ADD", "ADD", "OBSERVE", "DELETE"]


def test_what_is_recorded_meanwhile_is_not_in_the_document(desk: Desk) -> None:
    """One state of the record is read from the first part to the last."""
    bags = ids(250, seed=4)
    desk.tell(*(sealed(b, NOON - HOUR) for b in bags[:-1]))
    period = NOON - DAY, NOON + DAY
    parts = exchange.epcis(desk.store, desk.caller(), period, NOON, ORIGIN)
    read = [next(parts), next(parts)]
    desk.tell(sealed(bags[-1], NOON - HOUR))
    read += parts
    assert len(json.loads(b"".join(read))["epcisBody"]["eventList"]) == 249
    assert len(told(desk)) == 250


def test_a_document_may_be_read_by_many_hands_and_put_down(desk: Desk) -> None:
    """Each part in another thread, as a web server does; closing it ends the reading."""
    desk.tell(*(sealed(b, NOON - HOUR) for b in ids(250, seed=5)))
    period = NOON - DAY, NOON + DAY
    parts = exchange.epcis(desk.store, desk.caller(), period, NOON, ORIGIN)
    pool = desk.store.database._engine.pool
    before = pool.checkedout()  # type: ignore[attr-defined]
    taken: list[bytes] = []

    def take(source: Iterator[bytes]) -> None:
        taken.append(next(source))

    for _ in range(3):
        hand = threading.Thread(target=take, args=(parts,))
        hand.start()
        hand.join()
    assert len(taken) == 3
    assert pool.checkedout() == before + 1  # type: ignore[attr-defined]
    parts.close()
    assert pool.checkedout() == before  # type: ignore[attr-defined]
