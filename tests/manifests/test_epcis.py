"""The record as EPCIS events: what each kind becomes, and the document around them."""

import json
from collections.abc import Iterator
from datetime import timedelta

import pytest

from service.custody.events import KINDS, Entry, Origin
from service.manifests.epcis.document import document
from tests.manifests.exported import (
    KOLKATA,
    container,
    events,
    every_kind,
    exported,
    frame,
    of_site,
    one,
    parts,
    term,
)
from tests.trade import BAG, CART, OUTER, Story, at, bag

T = "2026-07-01 08:00"
BAG_URI, CART_URI = container(BAG), container(CART)


@pytest.mark.parametrize(
    ("story", "kind", "action", "step", "disposition"),
    [
        (Story().labelled(T), "Object", "OBSERVE", "encoding", "encoded"),
        (Story().sealed(T), "Object", "ADD", "commissioning", "active"),
        (Story().weighed(T, 3_000), "Object", "OBSERVE", "inspecting", "in_progress"),
        (Story().double_bagged(T), "Object", "OBSERVE", "packing", "in_progress"),
        (
            Story().double_bagged(T, outer=OUTER),
            "Aggregation",
            "ADD",
            "packing",
            "in_progress",
        ),
        (Story().packed(T), "Aggregation", "ADD", "packing", "in_progress"),
        (Story().emptied(T), "Aggregation", "DELETE", "unpacking", "in_progress"),
        (Story().collected(T), "Object", "OBSERVE", "collecting", "in_transit"),
        (Story().stored(T), "Object", "OBSERVE", "storing", "in_progress"),
        (Story().dispatched(T), "Object", "OBSERVE", "shipping", "in_transit"),
        (Story().received(T), "Object", "OBSERVE", "receiving", "in_progress"),
        (Story().all_received(T), "Transaction", "DELETE", term("closing"), None),
        (Story().refused(T), "Object", "OBSERVE", term("refusing"), "in_transit"),
        (Story().treated(T, "autoclave"), "Transformation", None, term("autoclave"), None),
        (
            Story().treated(T, "autoclave", containers=(CART,)),
            "Object",
            "OBSERVE",
            term("autoclave"),
            None,
        ),
        (Story().disposed(T), "Object", "DELETE", "destroying", "destroyed"),
        (
            Story().disposed(T, "return_to_supplier"),
            "Object",
            "DELETE",
            "decommissioning",
            "inactive",
        ),
        (
            Story().disposed(T, containers=(CART,)),
            "Object",
            "OBSERVE",
            term("disposing"),
            None,
        ),
        (Story().inspected(T), "Object", "OBSERVE", "inspecting", "conformant"),
        (Story().inspected(T, "glass"), "Object", "OBSERVE", "inspecting", "non_conformant"),
        (Story().lost(T), "Object", "OBSERVE", term("missing"), "unknown"),
        (Story().found(T), "Object", "OBSERVE", term("finding"), "in_progress"),
        (Story().spilled(T), "Object", "OBSERVE", term("spilling"), None),
        (Story().notified(T), "Object", "OBSERVE", term("notifying"), None),
    ],
)
def test_each_kind_has_its_type_action_step_and_disposition(
    story: Story, kind: str, action: str | None, step: str, disposition: str | None
) -> None:
    """By the vocabulary of CBV 2.0, or by a word of ours where it has none that is true."""
    event = one(story)
    assert event["type"] == f"{kind}Event"
    assert event.get("action") == action
    assert (event["bizStep"], event.get("disposition")) == (step, disposition)
    assert event["custody:kind"] == story.entries[0].event.kind


def test_a_spill_or_a_notice_of_no_container_is_an_event_of_a_type_of_ours() -> None:
    """An ObjectEvent would be about nothing; the standard lets others add types of event."""
    spilled = one(Story().spilled(T, containers=(), place="yard", people_exposed=2))
    assert spilled["type"] == term("Spilled")
    assert spilled["custody:place"] == "yard"
    assert spilled["custody:people_exposed"] == 2
    notified = one(Story().notified(T, containers=(), reference="N-1"))
    assert notified["type"] == term("Notified")
    assert notified["custody:reference"] == "N-1"
    assert not {"action", "epcList", "bizStep"} & {*spilled, *notified}


