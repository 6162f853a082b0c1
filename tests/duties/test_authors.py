"""Who writes what in the record: in whose name, from whom, and what is noted of refusals."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import Connection

from service.access.caller import Caller, Kind, Scope
from service.custody.words import Role
from service.duties import ward
from service.duties.access import NotAllowedError
from service.duties.handler import dispatch
from service.duties.record import Outcome, Told, record_events
from service.duties.ward import BlankLabels
from service.ledger.leaf import entry_leaf
from service.store import access_log
from service.store.store import Store
from service.store.tables import RECORD
from tests.api.client import NOON, event, event_id, ids, sealed
from tests.duties.desk import Desk
from tests.store.record import record, rows

[BAG, OTHER, CART, *MORE] = ids(23)


def tablet(desk: Desk, name: str = "tablet-1") -> Caller:
    """A shared device of a ward, nobody signed in."""
    return Caller(desk.facility, name, Role.WARD, kind=Kind.DEVICE, device=name)


def nurse(desk: Desk, scope: Scope | None = None, device: str = "") -> Caller:
    """The nurse, signed in."""
    person = desk.take_on("p-nurse", scope=scope or Scope())
    return Caller(desk.facility, person.id, person.role, person.scope, Kind.PERSON, device)


def sent(desk: Desk, caller: Caller, *raw: Any, hours: float = 0) -> list[Outcome]:
    """Send events."""
    return record_events(desk.store, caller, raw, Told(NOON + timedelta(hours=hours)))


def noted(desk: Desk) -> list[dict[str, Any]]:
    """What the access log says of refusals."""
    with desk.store.reading() as connection:
        found = access_log.entries_after(connection, desk.facility, 0, 100, "refused")
    return [json.loads(body) for _, body in found]


@contextmanager
def counted(store: Store, monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """Every reading that is begun, and every query of people or units."""
    begun: list[str] = []
    whole = Store.reading

    @contextmanager
    def reading(self: Store) -> Iterator[Connection]:
        begun.append("reading")
        with whole(self) as connection:
            yield connection

    with monkeypatch.context() as patched:
        patched.setattr(Store, "reading", reading)
        yield begun


# --- from whom it came


def test_each_entry_says_whose_credential_it_came_with(desk: Desk) -> None:
    """A program by its name, a person by their id, a device by its name; the leaf has it too."""
    desk.tell(sealed(BAG))
    by_nurse = sealed(OTHER) | {"actor": "p-nurse"}
    sent(desk, nurse(desk), by_nurse)
    sent(desk, tablet(desk), sealed(CART) | {"actor": "p-nurse"})
    told = [row.sender for row in record(desk.store, desk.facility)]
    assert told == ["officer-device", "p-nurse", "tablet-1"]
    entry = desk.store.entry(desk.facility, UUID(by_nurse["id"]))
    assert entry is not None
    assert json.loads(entry_leaf(entry))["sender"] == "p-nurse"


def test_labels_and_consignments_say_so_too(desk: Desk) -> None:
    """Whichever duty writes the entry; the device is that at which the person stands."""
    on_tablet = nurse(desk, device="tablet-1")
    order = BlankLabels(UUID(event_id()), 2, "a4-8", "https://custody.example", "p-nurse")
    ward.reserve(desk.store, on_tablet, order, NOON)
    entry = desk.store.entry(desk.facility, order.id)
    assert entry is not None
    assert (entry.sender, entry.event.device) == ("p-nurse", "tablet-1")
    raw = event("dispatched", BAG, carrier="carrier-quillow", consignee="plant-kiln")
    dispatch(desk.store, desk.caller(Role.HANDLER), raw, Told(NOON))
    assert record(desk.store, desk.facility)[-1].sender == "handler-device"


def test_labels_ordered_at_a_desk_name_no_device(desk: Desk) -> None:
    """There is none that is enrolled."""
    order = BlankLabels(UUID(event_id()), 1, "a4-8", "https://custody.example", "p-nurse")
    ward.reserve(desk.store, nurse(desk), order, NOON)
    entry = desk.store.entry(desk.facility, order.id)
    assert entry is not None
    assert entry.event.device is None


# --- in whose name


def test_labels_are_ordered_in_ones_own_name(desk: Desk) -> None:
    """Else none is reserved, and the access log says who tried."""
    order = BlankLabels(UUID(event_id()), 1, "a4-8", "https://custody.example", "p-other")
    with pytest.raises(NotAllowedError, match="in one's own name"):
        ward.reserve(desk.store, nurse(desk), order, NOON)
    assert rows(desk.store, desk.facility, RECORD) == []
    assert [entry["about"]["what"] for entry in noted(desk)] == ["print_blank_labels"]


def test_what_waited_on_a_device_is_taken_under_each_ones_own_name(desk: Desk) -> None:
    """Three colleagues' entries in one submission; a stranger's is sent back, the others stand."""
    desk.take_on("p-porter", Role.HANDLER)
    desk.take_on("p-gone", disabled_at=NOON)
    raw = [
        sealed(BAG, at=NOON - timedelta(hours=1)) | {"actor": "p-nurse"},
        event("collected", BAG, from_party="icu", to_party="porters") | {"actor": "p-porter"},
        sealed(OTHER, at=NOON - timedelta(hours=1)) | {"actor": "p-gone"},
        event("weighed", BAG, weight_g=900) | {"actor": "p-gone"},
        event("weighed", BAG, weight_g=900) | {"actor": "p-stranger"},
    ]
    outcomes = sent(desk, nurse(desk, device="tablet-1"), *raw)
    assert [o.outcome for o in outcomes] == ["recorded"] * 3 + ["refused"] * 2
    assert all("could sign in on this device then" in o.reason for o in outcomes[3:])


def test_a_person_of_another_facility_is_a_stranger_here(desk: Desk) -> None:
    """Though they bear an id that is free here."""
    Desk.at(desk.store).take_on("p-theirs")
    [outcome] = sent(desk, tablet(desk), sealed(BAG) | {"actor": "p-theirs"})
    assert outcome.outcome == "refused"


# --- of whose waste


def test_the_scope_is_that_of_whoever_acted(desk: Desk) -> None:
    """The same weighing by one of the ward and by one of the theatre, from one tablet."""
    theatre = desk.store.rules(desk.facility).site.unit[1].id
    desk.tell(sealed(BAG))
    desk.take_on("p-icu", scope=Scope(units=frozenset({"icu"})))
    desk.take_on("p-theatre", scope=Scope(units=frozenset({theatre})))
    weighed = event("weighed", BAG, weight_g=900)
    [other] = sent(desk, tablet(desk), weighed | {"actor": "p-theatre"})
    assert other.reason == f"container {BAG} is of a unit you do not act for"
    [own] = sent(desk, tablet(desk), weighed | {"actor": "p-icu"})
    assert own.outcome == "recorded"


def test_an_amendment_is_held_against_all_that_was_said_of_the_event(desk: Desk) -> None:
    """And against what it was corrected to before."""
    theatre = desk.store.rules(desk.facility).site.unit[1].id
    icu = nurse(desk, Scope(units=frozenset({"icu"})))
    own = sealed(BAG) | {"actor": "p-nurse"}
    fix = event("amended", BAG, supersedes=own["id"], reason="slip") | {"actor": "p-nurse"}
    assert [o.outcome for o in sent(desk, icu, own, fix)] == ["recorded"] * 2
    moved = event(
        "amended", BAG, supersedes=own["id"], reason="theirs", corrected=own | {"unit": theatre}
    )
    desk.tell(moved)
    again = event("amended", supersedes=own["id"], reason="ours") | {"actor": "p-nurse"}
    [outcome] = sent(desk, icu, again)
    assert "none of those you act for: icu" in outcome.reason


def test_an_amendment_that_names_no_container_is_held_against_those_of_the_event(
    desk: Desk,
) -> None:
    """What happened to another ward's bag is not struck out unseen."""
    theatre = desk.store.rules(desk.facility).site.unit[1].id
    weighed = event("weighed", BAG, weight_g=900)
    desk.tell(sealed(BAG, unit=theatre), weighed)
    struck = event("amended", supersedes=weighed["id"], reason="no") | {"actor": "p-nurse"}
    [outcome] = sent(desk, nurse(desk, Scope(units=frozenset({"icu"}))), struck)
    assert outcome.reason == f"container {BAG} is of a unit you do not act for"


