"""One event of ours as one event of the standard: type, action, business step, who, where, what.

What the standard has no field for stands under our own names, as the record has it; docs/epcis.md
has the table. Own words are used where the CBV's nearest would say something that is not so.
"""

from collections.abc import Collection
from typing import Any, assert_never

from service.custody.activity import ActivityCounted
from service.custody.acts import Outlet
from service.custody.counted import NeedlesCounted, PitCovered
from service.custody.cycle_events import (
    CycleRun,
    IndicatorRead,
    LoadObserved,
    SporeTested,
    TraceAttached,
)
from service.custody.events import (
    Collected,
    Dispatched,
    Disposed,
    DoubleBagged,
    Fact,
    Found,
    Inspected,
    Labelled,
    Lost,
    Notified,
    Packed,
    Received,
    Refused,
    Registered,
    Spilled,
    Stored,
    Treated,
    Unpacked,
    Weighed,
    kept,
)
from service.manifests.epcis.names import Names, own

Fields = dict[str, Any]

OBSERVE, ADD, DELETE = "OBSERVE", "ADD", "DELETE"

_ALWAYS = ("id", "containers", "occurred_at")
_OF_THE_THING = ("category", "container_kind", "unit", "hub_cut", "in_use_since", "contents")
"""What is true of the container for life: its instance master data (ILMD)."""

_INCIDENTS = {"spilled": "spilling", "notified": "notifying"}

_PLACED: dict[str, tuple[str, ...]] = {
    "registered": _OF_THE_THING,
    "double_bagged": ("outer",),
    "packed": ("parent",),
    "unpacked": ("parent",),
    "collected": ("from_party", "to_party"),
    "stored": ("store", "temperature_c"),
    "dispatched": ("consignment", "consignee"),
    "received": ("consignment", "party"),
    "refused": ("consignment",),
}
"""The fields of each kind that the standard has a place for."""


def mapped(event: Fact, names: Names, carriers: Collection[str]) -> Fields:
    """Give the event without its id, times and error declaration.

    Args:
        event: What was said.
        names: How things are named.
        carriers: Ids of carts and other things that only carry: a disposal that names one ends
            what was in it, not the thing itself.
    """
    said = kept(event)
    for name in (*_ALWAYS, *_PLACED.get(event.kind, ())):
        said.pop(name, None)
    fields = _standard(event, names, carriers)
    if not fields["type"].startswith(names.terms):
        place = said.pop("place", None) or _where(event)
        if place is not None:
            fields["readPoint"] = {"id": names.of_site("place", place)}
    readings = _weight(said, names) + _temperature(event)
    if readings:
        fields["sensorElementList"] = [{"sensorReport": readings}]
    return fields | {own(name): value for name, value in said.items()}


def _where(event: Fact) -> str | None:
    """A container is sealed at its unit and stored in its store; of others the place is told."""
    if isinstance(event, Registered):
        return event.unit
    return event.store if isinstance(event, Stored) else None


def _weight(said: Fields, names: Names) -> list[Fields]:
    """Grams (GRM of UN/ECE Recommendation 20) and the scale that gave them."""
    if "weight_g" not in said:
        return []
    report = {"type": "Mass", "value": said.pop("weight_g"), "uom": "GRM"}
    if "scale" in said:
        report["deviceID"] = names.of_site("scale", said.pop("scale"))
    return [report]


def _temperature(event: Fact) -> list[Fields]:
    """A store's temperature in °C (CEL), a JSON number."""
    if not isinstance(event, Stored) or event.temperature_c is None:
        return []
    return [{"type": "Temperature", "value": float(event.temperature_c), "uom": "CEL"}]