def test_an_event_has_the_id_of_the_record_and_both_times() -> None:
    """When it happened, on the facility's own clock; when it was recorded, in UTC."""
    story = Story().stored("2026-07-01 08:00", after=timedelta(minutes=5))
    event = one(story, zone=KOLKATA)
    assert event["eventID"] == f"urn:uuid:{story.entries[0].event.id}"
    assert event["eventTime"] == "2026-07-01T13:30:00+05:30"
    assert event["eventTimeZoneOffset"] == "+05:30"
    assert event["recordTime"] == "2026-07-01T08:05:00Z"


def test_an_offset_with_seconds_is_cut_to_minutes() -> None:
    """Until 1906 Indian clocks were 5:21:10 ahead (tz database); RFC 3339 §4.2 has no seconds."""
    [entry] = Story().stored(T).entries
    then = Entry(entry.event.model_copy(update={"occurred_at": at("1901-01-01 00:00")}), at(T))
    [event] = events([then], zone=KOLKATA)
    assert event["eventTimeZoneOffset"] == "+05:21"
    assert event["eventTime"] == "1901-01-01T05:21:00+05:21"


def test_a_wrong_device_clock_is_put_right_and_what_was_told_stays() -> None:
    """The time of the event is the true one; told time and offset stand beside it."""
    event = one(Story().weighed("2026-07-01 09:00", 3_000, clock_offset_s=3600))
    assert event["eventTime"] == "2026-07-01T08:00:00+00:00"
    assert event["custody:occurred_at"] == "2026-07-01T09:00:00Z"
    assert event["custody:clock_offset_s"] == 3600


def test_false_codes_and_origin_of_an_import_are_handed_on() -> None:
    """What the service knew on receipt is not lost."""
    origin = Origin("june.csv", 7, "yard book")
    event = one(Story().stored(T, false=[BAG], origin=origin))
    assert event["custody:false_codes"] == [BAG]
    assert event["custody:origin"] == {
        "custody:file": "june.csv",
        "custody:line": 7,
        "custody:keeper": "yard book",
    }


def test_a_sealed_bag_carries_what_is_true_of_it_for_life() -> None:
    """Category, kind and unit are master data of the instance; the weight is a reading in grams."""
    event = one(bag().sealed(T, weight_g=3420, scale="ward-scale", fill_fraction="0.7"))
    assert event["ilmd"] == {
        "custody:category": "soiled",
        "custody:container_kind": "bag",
        "custody:unit": "ward-3",
    }
    assert event["readPoint"] == {"id": of_site("place/ward-3")}
    [element] = event["sensorElementList"]
    assert element["sensorReport"] == [
        {"type": "Mass", "value": 3420, "uom": "GRM", "deviceID": of_site("scale/ward-scale")}
    ]
    assert event["custody:fill_fraction"] == "0.7"
    assert "custody:weight_g" not in event


def test_a_store_is_where_things_are_then_and_how_cold() -> None:
    """Temperature in degrees Celsius (CEL)."""
    event = one(Story().stored(T, temperature_c="-18.5"))
    assert event["bizLocation"] == event["readPoint"] == {"id": of_site("place/yard-store")}
    [element] = event["sensorElementList"]
    assert element["sensorReport"] == [{"type": "Temperature", "value": -18.5, "uom": "CEL"}]


def test_a_hand_over_names_who_had_it_and_who_has_it() -> None:
    """As possessing parties."""
    event = one(Story().collected(T))
    [source], [destination] = event["sourceList"], event["destinationList"]
    assert source == {"type": "possessing_party", "source": of_site("party/ward-3")}
    assert destination == {"type": "possessing_party", "destination": of_site("party/handlers")}


