"""Who may write an event: in whose name, of which kinds, and of whose waste.

A program answers for whom it names. Whoever is signed in writes in their own name. An enrolled
device also hands on what others did while it could not send, each under their own role and scope.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from service.access.caller import Caller, Kind, Scope
from service.access.people import Person
from service.access.permissions import BY_BADGE, MAY_RECORD
from service.custody.activity import ActivityCounted
from service.custody.counted import NeedlesCounted, PitCovered
from service.custody.cycle_events import CycleRun
from service.custody.events import (
    Amended,
    Collected,
    Disposed,
    Entry,
    Event,
    Received,
    Refused,
    Registered,
    Stored,
    Treated,
)
from service.custody.site import Site
from service.custody.words import Role


@dataclass(frozen=True, slots=True)
class OnRecord:
    """What is known of whom and what the events of one submission name.

    Attributes:
        people: Those named as actors, by id.
        units: The unit that each registered container is of, by the container's id.
        versions: What was said of the events that are amended, by their id: the original and the
            corrections of it. What is let in on the way is added.
    """

    people: Mapping[str, Person] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    versions: dict[UUID, tuple[Event, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Author:
    """Whose role and scope an event is written under."""

    role: Role
    scope: Scope


def named_people(caller: Caller, events: Iterable[Event]) -> set[str]:
    """Give the ids of those who must be known before it can be said whether events may stand."""
    if not caller.device:
        return set()
    told = {event.actor for event in events}
    told |= {e.corrected.actor for e in events if isinstance(e, Amended) and e.corrected}
    return told - {caller.name} if caller.kind is Kind.PERSON else told


def author(caller: Caller, actor: str, at: datetime, people: Mapping[str, Person]) -> Author | None:
    """Give whose role and scope count for what an actor did; None if the caller may not name them.

    On a shared device stands only who can sign in there; who was shut out since may still be the
    actor of what happened before.
    """
    if caller.kind is Kind.PROGRAM or (caller.kind is Kind.PERSON and actor == caller.name):
        return Author(caller.role, caller.scope)
    person = people.get(actor) if caller.device else None
    if person is None or person.role not in BY_BADGE:
        return None
    ends = (person.disabled_at, person.valid_until)
    if any(end is not None and end <= at for end in ends):
        return None
    return Author(person.role, person.scope)


def refusal(caller: Caller, entry: Entry, known: OnRecord, site: Site) -> str:
    """Say in one sentence why an event is not the caller's to write, or nothing if it is.

    Who may not write an event may not correct it or strike it out either. What was typed is not
    repeated.
    """
    event = entry.event
    by = author(caller, event.actor, entry.at, known.people)
    if by is None:
        return _not_their_name(caller)
    told = [event]
    if isinstance(event, Amended):
        versions = known.versions.get(event.supersedes, ())
        if event.corrected is not None:
            told.append(event.corrected)
            if not _may_say(caller, event.corrected, versions, known.people):
                return f"the corrected event has another actor: {_not_their_name(caller)}"
        told += versions
    kinds = _not_their_kind(caller, event, by.role, {e.kind for e in told})
    return kinds or next(
        filter(None, (_not_their_scope(by.scope, e, known, site) for e in told)), ""
    )


def _may_say(
    caller: Caller, corrected: Event, versions: Iterable[Event], people: Mapping[str, Person]
) -> bool:
    """Whether the actor stays as told before, or is one that the caller may name."""
    if any(corrected.actor == version.actor for version in versions):
        return True
    return author(caller, corrected.actor, corrected.occurred_at, people) is not None


def _not_their_name(caller: Caller) -> str:
    if caller.device:
        return (
            "the actor is nobody who could sign in on this device then: "
            "sign in, and send it in your own name"
        )
    return f"an event is recorded in one's own name: the actor is {caller.name}"


def _not_their_kind(caller: Caller, event: Event, role: Role, kinds: set[str]) -> str:
    allowed = MAY_RECORD[role]
    denied = sorted(kinds - allowed)
    if not denied:
        return ""
    act = "amend" if isinstance(event, Amended) and event.kind in allowed else "record"
    who = f"a token for {role}" if caller.kind is Kind.PROGRAM else f"who is known as {role}"
    return f"{who} may not {act} '{denied[0]}'"


def _not_their_scope(scope: Scope, event: Event, known: OnRecord, site: Site) -> str:
    """Whoever holds a container, rightly or not, must be able to say so: a party's are not checked.

    Nor is a container that nobody registered yet: it is of no unit.
    """
    if scope.whole:
        return ""
    if isinstance(event, NeedlesCounted) and (event.unit is not None or not scope.parties):
        return "" if event.unit in scope.units else "the unit is none of those you act for"
    if isinstance(event, ActivityCounted):
        return "" if event.unit in scope.units else "the unit is none of those you act for"
    if isinstance(event, Registered):
        if not scope.units or event.unit in scope.units:
            return ""
        return f"the unit is none of those you act for: {', '.join(sorted(scope.units))}"
    if scope.parties:
        party = _acting(event, site)
        if party is None or party in scope.parties:
            return ""
        if not scope.units:
            told = ", ".join(sorted(scope.parties))
            return f"the party that acts is none of those you act for: {told}"
    other = (c for c in event.named() if known.units.get(c, "") not in ("", *scope.units))
    container = next(other, None)
    return f"container {container} is of a unit you do not act for" if container else ""


def _acting(event: Event, site: Site) -> str | None:
    """Give the party that does what is told, where the event names one."""
    match event:
        case Collected():
            return event.to_party
        case Received() | Refused() | Treated() | CycleRun() | Disposed():
            return event.party
        case PitCovered():
            pit = site.pits.get(event.pit)
            return pit.party if pit else None
        case Stored():
            store = site.stores.get(event.store)
            return store.party if store else None
        case _:
            return None
