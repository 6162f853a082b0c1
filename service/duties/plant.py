"""A plant's duties: what is on its way there, and what a receipt or a load would be flagged for."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Row

from service.custody.events import Entry, Event
from service.custody.history import History, fold
from service.custody.identifiers import grouped
from service.custody.regime import Category
from service.custody.rules import Rules
from service.custody.site import Party
from service.custody.standing import Standing, stand_case
from service.custody.verdict import Case, Violation
from service.custody.violations import judge_case
from service.duties import lookup
from service.duties.access import Caller
from service.duties.finding import Coded, category_of, coded
from service.duties.lookup import PAGE_MAX, Consignment, ContainerFilter, NotFoundError
from service.store import queries
from service.store.store import Store


@dataclass(frozen=True, slots=True)
class UnderWay:
    """A consignment of which something has not arrived yet."""

    consignment: Consignment
    carrier: str
    consignee: str
    vehicle: str | None
    seal: str | None
    left_at: datetime


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What would be flagged if something were recorded of a container now.

    Attributes:
        known: Whether anything is on record about it that the caller may see.
        genuine: Whether the label's tag is ours; None where only the id was read.
        violations: Those that the event itself would show.
    """

    container: str
    known: bool
    genuine: bool | None
    standing: Standing
    category: Category | None
    violations: tuple[Violation, ...]


def acting(rules: Rules, caller: Caller) -> tuple[Party, ...]:
    """Give the parties that the caller may take waste over for: any but carriers, in scope."""
    theirs = caller.scope.parties
    return tuple(
        p
        for p in rules.site.party
        if p.kind != "carrier" and (caller.scope.whole or p.id in theirs)
    )


def under_way(store: Store, caller: Caller) -> list[UnderWay]:
    """Give what is on its way to the caller's parties, what left last at the head."""
    with store.viewing() as connection:
        names = queries.under_way(connection, caller.facility, caller.scope)
    found = [_told(lookup.consignment(store, caller, name)) for name in names]
    theirs = [u for u in found if caller.scope.whole or u.consignee in caller.scope.parties]
    return sorted(theirs, key=lambda u: (u.left_at, u.consignment.id), reverse=True)


def travels_in(store: Store, caller: Caller, code: str, now: datetime) -> str:
    """Give the consignment in which the container with this code is under way, or last was.

    Raises:
        ValueError: it is no code of a container.
        NotFoundError: nothing is on record about the container, or it left in no consignment.
    """
    container = coded(store, caller, code).container
    consignment = lookup.container(store, caller, container, now).standing.consignment
    if consignment is None:
        raise NotFoundError(f"container {grouped(container)} left in no consignment")
    return consignment


def expected(store: Store, caller: Caller, consignment: str) -> UnderWay:
    """Give one consignment as its consignee expects it.

    Raises:
        NotFoundError: no consignment of that id left here, or nothing of it is within the scope.
    """
    return _told(lookup.consignment(store, caller, consignment))


def _told(consignment: Consignment) -> UnderWay:
    first = min(consignment.cargo, key=lambda row: row.left_at)
    return UnderWay(
        consignment, first.carrier, first.consignee, first.vehicle, first.seal, first.left_at
    )


def rows_of(store: Store, caller: Caller, consignment: Consignment) -> dict[str, Row[Any]]:
    """Give the containers of a consignment as they stand, by id; those that left again lack."""
    asked = ContainerFilter(consignment=consignment.id, limit=PAGE_MAX)
    found: dict[str, Row[Any]] = {}
    while True:
        page = lookup.containers(store, caller, asked)
        found |= {row.container: row for row in page}
        if len(page) < PAGE_MAX:
            return found
        asked = replace(asked, after=page[-1].container)


def foresee(store: Store, caller: Caller, code: Coded, event: Event, now: datetime) -> Foreseen:
    """Say what would be flagged if the event were recorded of the container now."""
    rules, view = lookup.rules(store, caller), None
    try:
        view = lookup.container(store, caller, code.container, now)
        history = view.history
    except NotFoundError:
        history = History(code.container, ())
    standing = view.standing if view else stand_case(Case(history, rules))
    false = (code.container,) if code.genuine is False else ()
    entry = Entry(event, now, false_codes=false)
    return Foreseen(
        container=code.container,
        known=view is not None,
        genuine=code.genuine,
        standing=standing,
        category=category_of(rules, standing.category, standing.sealed_at),
        violations=would_show(history, rules, entry, now),
    )


def would_show(
    history: History, rules: Rules, entry: Entry, now: datetime
) -> tuple[Violation, ...]:
    """Give the violations that one more entry would itself be evidence of."""
    known = [h.entry for h in (*history.happened, *history.receipts)] + [*history.amendments]
    then = replace(fold(history.container, [*known, entry]), carries=history.carries)
    found = judge_case(Case(then, rules))
    return tuple(v for v in found if entry.event.id in v.evidence and v.opened_at <= now)
