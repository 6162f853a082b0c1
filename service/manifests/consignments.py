"""Consignments: what was sent, what arrived, and what no scale can explain."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from uuid import UUID

from service.custody.balance import Comparison, comparisons
from service.custody.events import Dispatched, Disposed, Received, Treated, Weighed
from service.custody.history import Happened, History
from service.custody.journeys import Journey, journeys
from service.custody.rules import Rules
from service.custody.verdict import Code, Violation
from service.manifests.tally import Period

Outcome = Literal["received", "refused", "missing", "not received"]


@dataclass(frozen=True, slots=True)
class Sending:
    """One container in one consignment.

    Attributes:
        outcome: ``missing`` is flagged and not found since; ``not received`` is all else that
            has not arrived: on the road, or seen elsewhere.
        sent_g: The last weight before it left, with the outer bags put on since.
        received_g: The weight found at the receipt, or first after it.
        compared: Both weights and both scales' errors, where it was weighed at both ends.
    """

    consignment: str
    container: str
    left: Dispatched
    left_at: datetime
    sent_g: int | None
    outcome: Outcome
    received_by: str
    received_at: datetime | None
    received_g: int | None
    compared: Comparison | None

    @property
    def grams(self) -> int | None:
        """The weight that counts as sent."""
        return self.sent_g


@dataclass(frozen=True, slots=True)
class Consignment:
    """Containers that left together; weights in whole grams.

    Attributes:
        received_at: When the last of them arrived.
        missing_g: Sent grams of the containers missing.
        one_end_g: Received less sent of those, not missing, that were weighed at one end only.
        difference_g: Received less sent, all containers.
        tolerance_g: The errors of both scales in service, added up over all containers compared.
        unexplained_g: What the scales' errors leave of the difference of the compared ones.
        singly_g: The same of each container by itself, added up without sign: here a loss in one
            cannot hide behind the errors allowed to the others.
    """

    id: str
    left_at: datetime
    left_in: bool
    received_in: bool
    carrier: str
    vehicle: str
    seal: str
    consignee: str
    received_by: str
    received_at: datetime | None
    sent: int
    received: int
    refused: int
    missing: int
    sent_g: int
    received_g: int
    missing_g: int
    one_end_g: int
    difference_g: int
    tolerance_g: int
    unexplained_g: int
    singly_g: int


def sendings(
    history: History, rules: Rules, violations: Iterable[Violation], period: Period
) -> Iterator[Sending]:
    """Give the container's departures and receipts that lie in the quarter, one by one."""
    missing = {
        event
        for v in violations
        if v.code is Code.CUSTODY_MISSING and v.open_at(period.now)
        for event in v.evidence
    }
    compared, found = _compared(history, rules), weights_found(history)
    for journey in journeys(history):
        end = journey.end
        if period.holds(journey.left_at) or (end is not None and period.holds(end.at)):
            yield _sending(history.container, journey, missing, found, compared)


def weights_found(history: History) -> dict[UUID, Happened]:
    """Give, by the receipt's event, the weighing of what was received.

    It is the receipt's own weight, or the first weighing after it and before anything was done.
    """
    found: dict[UUID, Happened] = {}
    receipt: Happened | None = None
    for h in history.happened:
        event = h.event
        if isinstance(event, Received):
            receipt = h
        elif not isinstance(event, Weighed):
            if isinstance(event, (Treated, Dispatched, Disposed)):
                receipt = None
            continue
        if receipt is not None and event.weight_g and h.direct:
            found[receipt.event.id] = h
            receipt = None
    return found


def _compared(history: History, rules: Rules) -> dict[UUID, Comparison]:
    """The comparisons of one weighing with the one before, by the id of the later's event."""
    if history.registered is None:
        return {}
    factor = rules.in_service_factor(rules.site.local_day(history.registered.at))
    if factor is None:
        return {}
    pairs = comparisons(history, rules.site, factor[0])
    return {pair.later.happened.event.id: pair for pair in pairs}


def _sending(
    container: str,
    journey: Journey,
    missing: set[UUID],
    found: dict[UUID, Happened],
    compared: dict[UUID, Comparison],
) -> Sending:
    outcome: Outcome = "missing" if journey.left.event.id in missing else "not received"
    received_at, weighing = None, None
    if journey.end is not None:
        outcome = "received" if journey.receipt else "refused"
        received_at, weighing = journey.end.at, found.get(journey.end.event.id)
    pair = compared.get(weighing.event.id) if weighing else None
    return Sending(
        consignment=journey.departure.consignment,
        container=container,
        left=journey.departure,
        left_at=journey.left_at,
        sent_g=journey.sent_g,
        outcome=outcome,
        received_by=journey.ended_by or "",
        received_at=received_at,
        received_g=weight_of(weighing),
        compared=pair if pair and pair.earlier.happened.at <= journey.left_at else None,
    )


def weight_of(weighing: Happened | None) -> int | None:
    """Give the grams of a weighing, or None where there is none."""
    if weighing is None or not isinstance(weighing.event, (Received, Weighed)):
        return None
    return weighing.event.weight_g


def consignments(sent: Iterable[Sending], period: Period) -> tuple[Consignment, ...]:
    """Add up the sendings of each consignment, in the order in which they left."""
    groups: dict[str, list[Sending]] = {}
    for sending in sent:
        groups.setdefault(sending.consignment, []).append(sending)
    found = (_consignment(group, period) for group in groups.values())
    return tuple(sorted(found, key=lambda c: (c.left_at, c.id)))


def _consignment(group: list[Sending], period: Period) -> Consignment:
    sent_g = sum(s.sent_g or 0 for s in group)
    received_g = sum(s.received_g or 0 for s in group)
    missing = [s for s in group if s.outcome == "missing"]
    missing_g = sum(s.sent_g or 0 for s in missing)
    pairs = [s.compared for s in group if s.compared]
    compared_g = sum(pair.difference_g for pair in pairs)
    tolerance_g = int(sum(pair.tolerance_g for pair in pairs))
    difference_g = received_g - sent_g
    arrivals = [s.received_at for s in group if s.outcome == "received" and s.received_at]
    return Consignment(
        id=group[0].consignment,
        left_at=min(s.left_at for s in group),
        left_in=any(period.holds(s.left_at) for s in group),
        received_in=any(period.holds(at) for at in arrivals),
        carrier=_each(s.left.carrier for s in group),
        vehicle=_each(s.left.vehicle for s in group),
        seal=_each(s.left.seal for s in group),
        consignee=_each(s.left.consignee for s in group),
        received_by=_each(s.received_by for s in group if s.outcome == "received"),
        received_at=max(arrivals, default=None),
        sent=len(group),
        received=len(arrivals),
        refused=sum(s.outcome == "refused" for s in group),
        missing=len(missing),
        sent_g=sent_g,
        received_g=received_g,
        missing_g=missing_g,
        one_end_g=difference_g - compared_g + missing_g,
        difference_g=difference_g,
        tolerance_g=tolerance_g,
        unexplained_g=beyond(compared_g, tolerance_g),
        singly_g=sum(abs(beyond(pair.difference_g, int(pair.tolerance_g))) for pair in pairs),
    )


def beyond(difference_g: int, tolerance_g: int) -> int:
    """Give what is left of a difference once scale error is taken off, with its sign."""
    left_g = max(0, abs(difference_g) - tolerance_g)
    return left_g if difference_g > 0 else -left_g


def _each(words: Iterable[str | None]) -> str:
    """The different words, joined; one is the rule."""
    return " + ".join(dict.fromkeys(w for w in words if w))
