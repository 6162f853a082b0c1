"""A violation as a value, the catalogue of codes, and the case that every check looks at."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple
from uuid import UUID

from service.custody.custodian import HAND_OVERS, Custody, custody
from service.custody.events import (
    Disposed,
    Notified,
    Received,
    Refused,
    Registered,
    Treated,
)
from service.custody.history import Happened, History
from service.custody.holding import Deadline, Span, deadlines, spans
from service.custody.routes import Walk, walk
from service.custody.rules import GOOD_PRACTICE, CategoryRules, Rules
from service.custody.words import Severity


class Code(StrEnum):
    """Every rule that can be found not kept."""

    HOLDING_NEAR = "holding.near"
    HOLDING_EXCEEDED = "holding.exceeded"
    HOLDING_WARM_STORE = "holding.warm_store"
    ROUTE_FORBIDDEN = "route.forbidden"
    ROUTE_NOT_PERMITTED = "route.not_permitted"
    ROUTE_OUT_OF_ORDER = "route.out_of_order"
    ROUTE_INCOMPLETE = "route.incomplete"
    PACKING_NOT_DOUBLE = "packing.not_double"
    PACKING_OVERFILLED = "packing.overfilled"
    PACKING_WRONG_CONTAINER = "packing.wrong_container"
    PACKING_OPEN = "packing.open"
    SHARPS_HUB_UNCUT = "sharps.hub_uncut"
    TRANSPORT_UNSEALED = "transport.unsealed"
    TRANSPORT_SEAL_CHANGED = "transport.seal_changed"
    CUSTODY_GAP = "custody.gap"
    CUSTODY_OVERDUE = "custody.overdue"
    CUSTODY_MISSING = "custody.missing"
    CUSTODY_TWO_PLACES = "custody.two_places"
    LABEL_NOT_GENUINE = "label.not_genuine"
    WEIGHT_MISMATCH = "weight.mismatch"
    SEGREGATION_WRONG_ITEM = "segregation.wrong_item"
    PARTY_NOT_AUTHORISED = "party.not_authorised"
    RECORD_LATE = "record.late"
    TREATMENT_FAILED = "treatment.failed"
    TREATMENT_UNPROVED = "treatment.unproved"
    TREATMENT_NO_INDICATOR = "treatment.no_indicator"
    CYCLE_CONFLICT = "cycle.conflict"
    CYCLE_OVERLOADED = "cycle.overloaded"
    MACHINE_NOT_FIT = "machine.not_fit"


CATALOGUE: dict[Code, tuple[Severity, str]] = {
    Code.HOLDING_NEAR: (Severity.LATE, "Send it to treatment before the limit."),
    Code.HOLDING_EXCEEDED: (
        Severity.LATE,
        "Have it treated at once; tell the authority and say why, where the regime asks for it.",
    ),
    Code.HOLDING_WARM_STORE: (
        Severity.WRONG,
        "Move it to a store within its temperatures; until then it counts as not cooled.",
    ),
    Code.ROUTE_FORBIDDEN: (
        Severity.UNSAFE,
        "Stop such loads at this step, tell the officer, and report it as the local code asks.",
    ),
    Code.ROUTE_NOT_PERMITTED: (
        Severity.WRONG,
        "Ask the officer for the permit that covers this step, or keep to the listed route.",
    ),
    Code.ROUTE_OUT_OF_ORDER: (
        Severity.WRONG,
        "Treat what was handled before disinfection as infectious; clean the machine; keep order.",
    ),
    Code.ROUTE_INCOMPLETE: (
        Severity.WRONG,
        "Find where it is, hold it there, and finish the missing step if that is safe.",
    ),
    Code.PACKING_NOT_DOUBLE: (Severity.UNSAFE, "Overpack it before it is moved further."),
    Code.PACKING_WRONG_CONTAINER: (
        Severity.UNSAFE,
        "Do not decant it: put it whole into a container of the right kind; tell the unit.",
    ),
    Code.PACKING_OVERFILLED: (
        Severity.UNSAFE,
        "Do not press it down and do not re-open it: overpack it in a larger container.",
    ),
    Code.PACKING_OPEN: (Severity.UNSAFE, "Close it before anybody moves it."),
    Code.SHARPS_HUB_UNCUT: (
        Severity.UNSAFE,
        "Do not recap or pull needles by hand: handle as fixed-needle sharps; remind the unit.",
    ),
    Code.TRANSPORT_UNSEALED: (Severity.WRONG, "Count at receipt; seal the next consignment."),
    Code.TRANSPORT_SEAL_CHANGED: (
        Severity.WRONG,
        "Count and weigh every container, and ask the carrier for the reason in writing.",
    ),
    Code.CUSTODY_GAP: (
        Severity.WRONG,
        "Find who held it in between and have the missing hand-over recorded.",
    ),
    Code.CUSTODY_OVERDUE: (Severity.LATE, "Call the carrier and the consignee now."),
    Code.CUSTODY_MISSING: (
        Severity.LOST,
        "Search where it was last seen, tell the officer, and the authority if it stays missing.",
    ),
    Code.CUSTODY_TWO_PLACES: (
        Severity.WRONG,
        "Hold both containers: one label is a copy. Give the second one a new label.",
    ),
    Code.LABEL_NOT_GENUINE: (
        Severity.UNSAFE,
        "Hold the container, find where its label came from, and give it a label of ours.",
    ),
    Code.WEIGHT_MISMATCH: (
        Severity.WRONG,
        "Weigh again on both scales; if it stays, look for what was taken out or put in.",
    ),
    Code.SEGREGATION_WRONG_ITEM: (
        Severity.WRONG,
        "Do not sort by hand: treat by the strictest route; tell the unit what was found.",
    ),
    Code.PARTY_NOT_AUTHORISED: (
        Severity.UNSAFE,
        "Stop handing over to this party until a valid authorisation is on file.",
    ),
    Code.RECORD_LATE: (Severity.LATE, "Record when it happens; look for why it was not possible."),
    Code.TREATMENT_FAILED: (
        Severity.UNSAFE,
        "It counts as untreated: hold it closed, and treat the whole load again.",
    ),
    Code.TREATMENT_UNPROVED: (
        Severity.WRONG,
        "Hold the load until trace and spore test show the cycle; else treat it again.",
    ),
    Code.TREATMENT_NO_INDICATOR: (
        Severity.WRONG,
        "Put an indicator in every load; judge this one by its trace before it is released.",
    ),
    Code.CYCLE_CONFLICT: (
        Severity.WRONG,
        "Find which of the two was run, and have the other corrected.",
    ),
    Code.CYCLE_OVERLOADED: (
        Severity.UNSAFE,
        "Steam or heat may not have reached its middle: treat it again in smaller loads.",
    ),
    Code.MACHINE_NOT_FIT: (
        Severity.UNSAFE,
        "Stop the machine until it is registered, validated and calibrated for this use.",
    ),
}
"""Severity and next action of each code."""


class Violation(NamedTuple):
    """A rule not kept.

    Attributes:
        opened_at: From when; may lie ahead: it will open then if nothing happens.
        closed_at: Until when, or None while it stands.
        clause: The clause of the regime, or "good custody practice".
        evidence: Ids of the events that show it.
        message: One sentence with the figures.
        notified_at: When the authority was told of it; the violation stays.
    """

    code: Code
    severity: Severity
    container: str
    opened_at: datetime
    closed_at: datetime | None
    clause: str
    evidence: tuple[UUID, ...]
    message: str
    next_action: str
    notified_at: datetime | None = None

    def open_at(self, now: datetime) -> bool:
        """Say whether it stood at that instant."""
        return self.opened_at <= now and (self.closed_at is None or now < self.closed_at)


@dataclass(frozen=True)
class Case:
    """One history with the rules it is judged by and what several checks need of both."""

    history: History
    rules: Rules
    _by_kind: dict[type, list[Happened]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        by_kind: dict[type, list[Happened]] = {}
        for h in self.happened:
            by_kind.setdefault(type(h.event), []).append(h)
        object.__setattr__(self, "_by_kind", by_kind)

    @property
    def happened(self) -> tuple[Happened, ...]:
        """What reached the container, in order."""
        return self.history.happened

    def of(self, *kinds: type) -> Sequence[Happened]:
        """Give what happened of these kinds, in order."""
        if len(kinds) == 1:
            return self._by_kind.get(kinds[0], ())
        held = [k for k in kinds if k in self._by_kind]
        if len(held) < 2:
            return self._by_kind[held[0]] if held else ()
        return [h for h in self.happened if type(h.event) in kinds]

    @cached_property
    def sealed(self) -> Registered | None:
        """The registration as it now holds."""
        found = self.history.registered
        return found.event if found and isinstance(found.event, Registered) else None

    @cached_property
    def sealed_at(self) -> datetime | None:
        """When the container was sealed."""
        found = self.history.registered
        return found.at if found else None

    @cached_property
    def day(self) -> date | None:
        """The site's date of sealing: the text in force on it judges the container."""
        return self.rules.site.local_day(self.sealed_at) if self.sealed_at else None

    @cached_property
    def text(self) -> CategoryRules | None:
        """The rows that speak of the container's category on the day of sealing."""
        if self.sealed is None or self.day is None:
            return None
        return self.rules.on(self.sealed.category, self.day)

    @cached_property
    def walk(self) -> Walk | None:
        """The container's acts held against its routes."""
        return walk(self.history, self.text) if self.text else None

    @cached_property
    def stretches(self) -> tuple[Span, ...]:
        """The time as untreated waste, cut by storage condition and whereabouts."""
        return spans(self.history, self.rules)

    @cached_property
    def deadlines(self) -> tuple[Deadline, ...]:
        """Every holding limit over every stretch in which it ran or is running."""
        if self.text is None:
            return ()
        return deadlines(self.history, self.rules, self.text, self.stretches)

    @cached_property
    def custody(self) -> Custody | None:
        """Who holds it, and where the chain of custody is broken."""
        return custody(self.history.registered, self.of(*HAND_OVERS), self.rules.site)

    @cached_property
    def disposed_at(self) -> datetime | None:
        """When it was finally disposed of."""
        return self.first_after(None, Disposed)

    def first_after(self, since: Happened | None, *kinds: type) -> datetime | None:
        """Give the instant of the first event of these kinds, after ``since`` if given, or None."""
        for h in self.of(*kinds):
            if since is None or h.order > since.order:
                return h.at
        return None

    def arrived_after(self, departure: Happened) -> datetime | None:
        """Give when it was received or turned away, or dealt with without either, or None."""
        return self.first_after(departure, Received, Refused, Treated, Disposed)

    def told(self, at: datetime, *about: str) -> datetime | None:
        """Give when the authority was first told of it at or after ``at``, or None."""
        return next(
            (
                h.at
                for h in self.of(Notified)
                if isinstance(h.event, Notified) and h.at >= at and h.event.about in about
            ),
            None,
        )

    def closing(self, opened_at: datetime) -> datetime | None:
        """Give when a standing fact about the container stops mattering to anybody.

        That is at its disposal, or, for what is found at disposal or after it, when the authority
        was told.
        """
        if self.disposed_at is None or self.disposed_at > opened_at:
            return self.disposed_at
        return self.told(opened_at, "route", "other")

    def violation(
        self,
        code: Code,
        opened_at: datetime,
        message: str,
        *evidence: Happened,
        closed_at: datetime | None = None,
        clause: str = GOOD_PRACTICE,
        severity: Severity | None = None,
        notified_at: datetime | None = None,
    ) -> Violation:
        """Make a violation of this case; its severity is the catalogue's if none is given."""
        usual, next_action = CATALOGUE[code]
        return Violation(
            code,
            severity or usual,
            self.history.container,
            opened_at,
            closed_at,
            clause,
            tuple(dict.fromkeys(h.event.id for h in evidence)),
            message,
            next_action,
            notified_at,
        )


Violations = Iterator[Violation]