def test_what_a_porter_did_is_not_struck_out_by_a_nurse_in_the_same_breath(desk: Desk) -> None:
    """Though it is not on record yet when the submission is looked at."""
    desk.take_on("p-porter", Role.HANDLER)
    desk.take_on("p-nurse")
    took = event("collected", BAG, from_party="icu", to_party="porters") | {"actor": "p-porter"}
    struck = event("amended", supersedes=took["id"], reason="no") | {"actor": "p-nurse"}
    outcomes = sent(desk, tablet(desk), took, struck)
    assert outcomes[0].outcome == "recorded"
    assert outcomes[1].reason == "who is known as ward may not amend 'collected'"


def test_a_correction_vouched_for_by_what_is_sent_back_is_none(desk: Desk) -> None:
    """An event in another's name is refused, and with it the correction that leans on it."""
    theirs = sealed(BAG) | {"actor": "p-other"}
    lean = event(
        "amended", BAG, supersedes=theirs["id"], reason="x", corrected=theirs
    ) | {"actor": "p-nurse"}  # fmt: skip
    outcomes = sent(desk, nurse(desk), theirs, lean)
    assert [o.outcome for o in outcomes] == ["refused", "refused"]
    assert "has another actor" in outcomes[1].reason
    own = sealed(OTHER) | {"actor": "p-nurse"}
    fixed = event(
        "amended", OTHER, supersedes=own["id"], reason="x", corrected=own | {"closed": False}
    ) | {"actor": "p-nurse"}  # fmt: skip
    assert [o.outcome for o in sent(desk, nurse(desk), own, fixed)] == ["recorded"] * 2


