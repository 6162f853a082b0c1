"""What makes an event malformed: the only reasons, besides authority, for which one is refused.

A wrong act is recorded and flagged; a weight no bag can have, a unit nobody knows or a time that
has not come is sent back, since the person can put it right at once.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta

from service.custody import patients
from service.custody.activity import LATEST_COUNT, ActivityCounted
from service.custody.counted import NeedlesCounted, PitCovered
from service.custody.events import (
    Amended,
    Disposed,
    Event,
    Received,
    Registered,
    Stored,
    Weighed,
)
from service.custody.rules import Rules
from service.custody.words import ContainerKind

FUTURE_TOLERANCE = timedelta(minutes=5)
"""How far ahead of the service a time may lie once the device's known offset is taken off."""


_NOT_TYPED = frozenset(
    {"containers", "parent", "outer", "actor", "device", "layout", "consignment"}
)
"""Ids of containers, staff and machines, and numbers that the service gives: no patient is meant by
one that happens to be written alike."""


def refusal(event: Event, rules: Rules, now: datetime, clock_offset_s: int) -> str:
    """Say in one sentence why an event cannot stand as written, or nothing if it can."""
    if isinstance(event, Amended):
        told = _of_a_patient(event, rules) or _future(event.occurred_at, now, clock_offset_s)
        if event.corrected is None or told:
            return told
        return refusal(event.corrected, rules, now, clock_offset_s)
    return (
        _of_a_patient(event, rules)
        or _future(event.occurred_at, now, clock_offset_s)
        or _unknown_name(event, rules)
        or _day_of_count(event, rules)
        or _absurd_weight(event, rules)
    )


def _of_a_patient(event: Event, rules: Rules) -> str:
    """The text itself is not repeated: an answer is kept and shown where the record is not."""
    templates = rules.site.patient_number
    if not templates:
        return ""
    for name, value in event:
        texts = value if isinstance(value, tuple) else (value,)
        for text in () if name in _NOT_TYPED else texts:
            template = patients.found(text, templates) if isinstance(text, str) else None
            if template:
                return f"write no patient data: {name} looks like a patient's number ({template})"
    return ""


def _future(at: datetime, now: datetime, clock_offset_s: int) -> str:
    ahead = at - timedelta(seconds=clock_offset_s) - now
    if ahead <= FUTURE_TOLERANCE:
        return ""
    minutes = ahead.total_seconds() / 60
    return f"occurred_at lies {minutes:.0f} min in the future: check the clock of the device"


def _unknown_name(event: Event, rules: Rules) -> str:
    site = rules.site
    if isinstance(event, Registered):
        text = rules.on(event.category, site.local_day(event.occurred_at))
        if text is None:
            known = rules.regime.categories_on(site.local_day(event.occurred_at))
            return _no_such("category", event.category, [c.id for c in known])
        if event.unit not in site.units:
            return _no_such("unit", event.unit, site.units)
    unit = event.unit if isinstance(event, (ActivityCounted, NeedlesCounted)) else None
    if unit is not None and unit not in site.units:
        return _no_such("unit", unit, site.units)
    pit = event.pit if isinstance(event, (Disposed, PitCovered)) else None
    if pit is not None and pit not in site.pits:
        return _no_such("pit", pit, site.pits)
    if isinstance(event, Stored) and event.store not in site.stores:
        return _no_such("store", event.store, site.stores)
    scale = getattr(event, "scale", None)
    if scale is not None and scale not in site.scales:
        return _no_such("scale", scale, site.scales)
    return ""


def _day_of_count(event: Event, rules: Rules) -> str:
    if not isinstance(event, ActivityCounted):
        return ""
    taken = rules.site.local_day(event.occurred_at)
    if event.day <= taken <= event.day + LATEST_COUNT:
        return ""
    return (
        f"a count is taken on its day or up to {LATEST_COUNT.days} days after it: "
        f"the day is {event.day}, and occurred_at is on {taken}"
    )


def moved(event: Event, versions: Iterable[Event]) -> str:
    """Say why an amendment cannot stand beside what it corrects, or nothing if it can.

    A count is found by its unit and day; one that was of another is struck out, and told again.
    """
    now = event.corrected if isinstance(event, Amended) else None
    for then in versions if now else ():
        counts = [e for e in (then, now) if isinstance(e, ActivityCounted)]
        places = {(c.unit, c.day) for c in counts}
        if len(counts) == 1 or len(places) > 1:
            return (
                "a correction of a count keeps its unit and day: strike the count out "
                "(amended, without corrected), and record it again"
            )
    return ""


def _no_such(what: str, name: str, known: Iterable[str]) -> str:
    return f"there is no {what} '{name}' here; known are: {', '.join(sorted(known)) or 'none'}"


def _absurd_weight(event: Event, rules: Rules) -> str:
    if not isinstance(event, (Registered, Weighed, Received)) or event.weight_g is None:
        return ""
    day = rules.site.local_day(event.occurred_at)
    kinds = [event.container_kind] if isinstance(event, Registered) else list(ContainerKind)
    limits = [rules.weight_g_max(kind, day) for kind in kinds]
    if any(limit is None for limit in limits):
        return ""
    most = max(limit for limit in limits if limit is not None)
    if event.weight_g <= most:
        return ""
    what = f"a {kinds[0].value.replace('_', ' ')}" if len(kinds) == 1 else "any container"
    return (
        f"{event.weight_g} g is more than {what} can weigh here ({most} g): "
        "check the figure and its unit"
    )