def _standard(event: Fact, names: Names, carriers: Collection[str]) -> Fields:  # noqa: C901
    """Give the fields of the standard, but for where and how much."""
    step = names.term
    match event:
        case Labelled():
            return _objects(event, names, OBSERVE, "encoding", "encoded")
        case Registered():
            made = _objects(event, names, ADD, "commissioning", "active")
            shut = {"persistentDisposition": {"set": ["container_closed"]}} if event.closed else {}
            return made | shut | {"ilmd": _master(event)}
        case Weighed():
            return _objects(event, names, OBSERVE, "inspecting", "in_progress")
        case DoubleBagged():
            if event.outer is None:
                return _objects(event, names, OBSERVE, "packing", "in_progress")
            return _aggregation(event, names, event.outer, ADD)
        case Packed():
            return _aggregation(event, names, event.parent, ADD)
        case Unpacked():
            return _aggregation(event, names, event.parent, DELETE)
        case Collected():
            taken = _objects(event, names, OBSERVE, "collecting", "in_transit")
            return taken | _hand_over(names, event.from_party, event.to_party)
        case Stored():
            stored = _objects(event, names, OBSERVE, "storing", "in_progress")
            return stored | {"bizLocation": {"id": names.of_site("place", event.store)}}
        case Dispatched():
            sent = _objects(event, names, OBSERVE, "shipping", "in_transit")
            sent |= _consignment(names, event.consignment)
            return sent | _hand_over(names, None, event.consignee)
        case Received():
            return _received(event, names)
        case Refused():
            turned = _objects(event, names, OBSERVE, step("refusing"), "in_transit")
            return turned | _consignment(names, event.consignment)
        case Treated():
            return _treated(event, names, carriers)
        case Disposed():
            return _disposed(event, names, carriers)
        case Inspected():
            wrong = bool(event.wrong_items or event.items_wrong)
            fit = "non_conformant" if wrong else "conformant"
            return _objects(event, names, OBSERVE, "inspecting", fit)
        case Lost():
            return _objects(event, names, OBSERVE, step("missing"), "unknown")
        case Found():
            return _objects(event, names, OBSERVE, step("finding"), "in_progress")
        case Spilled() | Notified():
            if not event.containers:
                return {"type": step(type(event).__name__)}
            return _objects(event, names, OBSERVE, step(_INCIDENTS[event.kind]))
        case ActivityCounted() | PitCovered() | NeedlesCounted():
            return {"type": step(type(event).__name__)}
        case CycleRun() | TraceAttached() | IndicatorRead() | LoadObserved() | SporeTested():
            return {"type": step(type(event).__name__)}
        case _:
            assert_never(event)


def _uris(containers: tuple[str, ...], names: Names) -> list[str]:
    """Each once: a list of the standard is a set."""
    return [names.container(c) for c in dict.fromkeys(containers)]


def _objects(
    event: Fact, names: Names, action: str, step: str, disposition: str | None = None
) -> Fields:
    fields: Fields = {
        "type": "ObjectEvent",
        "action": action,
        "epcList": _uris(event.containers, names),
        "bizStep": step,
    }
    return fields if disposition is None else fields | {"disposition": disposition}


def _aggregation(event: Fact, names: Names, parent: str, action: str) -> Fields:
    """Put in or taken out; a list that is left out with DELETE means all that was in it."""
    fields: Fields = {
        "type": "AggregationEvent",
        "action": action,
        "parentID": names.container(parent),
        "bizStep": "packing" if action == ADD else "unpacking",
        "disposition": "in_progress",
    }
    children = _uris(event.containers, names)
    return fields | {"childEPCs": children} if children else fields


def _master(event: Registered) -> Fields:
    said = kept(event)
    return {own(name): said[name] for name in _OF_THE_THING if name in said}


def _hand_over(names: Names, giver: str | None, taker: str) -> Fields:
    """Who had it and who has it then: ``possessing_party`` of the CBV."""
    sort = "possessing_party"
    taken = {"type": sort, "destination": names.of_site("party", taker)}
    fields: Fields = {"destinationList": [taken]}
    if giver is not None:
        fields["sourceList"] = [{"type": sort, "source": names.of_site("party", giver)}]
    return fields


def _consignment(names: Names, consignment: str | None) -> Fields:
    if consignment is None:
        return {}
    uri = names.of_site("consignment", consignment)
    return {"bizTransactionList": [{"type": names.term("consignment"), "bizTransaction": uri}]}


def _received(event: Received, names: Names) -> Fields:
    """A receipt of nothing closes its consignment: nothing belongs to it any more."""
    joined = _consignment(names, event.consignment) | _hand_over(names, None, event.party)
    if event.containers:
        return _objects(event, names, OBSERVE, "receiving", "in_progress") | joined
    closed = {"type": "TransactionEvent", "action": DELETE, "bizStep": names.term("closing")}
    return closed | joined


def _treated(event: Treated, names: Names, carriers: Collection[str]) -> Fields:
    """The waste goes in and a residue comes out, under the cycle; the label stays with the bag."""
    step = names.term(event.step)
    if any(c in carriers for c in event.containers):
        return _objects(event, names, OBSERVE, step)
    return {
        "type": "TransformationEvent",
        "transformationID": names.of_site("cycle", event.party, event.cycle),
        "inputEPCList": _uris(event.containers, names),
        "outputQuantityList": [{"epcClass": names.term(f"residue/{event.step}")}],
        "bizStep": step,
    }


def _disposed(event: Disposed, names: Names, carriers: Collection[str]) -> Fields:
    if any(c in carriers for c in event.containers):
        return _objects(event, names, OBSERVE, names.term("disposing"))
    if event.outlet is Outlet.RETURN_TO_SUPPLIER:
        return _objects(event, names, DELETE, "decommissioning", "inactive")
    return _objects(event, names, DELETE, "destroying", "destroyed")
