"""The container as it stands: what a list, a label or a manifest line says of it."""

from dataclasses import dataclass
from datetime import datetime

from service.custody.acts import Act, Outlet, Step
from service.custody.balance import weighings
from service.custody.events import (
    Dispatched,
    Disposed,
    Inspected,
    Labelled,
    Notified,
    Packed,
    Received,
    Registered,
    Spilled,
    Stored,
    Unpacked,
    Weighed,
)
from service.custody.history import Happened, History
from service.custody.rules import Rules
from service.custody.verdict import Case
from service.custody.words import Condition, ContainerKind

_NO_CHANGE = (Labelled, Weighed, Inspected, Notified, Spilled, Packed, Unpacked)


@dataclass(frozen=True, slots=True)
class Standing:
    """A container now.

    Attributes:
        state: The kind of the last event that moved it on: ``registered``, ``collected``,
            ``stored``, ... ``disposed``; ``unregistered`` where nothing did, ``labelled`` where
            its label alone is known.
        weight_g: The weight at its source, or the first weighing after it.
        received_g: The weight at the consignee.
        scale, received_scale: The scales that gave them, where they are told.
        custodian: The party that holds it.
        place: The last place where it was seen itself or with its parent.
        parent: The transport container or outer bag right around it now.
        due_at: The last allowed instant of the holding limit that ends first, if one is running.
        closed_at: When it was disposed of.
    """

    container: str
    state: str
    category: str | None
    unit: str | None
    kind: ContainerKind | None
    weight_g: int | None
    scale: str | None
    received_g: int | None
    received_scale: str | None
    sealed_at: datetime | None
    custodian: str | None
    since: datetime | None
    place: str | None
    condition: Condition | None
    parent: str | None
    consignment: str | None
    steps: tuple[Step, ...]
    outlet: Outlet | None
    next_acts: tuple[Act, ...]
    due_at: datetime | None
    closed_at: datetime | None
    carries: bool


def stand(history: History, rules: Rules) -> Standing:
    """Say how a container stands after all that is known of it."""
    return stand_case(Case(history, rules))


def stand_case(case: Case) -> Standing:
    """Say the same of a case that is judged too."""
    history, sealed = case.history, case.sealed
    custody = case.custody
    walk = case.walk
    first = next(weighings(history), None)
    last = next((h.event for h in reversed(case.happened) if _weighed_at_receipt(h)), None)
    at_receipt = last if isinstance(last, Received) else None
    left = _last(case, Dispatched)
    gone = _last(case, Disposed)
    return Standing(
        container=history.container,
        state=_state(case),
        category=sealed.category if sealed else None,
        unit=sealed.unit if sealed else None,
        kind=sealed.container_kind if sealed else None,
        weight_g=first.weight_g if first else None,
        scale=first.scale if first else None,
        received_g=at_receipt.weight_g if at_receipt else None,
        received_scale=at_receipt.scale if at_receipt else None,
        sealed_at=case.sealed_at,
        custodian=custody.holder if custody else None,
        since=custody.since.at if custody else None,
        place=_place(case.happened),
        condition=case.stretches[-1].condition if case.stretches else None,
        parent=next((s.parent for s in history.stays if s.until_at is None), None),
        consignment=left.event.consignment if left and isinstance(left.event, Dispatched) else None,
        steps=walk.steps if walk else (),
        outlet=gone.event.outlet if gone and isinstance(gone.event, Disposed) else None,
        next_acts=walk.next_acts if walk else (),
        due_at=_due_at(case),
        closed_at=case.disposed_at,
        carries=history.carries,
    )


def _weighed_at_receipt(h: Happened) -> bool:
    return isinstance(h.event, Received) and h.direct and bool(h.event.weight_g)


def _due_at(case: Case) -> datetime | None:
    running = (max(d.from_at, d.due_at) for d in case.deadlines if d.until_at is None)
    return min(running, default=None)


def _state(case: Case) -> str:
    moved = (
        h.event.kind
        for h in reversed(case.happened)
        if not isinstance(h.event, _NO_CHANGE) and case.history.counts(h)
    )
    return next(moved, "labelled" if case.of(Labelled) else "unregistered")


def _place(happened: tuple[Happened, ...]) -> str | None:
    for h in reversed(happened):
        event = h.event
        if event.place:
            return event.place
        if isinstance(event, Stored):
            return event.store
        if isinstance(event, Registered):
            return event.unit
        if isinstance(event, Received):
            return event.party
    return None


def _last(case: Case, kind: type) -> Happened | None:
    found = case.of(kind)
    return found[-1] if found else None
