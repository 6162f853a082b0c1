"""What went out and what was made over a period, added up."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, case, func, or_, select

from service.access.caller import WHOLE, Scope
from service.custody.events import Amended, Received
from service.custody.history import History
from service.custody.verdict import Code
from service.store.entries import Entries, from_row
from service.store.gathering import histories
from service.store.reach import of_container, of_row
from service.store.tables import CARRIED, CONTAINER, RECORD, VIOLATION


@dataclass(frozen=True, slots=True)
class Carriage:
    """All that left in a period.

    Attributes:
        differences: Containers of it whose weights no scale error explains.
        missing: Containers of it that are missing and not found since.
    """

    consignments: int
    containers: int
    received: int
    refused: int
    sent_g: int
    received_g: int
    differences: int
    missing: int


def carriage(
    connection: Connection,
    facility: str,
    between: tuple[datetime, datetime],
    now: datetime,
    scope: Scope = WHOLE,
) -> Carriage:
    """Add up what left in a period."""
    c, v = CARRIED.c, VIOLATION.c
    left = [c.facility == facility, c.left_at >= between[0], c.left_at < between[1]]
    left += of_row(scope, c)

    def ended(how: str) -> Any:
        return func.coalesce(func.sum(case((c.end == how, 1), else_=0)), 0)

    def wrong(code: Code, *more: ColumnElement[bool]) -> Any:
        flagged = select(v.container).where(
            v.facility == facility, v.code == code, v.opened_at <= now, *more
        )
        return func.count(case((c.container.in_(flagged), c.container)).distinct())

    asked = select(
        func.count(c.consignment.distinct()),
        func.count(),
        ended("received"),
        ended("refused"),
        func.coalesce(func.sum(c.sent_g), 0),
        func.coalesce(func.sum(c.received_g), 0),
        wrong(Code.WEIGHT_MISMATCH),
        wrong(Code.CUSTODY_MISSING, or_(v.closed_at.is_(None), v.closed_at > now)),
    ).where(*left)
    return Carriage(*connection.execute(asked).one())


def left_in(
    connection: Connection,
    facility: str,
    between: tuple[datetime, datetime],
    skip: int,
    limit: int,
    scope: Scope = WHOLE,
) -> dict[str, set[str]]:
    """Give a page of the consignments that left in a period, the latest first, with their cargo."""
    c = CARRIED.c
    within = [c.facility == facility, *of_row(scope, c)]
    last = func.max(c.left_at)
    ids = (
        _in_period(select(c.consignment).where(*within), between)
        .group_by(c.consignment)
        .order_by(last.desc(), c.consignment)
        .offset(skip)
        .limit(limit)
    )
    found: dict[str, set[str]] = {i: set() for i in connection.execute(ids).scalars()}
    cargo = select(c.consignment, c.container).where(*within, c.consignment.in_(list(found)))
    for row in connection.execute(cargo):
        found[row.consignment].add(row.container)
    return found


def _in_period(asked: Select[Any], between: tuple[datetime, datetime]) -> Select[Any]:
    return asked.where(CARRIED.c.left_at >= between[0], CARRIED.c.left_at < between[1])


def folded(
    connection: Connection, facility: str, containers: Collection[str]
) -> dict[str, History]:
    """Fold some containers."""
    return histories(connection, facility, Entries(connection, facility), containers)


def named_in_receipts(
    connection: Connection,
    facility: str,
    consignments: Collection[str],
    between: tuple[datetime, datetime],
) -> set[str]:
    """Give the containers that receipts of some consignments name, by any telling of them."""
    r = RECORD.c
    receipts = and_(r.kind == "received", r.at >= between[0], r.at < between[1])
    corrections = and_(r.kind == "amended", r.at >= between[0])
    named: set[str] = set()
    for row in connection.execute(
        select(RECORD).where(r.facility == facility, or_(receipts, corrections))
    ):
        event = from_row(row).event
        told = event.corrected if isinstance(event, Amended) else event
        if isinstance(told, Received) and told.consignment in consignments:
            named.update(told.containers)
    return named


def sealed_by_unit_and_category(
    connection: Connection,
    facility: str,
    between: tuple[datetime, datetime],
    scope: Scope = WHOLE,
) -> list[tuple[str, str, int, int]]:
    """Give unit, category, containers sealed in a period and the grams of those weighed."""
    c = CONTAINER.c
    asked = (
        select(c.unit, c.category, func.count(), func.coalesce(func.sum(c.weight_g), 0))
        .where(
            c.facility == facility,
            c.sealed_at >= between[0],
            c.sealed_at < between[1],
            *of_container(scope),
        )
        .group_by(c.unit, c.category)
    )
    return [(row[0], row[1], row[2], row[3]) for row in connection.execute(asked)]