def test_a_consignment_is_the_transaction_of_departure_refusal_and_receipt() -> None:
    """All three point to the same one; the carrier and the seal stand under our own names."""
    story = Story().dispatched(T).refused(T).received(T).all_received(T)
    told = events(story.entries)
    uri = of_site("consignment/C-1")
    for event in told:
        assert event["bizTransactionList"] == [{"type": term("consignment"), "bizTransaction": uri}]
    assert told[0]["custody:carrier"] == "haulier"
    assert told[0]["custody:seal"] == "S-100"
    assert "epcList" not in told[3]


def test_what_is_put_in_and_taken_out_is_named_by_parent_and_child() -> None:
    """A cart that was emptied names no child: all that was in it came out."""
    packed, emptied = events(Story().packed(T).emptied(T).entries)
    assert (packed["parentID"], packed["childEPCs"]) == (CART_URI, [BAG_URI])
    assert emptied["parentID"] == CART_URI
    assert "childEPCs" not in emptied


def test_a_treatment_takes_the_waste_in_and_gives_a_residue_under_its_cycle() -> None:
    """Events of one cycle share its id."""
    event = one(Story().treated(T, "autoclave", cycle="K/1"))
    assert event["transformationID"] == of_site("cycle/plant/K%2F1")
    assert event["inputEPCList"] == [BAG_URI]
    assert event["outputQuantityList"] == [{"epcClass": term("residue/autoclave")}]


def test_a_container_named_twice_is_listed_once() -> None:
    """A list of the standard has no doubles."""
    assert one(Story().stored(T, BAG, BAG))["epcList"] == [BAG_URI]


def test_nothing_that_was_said_is_lost() -> None:
    """Every text and number of every kind of event is somewhere in the document."""
    story = every_kind()
    assert {e.event.kind for e in story.entries} == {
        k.model_fields["kind"].default for k in KINDS
    } - {"amended"}
    for entry in story.entries:
        [event] = events([entry])
        written = json.dumps(event)
        said = entry.event.model_dump(mode="json", exclude_defaults=True)
        for name, value in said.items():
            if name not in ("id", "occurred_at", "in_use_since"):
                for part in value if isinstance(value, list) else [value]:
                    text = str(part).replace(" ", "%20").replace("/", "%2F")
                    as_json = json.dumps(part)[1:-1] if isinstance(part, str) else json.dumps(part)
                    assert as_json in written or text in written, (event, name)


def test_an_empty_period_is_a_document_without_events() -> None:
    """It says of which facility and period it is."""
    document = exported([])
    assert document["epcisBody"] == {"eventList": []}
    assert document["creationDate"] == "2026-08-01T09:00:00Z"
    assert document["custody:facility"] == "hill"
    assert document["custody:from"] == "2026-07-01T00:00:00Z"
    assert document["custody:until"] == "2026-08-01T00:00:00Z"


def test_no_more_is_read_than_is_written() -> None:
    """A quarter of any size is written with the memory of a hundred events."""
    story, taken = Story(), 0
    for minute in range(1_000):
        story.stored(at(T) + timedelta(minutes=minute))

    def source() -> Iterator[Entry]:
        nonlocal taken
        for entry in story.entries:
            taken += 1
            yield entry

    written = document(frame(), source(), [])
    next(written)
    assert taken == 0
    next(written)
    assert taken <= 101


def test_a_container_that_was_told_to_be_open_is_not_said_to_be_closed() -> None:
    """Closed is the usual thing, and stays so until something else is said."""
    shut, left_open = one(Story().sealed(T)), one(Story().sealed(T, closed=False))
    assert shut["persistentDisposition"] == {"set": ["container_closed"]}
    assert "persistentDisposition" not in left_open
    assert left_open["custody:closed"] is False


def test_a_long_document_comes_in_parts() -> None:
    """A part holds a hundred events at most, and all together are one document."""
    story = Story()
    for minute in range(250):
        story.stored(at(T) + timedelta(minutes=minute))
    written = parts(story.entries)
    assert max(part.count(b'"eventID"') for part in written) == 100
    assert len(json.loads(b"".join(written))["epcisBody"]["eventList"]) == 250
