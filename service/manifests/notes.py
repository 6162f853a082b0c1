"""What was written beside the containers' own path: corrections, spills, notices."""

from collections.abc import Iterable, Set
from dataclasses import dataclass
from datetime import datetime

from service.custody.events import Amended, Entry, Notified, Spilled
from service.custody.history import Happened, effective
from service.manifests.tally import Period


@dataclass(frozen=True, slots=True)
class Amendment:
    """A correction: who made it, when and why, and of which event."""

    id: str
    at: datetime
    actor: str
    supersedes: str
    correction: str
    reason: str
    containers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Incident:
    """A spill, or a notice to the authority."""

    id: str
    kind: str
    at: datetime
    actor: str
    place: str
    containers: tuple[str, ...]
    people_exposed: int | None
    text: str
    authority: str
    reference: str


def amendments_of(
    entries: Iterable[Entry], period: Period, listed: Set[str]
) -> tuple[Amendment, ...]:
    """Give the corrections made in the quarter, and later ones of what this manifest lists."""
    found = (
        _amendment(e, e.event)
        for e in entries
        if isinstance(e.event, Amended) and _concerns(e, e.event, period, listed)
    )
    return tuple(sorted(found, key=lambda a: (a.at, a.id)))


def incidents_of(entries: Iterable[Entry], period: Period) -> tuple[Incident, ...]:
    """Give the quarter's spills and notices as they hold after the amendments among the entries."""
    known = (e for e in entries if e.at <= period.now)
    found = (_incident(h) for h in effective(known) if period.holds(h.at))
    return tuple(i for i in found if i)


def _concerns(entry: Entry, event: Amended, period: Period, listed: Set[str]) -> bool:
    if entry.at < period.start or entry.at > period.now:
        return False
    named = event.named()
    return (
        entry.at < period.until
        or any(c in listed for c in named)
        or (event.corrected is not None and period.holds(event.corrected.occurred_at))
        or (event.corrected is None and not named)
    )


def _amendment(entry: Entry, event: Amended) -> Amendment:
    corrected = event.corrected
    return Amendment(
        id=str(event.id),
        at=entry.at,
        actor=event.actor,
        supersedes=str(event.supersedes),
        correction=corrected.kind if corrected else "did not happen",
        reason=event.reason,
        containers=event.named(),
    )


def _incident(h: Happened) -> Incident | None:
    event = h.event
    if isinstance(event, Spilled):
        exposed, text = event.people_exposed, event.action_taken
        kind, authority, reference = "spill", "", ""
    elif isinstance(event, Notified):
        exposed, text = None, event.reason
        kind, authority = f"notice: {event.about}", event.authority
        reference = event.reference or ""
    else:
        return None
    return Incident(
        id=str(event.id),
        kind=kind,
        at=h.at,
        actor=event.actor,
        place=event.place or "",
        containers=event.containers,
        people_exposed=exposed,
        text=text,
        authority=authority,
        reference=reference,
    )
