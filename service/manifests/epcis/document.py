"""Write a period of the record as one EPCIS document, in parts; corrections are declared errors.

An event that was corrected stays as it was first said, declared in error by the latest amendment;
so does every earlier correction. What holds is an event of its own under the amendment's id.
"""

import json
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from heapq import merge
from itertools import islice
from typing import Any
from uuid import UUID

from service.custody.events import Amended, Entry, Fact, Treated, kept
from service.custody.history import effective
from service.custody.proof import Proof
from service.manifests.epcis.mapping import mapped
from service.manifests.epcis.names import PREFIX, Names, event_uri, own
from service.manifests.epcis.sensors import elements

MEDIA_TYPE = "application/ld+json"
CONTEXT = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"
EVENTS_A_PART = 100


def _unproved(_cycle: str) -> None:
    """Of no cycle is anything known."""


@dataclass(frozen=True, slots=True)
class Frame:
    """What a document says of itself, and what it is written by.

    Attributes:
        names: How things are named, and the facility.
        zone: The facility's time zone: event times are given in it.
        created_at: When the document is made.
        from_at, until: The period [from, until) it is of.
        carriers: Ids of carts and other things that only carry, never registered as waste.
        proof_of: Gives what the cycle of a number proves, for what its loggers showed.
    """

    names: Names
    zone: tzinfo
    created_at: datetime
    from_at: datetime
    until: datetime
    carriers: Collection[str] = ()
    proof_of: Callable[[str], Proof | None] = _unproved


@dataclass(frozen=True, slots=True)
class _Telling:
    """One event of the document: as first said, or as an amendment told it anew."""

    id: UUID
    fact: Fact
    at: datetime
    entry: Entry
    supersedes: UUID | None = None
    wrong_by: tuple[Entry, ...] = ()
    """The amendments of an event that does not hold any more; the last one decides."""

    @property
    def order(self) -> tuple[datetime, UUID]:
        return self.at, self.id


def document(frame: Frame, entries: Iterable[Entry], amended: Iterable[Entry]) -> Iterator[bytes]:
    """Give the document in parts; no more than a part of it is held at a time.

    Args:
        frame: What it says of itself.
        entries: What happened in the period, ordered by ``at``, then event id, read as it goes.
        amended: The entries of events that were corrected, the original (if it is on record) and
            every amendment; all of them are held. An original may be among ``entries`` too.
    """
    retold = _retold(amended)
    superseded = {t.supersedes or t.id for t in retold}
    plain = (
        _Telling(e.event.id, e.event, e.at, e)
        for e in entries
        if not isinstance(e.event, Amended) and e.event.id not in superseded
    )
    written = (
        _json(_event(t, frame))
        for t in merge(plain, sorted(retold, key=lambda t: t.order), key=lambda t: t.order)
    )
    yield f'{_json(_head(frame))[:-1]},\n"epcisBody":{{"eventList":['.encode()
    joint = "\n"
    while part := list(islice(written, EVENTS_A_PART)):
        yield (joint + ",\n".join(part)).encode()
        joint = ",\n"
    yield b"\n]}}\n"


def _head(frame: Frame) -> dict[str, Any]:
    return {
        "@context": [CONTEXT, {PREFIX: frame.names.terms}],
        "type": "EPCISDocument",
        "schemaVersion": "2.0",
        "creationDate": _utc(frame.created_at),
        own("facility"): frame.names.facility,
        own("from"): _utc(frame.from_at),
        own("until"): _utc(frame.until),
    }


def _retold(amended: Iterable[Entry]) -> list[_Telling]:
    """Give every telling of the corrected events, those that do not hold any more among them."""
    originals: dict[UUID, Entry] = {}
    amendments: dict[UUID, list[Entry]] = defaultdict(list)
    for entry in amended:
        event = entry.event
        if isinstance(event, Amended):
            amendments[event.supersedes].append(entry)
        else:
            originals[event.id] = entry
    return [
        telling
        for superseded, said in amendments.items()
        for telling in _tellings(originals.get(superseded), said)
    ]


def _tellings(original: Entry | None, said: list[Entry]) -> Iterator[_Telling]:
    in_order = tuple(sorted(said, key=lambda e: (e.at, e.event.id)))
    if original is not None and not isinstance(original.event, Amended):
        yield _Telling(original.event.id, original.event, original.at, original, None, in_order)
    for entry in in_order:
        holds = effective([entry] if original is None else [original, entry])
        event = entry.event
        if isinstance(event, Amended) and event.corrected is not None:
            wrong_by = () if entry is in_order[-1] else in_order
            yield _Telling(
                event.id, event.corrected, holds[0].at, entry, event.supersedes, wrong_by
            )


def _event(telling: _Telling, frame: Frame) -> dict[str, Any]:
    local = _local(telling.at, frame.zone)
    fields: dict[str, Any] = {
        "eventID": event_uri(telling.id),
        "eventTime": local.isoformat(),
        "eventTimeZoneOffset": local.isoformat()[-6:],
        "recordTime": _utc(telling.entry.recorded_at),
    }
    if telling.wrong_by:
        fields |= {"errorDeclaration": _error(telling.wrong_by)}
    fields |= mapped(telling.fact, frame.names, frame.carriers)
    if isinstance(telling.fact, Treated):
        readings = elements(frame.proof_of(telling.fact.cycle), frame.names)
        fields |= {"sensorElementList": readings} if readings else {}
    if telling.supersedes is not None:
        fields[own("supersedes")] = event_uri(telling.supersedes)
    return fields | _on_receipt(telling)


def _on_receipt(telling: _Telling) -> dict[str, Any]:
    """What the service itself knew when it took the entry in."""
    entry, known = telling.entry, dict[str, Any]()
    if telling.at != telling.fact.occurred_at:
        known[own("occurred_at")] = _utc(telling.fact.occurred_at)
    if entry.clock_offset_s:
        known[own("clock_offset_s")] = entry.clock_offset_s
    if entry.false_codes:
        known[own("false_codes")] = list(entry.false_codes)
    if entry.origin is not None:
        origin = entry.origin
        told = {"file": origin.file, "line": origin.line, "keeper": origin.keeper}
        known[own("origin")] = {own(name): value for name, value in told.items()}
    return known


def _error(amendments: tuple[Entry, ...]) -> dict[str, Any]:
    """Declare an event in error: by the last amendment, with all there were beside it."""
    last = amendments[-1]
    struck_out = isinstance(last.event, Amended) and last.event.corrected is None
    declared: dict[str, Any] = {
        "declarationTime": _utc(last.at),
        "reason": "did_not_occur" if struck_out else "incorrect_data",
    }
    if not struck_out:
        declared["correctiveEventIDs"] = [event_uri(last.event.id)]
    return declared | {own("amendments"): [_amendment(e) for e in amendments]}


def _amendment(entry: Entry) -> dict[str, Any]:
    said = kept(entry.event)
    for name in ("kind", "containers", "supersedes", "corrected"):
        said.pop(name, None)
    said["recorded_at"] = _utc(entry.recorded_at)
    return {own(name): value for name, value in said.items()}


def _local(at: datetime, zone: tzinfo) -> datetime:
    """Give the time in the zone; RFC 3339 has no seconds in an offset, as zones once had."""
    offset = at.astimezone(zone).utcoffset() or timedelta()
    return at.astimezone(timezone(timedelta(minutes=round(offset / timedelta(minutes=1)))))


def _utc(at: datetime) -> str:
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _json(value: dict[str, Any]) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
