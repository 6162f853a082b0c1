"""Look things up: containers, violations, consignments, the record itself, the regimes.

What lies beyond the caller's scope is answered as what is not there.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import Row

from service.access.reading import reaches
from service.custody import identifiers
from service.custody.events import Entry
from service.custody.history import History
from service.custody.journeys import journeys
from service.custody.regime import Regime
from service.custody.rules import Rules
from service.custody.standing import Standing, stand_case
from service.custody.verdict import Case, Violation
from service.custody.violations import judge_case
from service.duties.access import Caller, demand
from service.regimes import load
from service.store import queries
from service.store.queries import ContainerFilter, ViolationFilter
from service.store.store import Store

PAGE_MAX = 1_000
"""Rows in one answer."""


class NotFoundError(LookupError):
    """There is nothing of that name that the caller may see."""


@dataclass(frozen=True, slots=True)
class ContainerView:
    """One container: as it stands, what happened to it, and what is wrong."""

    standing: Standing
    history: History
    violations: tuple[Violation, ...]
    rules: Rules


@dataclass(frozen=True, slots=True)
class ConsignmentTotals:
    """A consignment in figures.

    Attributes:
        weighed_twice: How many were weighed before they left and again at their receipt.
        difference_g: What those weighed less at their receipt.
    """

    containers: int
    received: int
    refused: int
    under_way: int
    sent_g: int
    received_g: int
    weighed_twice: int
    difference_g: int


@dataclass(frozen=True, slots=True)
class Consignment:
    """One consignment with what it carried, a row a container."""

    id: str
    cargo: tuple[Row[Any], ...]

    @property
    def received(self) -> tuple[Row[Any], ...]:
        """What was received of it."""
        return tuple(row for row in self.cargo if row.end == "received")

    @property
    def totals(self) -> ConsignmentTotals:
        """Give its counts and weights."""
        ends = [row.end for row in self.cargo]
        both = [
            row.sent_g - row.received_g
            for row in self.cargo
            if row.sent_g is not None and row.received_g is not None
        ]
        return ConsignmentTotals(
            containers=len(ends),
            received=ends.count("received"),
            refused=ends.count("refused"),
            under_way=ends.count(None),
            sent_g=sum(row.sent_g or 0 for row in self.cargo),
            received_g=sum(row.received_g or 0 for row in self.cargo),
            weighed_twice=len(both),
            difference_g=sum(both),
        )


def container(store: Store, caller: Caller, container_id: str, now: datetime) -> ContainerView:
    """Give one container with its history and the violations that had opened by ``now``.

    Raises:
        NotFoundError: nothing is on record about it, or what is lies beyond the caller's scope.
    """
    with store.viewing() as connection:
        rules = store.rules_in(connection, caller.facility)
        history = queries.history(connection, caller.facility, container_id)
    case = Case(history, rules)
    standing = stand_case(case)
    known = history.happened or history.carries or history.amendments
    parties = [p for j in journeys(history) for p in (j.departure.carrier, j.departure.consignee)]
    if not known or not reaches(caller.scope, standing.unit, standing.custodian, parties):
        raise NotFoundError(f"nothing is on record about container {container_id}")
    found = tuple(v for v in judge_case(case) if v.opened_at <= now)
    return ContainerView(standing, history, found, rules)


def container_typed(store: Store, caller: Caller, text: str, now: datetime) -> ContainerView:
    """Give the container whose id a person typed.

    An id with a wrong check character is on record only where a false label bore it.

    Raises:
        MalformedIdError: the text cannot be an id of ours, and nothing is on record about it.
        NotFoundError: nothing is on record about it.
    """
    try:
        container_id = identifiers.typed(text)
    except identifiers.MalformedIdError as slip:
        try:
            return container(store, caller, identifiers.plain(text), now)
        except NotFoundError:
            raise slip from None  # the slip of the pen is the likelier story
    return container(store, caller, container_id, now)


def containers(store: Store, caller: Caller, asked: ContainerFilter) -> Sequence[Row[Any]]:
    """Give a page of containers."""
    with store.viewing() as connection:
        return queries.containers(connection, caller.facility, asked, caller.scope)


def violations(store: Store, caller: Caller, asked: ViolationFilter) -> list[tuple[int, Violation]]:
    """Give a page of violations as they stood at the instant asked for."""
    with store.viewing() as connection:
        return queries.violations(connection, caller.facility, asked, caller.scope)


def violation_counts(store: Store, caller: Caller, at: datetime) -> list[tuple[str, str, int, int]]:
    """Give code, severity, how many had opened by that instant, and how many stood at it."""
    with store.viewing() as connection:
        return queries.violation_counts(connection, caller.facility, at, caller.scope)


def entries_after(store: Store, caller: Caller, after: int, limit: int) -> list[tuple[int, Entry]]:
    """Give the record in order of arrival, from the entry after that number.

    Raises:
        NotAllowedError: the caller may not read the whole record.
    """
    demand(caller, "read_record")
    with store.viewing() as connection:
        return queries.entries_after(connection, caller.facility, after, min(limit, PAGE_MAX))


def consignment(store: Store, caller: Caller, consignment_id: str) -> Consignment:
    """Give one consignment, as far as the caller's scope reaches.

    Raises:
        NotFoundError: no consignment of that id left here, or nothing of it is within the scope.
    """
    with store.viewing() as connection:
        found = queries.cargo(connection, caller.facility, consignment_id, None, 1, caller.scope)
    if not found:
        raise NotFoundError(f"no consignment {consignment_id} left here")
    return Consignment(consignment_id, tuple(found[consignment_id]))


def consignments(store: Store, caller: Caller, after: str | None, limit: int) -> list[Consignment]:
    """Give a page of consignments by id."""
    with store.viewing() as connection:
        most = min(limit, PAGE_MAX)
        found = queries.cargo(connection, caller.facility, None, after, most, caller.scope)
    return [Consignment(name, tuple(rows)) for name, rows in found.items()]


def rules(store: Store, caller: Caller) -> Rules:
    """Give the caller's facility as it is set up, with its regime."""
    return store.rules(caller.facility)


def answers(store: Store) -> bool:
    """Say whether the database answers."""
    return store.database.answers()


def regime_ids() -> tuple[str, ...]:
    """Give the ids of the regimes that come with the service."""
    return load.available()


@cache
def regime(regime_id: str) -> Regime:
    """Give a regime with the rows of those it adds to.

    Raises:
        NotFoundError: there is no such regime.
    """
    if regime_id not in load.available():
        known = ", ".join(load.available())
        raise NotFoundError(f"there is no regime '{regime_id}'; there are: {known}")
    return load.assemble(regime_id)


__all__ = [
    "PAGE_MAX",
    "Consignment",
    "ConsignmentTotals",
    "ContainerFilter",
    "ContainerView",
    "NotFoundError",
    "ViolationFilter",
    "answers",
    "consignment",
    "consignments",
    "container",
    "container_typed",
    "containers",
    "entries_after",
    "regime",
    "regime_ids",
    "rules",
    "violation_counts",
    "violations",
]