def test_what_nobody_registered_is_anybodys(desk: Desk) -> None:
    """Until it is registered elsewhere."""
    icu = nurse(desk, Scope(units=frozenset({"icu"})))
    theatre = desk.store.rules(desk.facility).site.unit[1].id
    weighed = event("weighed", BAG, weight_g=900) | {"actor": "p-nurse"}
    assert sent(desk, icu, weighed)[0].outcome == "recorded"
    desk.tell(sealed(BAG, unit=theatre))
    again = event("weighed", BAG, weight_g=900) | {"actor": "p-nurse"}
    assert sent(desk, icu, again)[0].outcome == "refused"


# --- what is noted


def test_refusals_are_noted_once_a_submission_and_not_oftener_than_that(desk: Desk) -> None:
    """Who asked, for what, and nothing of what was typed."""
    treated = event("treated", BAG, step="incinerate", party="plant-kiln", cycle="Mr Typed")
    desk.send(treated, event("lost", BAG), sealed(BAG), role=Role.WARD)
    [entry] = noted(desk)
    assert entry["actor"] == "ward-device"
    assert entry["about"] == {"what": "record_events", "role": "ward"}
    desk.send(treated, role=Role.WARD, hours=0.1)
    assert len(noted(desk)) == 1
    desk.send(treated, role=Role.WARD, hours=0.2)
    assert len(noted(desk)) == 2


def test_what_is_malformed_is_no_matter_of_access(desk: Desk) -> None:
    """A slip of the pen is not an attempt."""
    desk.send(sealed("nonsense"), sealed(BAG, unit="attic"), 5)
    assert noted(desk) == []


# --- what it costs


def test_a_program_with_the_whole_facility_has_nothing_more_read(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The set-up, once: however many events there are."""
    for number in (1, 20):
        with counted(desk.store, monkeypatch) as begun:
            desk.tell(*(sealed(bag) for bag in MORE[:number]))
        assert begun == ["reading"]


def test_people_units_and_originals_are_read_once_a_submission(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In one reading, that of the set-up."""
    desk.take_on("p-icu", scope=Scope(units=frozenset({"icu"})))
    for number in (1, 20):
        raw = [sealed(bag) | {"actor": "p-icu"} for bag in MORE[:number]]
        raw += [
            event("amended", supersedes=told["id"], reason="slip") | {"actor": "p-icu"}
            for told in raw
        ]
        with counted(desk.store, monkeypatch) as begun:
            outcomes = sent(desk, tablet(desk), *raw)
        assert {o.outcome for o in outcomes} == {"recorded"}
        assert begun == ["reading"]
