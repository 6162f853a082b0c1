"""What happened, in the words of a page: kinds, fields, and their values with names for ids."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from service.custody.events import Amended, Entry, Event, kept
from service.custody.history import Happened, History
from service.custody.site import Site
from service.pages.language import Language

APART = timedelta(minutes=1)
"""From this on a page says how much later something was recorded than it happened."""

KINDS = {
    "labelled": "label printed",
    "registered": "sealed",
    "weighed": "weighed",
    "double_bagged": "put in an outer bag",
    "packed": "put in a transport container",
    "unpacked": "taken out of a transport container",
    "collected": "collected",
    "stored": "stored",
    "dispatched": "sent away",
    "received": "received",
    "refused": "turned away",
    "treated": "treated",
    "cycle_run": "cycle run",
    "trace_attached": "trace attached",
    "indicator_read": "indicator read",
    "load_observed": "load looked at",
    "spore_tested": "spore test",
    "disposed": "disposed of",
    "inspected": "inspected",
    "lost": "missing",
    "found": "found again",
    "spilled": "spill or injury",
    "notified": "authority told",
    "amended": "corrected",
    "activity_counted": "activity counted",
    "pit_covered": "pit covered",
    "needles_counted": "needles counted",
    "unregistered": "not registered",
    "carrying": "carries others",
}
"""Each kind of event, and each state of a container, as people say it."""

FIELDS = {
    "occurred_at": "time",
    "containers": "containers",
    "category": "category",
    "unit": "unit",
    "container_kind": "kind of container",
    "weight_g": "weight",
    "tare_g": "weight of the outer bag",
    "scale": "scale",
    "fill_fraction": "how full",
    "closed": "closed",
    "hub_cut": "hub cut",
    "in_use_since": "in use since",
    "contents": "contents",
    "from_cycle": "residue of cycle",
    "parents": "residue of",
    "outer": "outer bag",
    "parent": "transport container",
    "from_party": "from",
    "to_party": "to",
    "protective_gear": "protective gear",
    "store": "store",
    "temperature_c": "temperature, °C",
    "consignment": "consignment",
    "carrier": "carrier",
    "consignee": "consignee",
    "vehicle": "vehicle",
    "seal": "seal",
    "seal_intact": "seal intact",
    "condition": "condition",
    "party": "by",
    "exceptions": "remarks",
    "complete": "nothing else came",
    "reason": "reason",
    "step": "step",
    "cycle": "cycle",
    "outlet": "outlet",
    "receipt": "receipt",
    "wrong_items": "wrong items",
    "items_seen": "items seen",
    "items_wrong": "items wrong",
    "last_seen": "last seen",
    "people_exposed": "people exposed",
    "action_taken": "what was done",
    "authority": "authority",
    "about": "about",
    "reference": "reference",
    "count": "labels",
    "day": "day",
    "occupied_bed_days": "occupied bed-days",
    "procedures": "procedures",
    "source": "counted by",
    "pit": "pit",
    "cover": "cover",
    "layer_cm": "layer, cm",
    "free_cm": "free below the surface, cm",
    "stage": "stage",
    "needles": "needles",
    "plus_minus": "plus or minus",
    "layout": "label stock",
    "actor": "who",
    "device": "device",
    "place": "place",
    "note": "note",
    "kind": "what",
}
"""Each field of an event, as people say it."""

_ELSEWHERE = frozenset({"id", "kind", "containers", "occurred_at", "actor", "device", "place"})
"""Fields that have a column of their own."""
_NAMED = frozenset({"unit", "store", "party", "from_party", "to_party", "carrier", "consignee",
                    "scale", "pit"})  # fmt: skip
_WORDS = frozenset({"container_kind", "condition", "step", "outlet", "about", "cover", "stage"})


@dataclass(frozen=True, slots=True)
class Said:
    """A field with its value, both to be shown as they are."""

    field: str
    value: str


@dataclass(frozen=True, slots=True)
class Correction:
    """How an event was first told, where that differs, and why it was corrected by whom."""

    before: tuple[Said, ...]
    reason: str
    actor: str
    recorded_at: datetime


@dataclass(frozen=True, slots=True)
class Line:
    """One event of a container's path.

    Attributes:
        late: How much later it was recorded than it happened, in words; empty if at once.
    """

    number: int
    id: str
    kind: str
    at: datetime
    recorded_at: datetime
    late: str
    said: tuple[Said, ...]
    happened: Happened
    corrections: tuple[Correction, ...]


def lines(history: History, site: Site, language: Language) -> list[Line]:
    """Write down a history, a line an event, each with the number of its mark in the drawing."""
    found: list[Line] = []
    for number, h in enumerate(history.happened, 1):
        recorded_at = h.entry.recorded_at
        late = language.span(h.at, recorded_at) if recorded_at - h.at >= APART else ""
        found.append(
            Line(
                number=number,
                id=str(h.event.id),
                kind=h.event.kind,
                at=h.at,
                recorded_at=recorded_at,
                late=late,
                said=tuple(said(h.event, site, language)),
                happened=h,
                corrections=tuple(_corrections(h, history.amendments, site, language)),
            )
        )
    return found


def said(event: Event, site: Site, language: Language) -> Iterator[Said]:
    """Give what an event says beyond when, who and where."""
    for field, value in kept(event).items():
        if field not in _ELSEWHERE and field not in ("supersedes", "corrected"):
            yield Said(FIELDS.get(field, field), _value(field, value, site, language))


def _corrections(
    h: Happened, amendments: tuple[Entry, ...], site: Site, language: Language
) -> Iterator[Correction]:
    """Each amendment of an event with what it replaced, the earliest first."""
    before: Event = h.entry.event
    if isinstance(before, Amended):  # the original has not arrived
        return
    for entry in amendments:
        amending = entry.event
        if not isinstance(amending, Amended) or amending.supersedes != h.event.id:
            continue
        after = amending.corrected
        if after is not None:
            changed = tuple(_changed(before, after, site, language))
            yield Correction(changed, amending.reason, amending.actor, entry.recorded_at)
            before = after


def _changed(before: Event, after: Event, site: Site, language: Language) -> Iterator[Said]:
    was, now = kept(before), kept(after)
    for field in dict.fromkeys((*was, *now)):
        if was.get(field) != now.get(field) and field != "id":
            value = _value(field, was[field], site, language) if field in was else "-"
            yield Said(FIELDS.get(field, field), value)


def _value(field: str, value: Any, site: Site, language: Language) -> str:
    gettext = language.words.gettext
    if isinstance(value, bool):
        return gettext("yes") if value else gettext("no")
    if field.endswith("_g") and isinstance(value, int):
        return language.kg(value)
    if field in ("occurred_at", "in_use_since"):
        return language.moment(datetime.fromisoformat(str(value)), site.zone)
    if isinstance(value, list | tuple):
        return ", ".join(str(v) for v in value)
    if field in _NAMED:
        return name_of(site, str(value))
    return gettext(str(value).replace("_", " ")) if field in _WORDS else str(value)


def name_of(site: Site, id_: str | None) -> str:
    """Give the name of a unit, store, party, scale or machine; the id itself if none is set up."""
    if id_ is None:
        return ""
    for group in (site.units, site.stores, site.parties, site.scales, site.machines):
        if id_ in group:
            return str(group[id_].name)
    return id_
