"""Consignments: what was sent, what arrived, and what no scale can explain."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Literal, NamedTuple
from uuid import UUID

from service.custody.balance import Comparison, Difference, comparisons
from service.custody.events import Dispatched, Disposed, Received, Treated, Weighed
from service.custody.history import Happened, History
from service.custody.journeys import Journey, journeys
from service.custody.rules import Rules
from service.custody.verdict import Code, Violation
from service.manifests.tally import Period

Outcome = Literal["received", "refused", "missing", "not received"]


class Sending(NamedTuple):
    """One container in one consignment.

    Attributes:
        outcome: ``missing`` is flagged and not found since; ``not received`` is all else that
            has not arrived: on the road, or seen elsewhere.
        sent_g: The last weight before it left, with the outer bags put on since.
        received_g: The weight found at the receipt, or first after it.
        compared: By what both weights differ, where it was weighed at both ends.
    """

    consignment: str
    container: str
    left_at: datetime
    carrier: str
    vehicle: str
    seal: str
    consignee: str
    sent_g: int | None
    outcome: Outcome
    received_by: str
    received_at: datetime | None
    received_g: int | None
    compared: Difference | None

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
    if pair is not None and pair.earlier.happened.at > journey.left_at:
        pair = None
    left = journey.departure
    return Sending(
        consignment=left.consignment,
        container=container,
        left_at=journey.left_at,
        carrier=left.carrier,
        vehicle=left.vehicle or "",
        seal=left.seal or "",
        consignee=left.consignee,
        sent_g=journey.sent_g,
        outcome=outcome,
        received_by=journey.ended_by or "",
        received_at=received_at,
        received_g=weight_of(weighing),
        compared=Difference(pair.difference_g, pair.tolerance_g) if pair else None,
    )


def weight_of(weighing: Happened | None) -> int | None:
    """Give the grams of a weighing, or None where there is none."""
    if weighing is None or not isinstance(weighing.event, (Received, Weighed)):
        return None
    return weighing.event.weight_g


def consignments(sent: Iterable[Sending], period: Period) -> tuple[Consignment, ...]:
    """Add up the sendings of each consignment, in the order in which they left."""
    loads: dict[str, _Load] = {}
    for sending in sent:
        loads.setdefault(sending.consignment, _Load(sending.left_at)).add(sending, period)
    found = (load.added_up(id_) for id_, load in loads.items())
    return tuple(sorted(found, key=lambda c: (c.left_at, c.id)))


@dataclass(slots=True)
class _Load:
    """A consignment being added up; ``words`` keeps the different ones, one is the rule."""

    left_at: datetime
    left_in: bool = False
    received_in: bool = False
    received_at: datetime | None = None
    sent: int = 0
    received: int = 0
    refused: int = 0
    missing: int = 0
    sent_g: int = 0
    received_g: int = 0
    missing_g: int = 0
    compared_g: int = 0
    tolerance_g: Decimal = Decimal(0)
    singly_g: int = 0
    words: dict[tuple[str, str], None] = field(default_factory=dict)

    def add(self, s: Sending, period: Period) -> None:
        self.left_at = min(self.left_at, s.left_at)
        self.left_in = self.left_in or period.holds(s.left_at)
        self.sent += 1
        self.sent_g += s.sent_g or 0
        self.received_g += s.received_g or 0
        if s.outcome == "received" and s.received_at:
            self.received += 1
            self.received_in = self.received_in or period.holds(s.received_at)
            self.received_at = max(self.received_at or s.received_at, s.received_at)
        elif s.outcome == "refused":
            self.refused += 1
        elif s.outcome == "missing":
            self.missing += 1
            self.missing_g += s.sent_g or 0
        if s.compared:
            difference_g, tolerance_g = s.compared.difference_g, s.compared.tolerance_g
            self.compared_g += difference_g
            self.tolerance_g += tolerance_g
            self.singly_g += abs(beyond(difference_g, int(tolerance_g)))
        for name in _WORDS:
            self.words[name, getattr(s, name)] = None
        if s.outcome == "received":
            self.words["received_by", s.received_by] = None

    def added_up(self, id_: str) -> Consignment:
        difference_g, tolerance_g = self.received_g - self.sent_g, int(self.tolerance_g)
        words = {name: self._each(name) for name in (*_WORDS, "received_by")}
        return Consignment(
            id=id_,
            left_at=self.left_at,
            left_in=self.left_in,
            received_in=self.received_in,
            received_at=self.received_at,
            sent=self.sent,
            received=self.received,
            refused=self.refused,
            missing=self.missing,
            sent_g=self.sent_g,
            received_g=self.received_g,
            missing_g=self.missing_g,
            one_end_g=difference_g - self.compared_g + self.missing_g,
            difference_g=difference_g,
            tolerance_g=tolerance_g,
            unexplained_g=beyond(self.compared_g, tolerance_g),
            singly_g=self.singly_g,
            **words,
        )

    def _each(self, name: str) -> str:
        return " + ".join(word for of, word in self.words if of == name and word)


_WORDS = ("carrier", "vehicle", "seal", "consignee")


def beyond(difference_g: int, tolerance_g: int) -> int:
    """Give what is left of a difference once scale error is taken off, with its sign."""
    left_g = max(0, abs(difference_g) - tolerance_g)
    return left_g if difference_g > 0 else -left_g
