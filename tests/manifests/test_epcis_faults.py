"""What is wrong with an EPCIS document beyond the schema: each fault, put in by itself."""

from copy import deepcopy
from typing import Any

import pytest

from service.manifests.epcis.faults import faults
from tests.manifests.exported import container, exported
from tests.trade import BAG, CART, Story, at, handled_well

T = "2026-07-01 08:00"
BAG_URI, CART_URI = container(BAG), container(CART)


def test_a_document_of_ours_has_no_faults() -> None:
    """A bag handled well, and every kind of event but those that contradict each other."""
    document = exported(handled_well(at(T)).entries)
    assert faults(document) == []
    assert len(document["epcisBody"]["eventList"]) == 12


def test_what_is_scanned_after_its_disposal_is_exported_and_found() -> None:
    """The record is not made better than it is."""
    story = handled_well(at(T)).stored("2026-07-03 08:00")
    assert faults(exported(story.entries)) == [
        f"urn:uuid:{story.entries[-1].event.id}: names {BAG_URI} after its DELETE"
    ]
    struck_out = story.voided("2026-07-03 09:00", "stored")
    assert faults(exported(struck_out.entries)) == []


def _good() -> Any:
    story = handled_well(at(T)).weighed("2026-07-01 09:30", 3_000)
    return exported(story.amended("2026-07-01 10:00", "weighed", weight_g=3_100).entries)


def _of(document: Any, kind: str) -> Any:
    return next(e for e in document["epcisBody"]["eventList"] if e["custody:kind"] == kind)


def _wrong(document: Any) -> Any:
    return next(e for e in document["epcisBody"]["eventList"] if "errorDeclaration" in e)


FAULTY: list[tuple[str, Any]] = [
    ("stands for", lambda d: d["@context"].pop()),
    ("namespace", lambda d: d["@context"][1].update(custody="https://ns.gs1.org/cbv/")),
    ("namespace", lambda d: _of(d, "stored").update(bizStep="cbv:BizStep-parking")),
    ("namespace", lambda d: _of(d, "stored").update(disposition="urn:epcglobal:cbv:disp:x")),
    ("bear this id", lambda d: d["epcisBody"]["eventList"].append(_of(d, "stored"))),
    ("without an id", lambda d: _of(d, "stored").pop("eventID")),
    ("not in the document", lambda d: d["epcisBody"]["eventList"].remove(_corrective(d))),
    ("corrected by itself", lambda d: _wrong(d).update(eventID=_corrective(d)["eventID"])),
    ("did not occur", lambda d: _wrong(d)["errorDeclaration"].update(reason="did_not_occur")),
    ("no offset", lambda d: _of(d, "stored").update(eventTime="2026-07-01T10:00:00")),
    ("no offset", lambda d: _of(d, "stored").update(recordTime="2026-07-01T10:00:00")),
    ("is written at", lambda d: _of(d, "stored").update(eventTimeZoneOffset="+05:30")),
    ("about nothing", lambda d: _of(d, "stored").update(epcList=[])),
    ("twice", lambda d: _of(d, "packed").update(childEPCs=[BAG_URI, BAG_URI])),
    ("in itself", lambda d: _of(d, "packed").update(childEPCs=[CART_URI])),
    ("parentID", lambda d: _of(d, "packed").pop("parentID")),
    ("inputs and outputs", lambda d: _without_output(_of(d, "treated"))),
    ("after its DELETE", lambda d: _of(d, "disposed").update(_earlier())),
    ("commissioned again", lambda d: _of(d, "labelled").update(action="ADD")),
    ("both by shipping", lambda d: _of(d, "stored").update(bizStep="departing")),
    ("both by receiving", lambda d: _of(d, "stored").update(bizStep="arriving")),
]


def _corrective(document: Any) -> Any:
    [said] = _wrong(document)["errorDeclaration"]["correctiveEventIDs"]
    return next(e for e in document["epcisBody"]["eventList"] if e["eventID"] == said)


def _without_output(event: Any) -> None:
    del event["outputQuantityList"], event["transformationID"]


def _earlier() -> dict[str, str]:
    return {"eventTime": "2026-07-01T08:30:00+00:00"}


@pytest.mark.parametrize("number", range(len(FAULTY)))
def test_a_fault_that_no_schema_sees_is_told(number: int) -> None:
    """Each put into a good document by itself (EPCIS 2.0 and CBV 2.0, from memory)."""
    words, spoil = FAULTY[number]
    good = _good()
    assert faults(good) == []
    spoilt = deepcopy(good)
    spoil(spoilt)
    found = faults(spoilt)
    assert any(words in fault for fault in found), found


def test_a_transaction_about_nothing_is_a_fault_unless_it_ends() -> None:
    """A receipt of nothing closes its consignment with DELETE."""
    document = exported(Story().all_received(T).entries)
    assert faults(document) == []
    document["epcisBody"]["eventList"][0]["action"] = "OBSERVE"
    [fault] = faults(document)
    assert "a TransactionEvent about nothing" in fault
