"""What is wrong with an EPCIS document that its JSON schema does not catch.

From the standards (GS1 EPCIS 2.0 and CBV 2.0, 2022; from memory where no more is said). A document
may be anybody's, and is checked against the schema first. A fault can be the record's own: what was
scanned after its disposal is exported as it was said.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

Fields = dict[str, Any]

EXCLUSIVE = (
    ("shipping", frozenset({"staging_outbound", "loading", "departing", "consigning"})),
    ("receiving", frozenset({"arriving", "accepting"})),
)
"""A business step and those it is already made of: a process is told by one or the others."""

_CBV = re.compile(r"(urn:epcglobal:cbv|https?://(ns|ref)\.gs1\.org/cbv)", re.IGNORECASE)
_WORDS = ("bizStep", "disposition", "type", "reason")
_INPUTS = ("inputEPCList", "inputQuantityList")
_OUTPUTS = ("outputEPCList", "outputQuantityList")
_OTHER_SCHEMES = frozenset({"urn", "http", "https", "tag", "ni"})


def faults(document: Fields) -> list[str]:
    """Give every fault in words, the event's id first; an empty list if there is none."""
    events: list[Fields] = document["epcisBody"]["eventList"]
    prefixes = _prefixes(document)
    found = [*_of_context(prefixes), *_of_ids(events)]
    for event in events:
        said = event.get("eventID", "(no eventID)")
        checks = (_times(event), _lists(event), _vocabulary(event, prefixes))
        found += [f"{said}: {fault}" for check in checks for fault in check]
    return [*found, *_of_lives(events)]


def _prefixes(document: Fields) -> dict[str, str]:
    context = document["@context"]
    parts = context if isinstance(context, list) else [context]
    return {k: v for part in parts if isinstance(part, dict) for k, v in part.items()}


def _of_context(prefixes: dict[str, str]) -> Iterator[str]:
    for prefix, stands_for in prefixes.items():
        if isinstance(stands_for, str) and _CBV.match(stands_for):
            yield f"@context: {prefix} puts own words in the namespace of the CBV"


def _of_ids(events: list[Fields]) -> Iterator[str]:
    """An id names one event, and a correction is in the document, is not what it corrects."""
    counted = Counter(e["eventID"] for e in events if "eventID" in e)
    yield from (f"{i}: {n} events bear this id" for i, n in counted.items() if n > 1)
    for event in events:
        said = event.get("eventID", "(no eventID)")
        if "eventID" not in event:
            yield f"{said}: an event without an id cannot be corrected"
        declared = event.get("errorDeclaration", {})
        corrective = declared.get("correctiveEventIDs", [])
        if corrective and declared.get("reason") == "did_not_occur":
            yield f"{said}: did not occur, and yet is corrected"
        for other in corrective:
            if other == said:
                yield f"{said}: is corrected by itself"
            elif other not in counted:
                yield f"{said}: is corrected by {other}, which is not in the document"


def _times(event: Fields) -> Iterator[str]:
    """A time says its offset; that of the event is the one given beside it, or UTC."""
    declared = event.get("errorDeclaration", {}).get("declarationTime")
    for name, text in (
        ("eventTime", event["eventTime"]),
        ("recordTime", event.get("recordTime")),
        ("declarationTime", declared),
    ):
        if text is not None and datetime.fromisoformat(text).tzinfo is None:
            yield f"{name} says no offset from UTC"
    written = re.search(r"[+-]\d\d:\d\d$", event["eventTime"])
    if written and written[0] != event["eventTimeZoneOffset"]:
        beside = event["eventTimeZoneOffset"]
        yield f"eventTime is written at {written[0]}, eventTimeZoneOffset says {beside}"


def _lists(event: Fields) -> Iterator[str]:
    """What the event is about is named, once each."""
    for name in ("epcList", "childEPCs", *_INPUTS, *_OUTPUTS):
        held = [str(item) for item in event.get(name, [])]
        if len(held) != len(set(held)):
            yield f"{name} names something twice"
    yield from _ABOUT.get(event["type"], _nothing)(event)


def _nothing(_: Fields) -> Iterator[str]:
    yield from ()


def _object(event: Fields) -> Iterator[str]:
    sensed = "sensorElementList" in event and "readPoint" in event
    if not (event.get("epcList") or event.get("quantityList") or sensed):
        yield "an ObjectEvent about nothing"


def _aggregation(event: Fields) -> Iterator[str]:
    if event["action"] != "OBSERVE" and "parentID" not in event:
        yield f"{event['action']} without a parentID"
    if event.get("parentID") in event.get("childEPCs", []):
        yield "a parent is put in itself"


def _transaction(event: Fields) -> Iterator[str]:
    about = event.get("epcList") or event.get("quantityList") or "parentID" in event
    if event["action"] != "DELETE" and not about:
        yield "a TransactionEvent about nothing"


def _transformation(event: Fields) -> Iterator[str]:
    taken = any(event.get(name) for name in _INPUTS)
    made = any(event.get(name) for name in _OUTPUTS)
    if not (taken and made) and not ("transformationID" in event and (taken or made)):
        yield "a TransformationEvent needs inputs and outputs"


_ABOUT = {
    "ObjectEvent": _object,
    "AggregationEvent": _aggregation,
    "TransactionEvent": _transaction,
    "TransformationEvent": _transformation,
}


def _vocabulary(event: Fields, prefixes: dict[str, str]) -> Iterator[str]:
    """Own words are neither in the standard's namespace nor under a prefix nobody explains."""
    for name, value in _walk(event):
        if name in _WORDS and isinstance(value, str) and _CBV.match(_expanded(value, prefixes)):
            yield f"{name} {value} is in the namespace of the CBV, and no word of it as JSON has it"
        prefix, colon, _ = name.partition(":")
        if colon and prefix not in prefixes and prefix not in _OTHER_SCHEMES:
            yield f"{name}: @context does not say what {prefix} stands for"


def _expanded(value: str, prefixes: dict[str, str]) -> str:
    prefix, colon, rest = value.partition(":")
    if prefix == "cbv" and prefix not in prefixes:
        return f"https://ns.gs1.org/cbv/{rest}"  # the standard's own context explains this one
    return prefixes.get(prefix, f"{prefix}{colon}") + rest if colon else value


def _walk(node: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(node, dict):
        for name, value in node.items():
            yield name, value
            yield from _walk(value)
    elif isinstance(node, list):
        for value in node:
            yield from _walk(value)


def _of_lives(events: list[Fields]) -> Iterator[str]:
    """No thing is seen after its end or begins twice, and none is told by exclusive steps."""
    lives: dict[str, list[Fields]] = defaultdict(list)
    for event in sorted(events, key=_moment):
        if "errorDeclaration" not in event:
            for epc in dict.fromkeys(_named(event)):
                lives[epc].append(event)
    for epc, life in lives.items():
        ended = begun = False
        steps: set[str] = set()
        for event in life:
            about = event["type"] == "ObjectEvent"
            if ended:
                yield f"{event.get('eventID', '(no eventID)')}: names {epc} after its DELETE"
            if about and event["action"] == "ADD" and begun:
                yield f"{event.get('eventID', '(no eventID)')}: {epc} is commissioned again"
            begun |= about and event["action"] == "ADD"
            ended |= about and event["action"] == "DELETE"
            steps.add(event.get("bizStep", ""))
        for whole, parts in EXCLUSIVE:
            if whole in steps and steps & parts:
                both = ", ".join(sorted(steps & parts))
                yield f"{epc}: told both by {whole} and by {both}"


def _moment(event: Fields) -> datetime:
    at = datetime.fromisoformat(event["eventTime"])
    return at if at.tzinfo else at.replace(tzinfo=UTC)  # told as a fault elsewhere


def _named(event: Fields) -> Iterator[str]:
    for name in ("epcList", "childEPCs", "inputEPCList", "outputEPCList"):
        yield from event.get(name, [])
    if "parentID" in event:
        yield event["parentID"]
