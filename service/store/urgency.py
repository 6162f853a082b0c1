"""What stands open, the most urgent first, each with its container as it is now."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, and_, case, func, or_, select

from service.access.caller import Scope
from service.custody.verdict import Violation
from service.store.projections import violation_of
from service.store.reach import of_row
from service.store.tables import CONTAINER, VIOLATION

_OF_CONTAINER = ("category", "unit", "state", "custodian", "since", "place", "due_at")


@dataclass(frozen=True, slots=True)
class UrgentFilter:
    """Which violations are asked for, as they stood at ``at``; None asks for any.

    Attributes:
        order: Severities, the most urgent first.
        custodian: The party or unit that holds the container.
        skip: How many of the most urgent are left out.
    """

    at: datetime
    order: Sequence[str]
    severity: str | None = None
    code: str | None = None
    unit: str | None = None
    custodian: str | None = None
    skip: int = 0
    limit: int = 50


def urgent(
    connection: Connection, facility: str, f: UrgentFilter, scope: Scope
) -> list[tuple[Violation, Row[Any]]]:
    """Give violations that stand, each with the row of its container.

    By severity, then those that nobody was told of, then those that have stood longest.
    """
    v, c = VIOLATION.c, CONTAINER.c
    rank = case({severity: n for n, severity in enumerate(f.order)}, value=v.severity)
    asked = (
        select(VIOLATION, *(c[name] for name in _OF_CONTAINER))
        .select_from(_joined())
        .where(*_conditions(facility, f, scope))
        .order_by(rank, v.notified_at.is_not(None), v.opened_at, v.container, v.number)
        .offset(f.skip)
        .limit(f.limit)
    )
    return [(violation_of(row), row) for row in connection.execute(asked)]


def urgent_counts(
    connection: Connection, facility: str, f: UrgentFilter, scope: Scope
) -> list[tuple[str, str, int]]:
    """Give severity, code and how many stand, of all that the filter lets through."""
    v = VIOLATION.c
    asked = (
        select(v.severity, v.code, func.count())
        .select_from(_joined())
        .where(*_conditions(facility, f, scope))
        .group_by(v.severity, v.code)
        .order_by(v.code)
    )
    return [(row[0], row[1], row[2]) for row in connection.execute(asked)]


def _joined() -> Any:
    v, c = VIOLATION.c, CONTAINER.c
    same = and_(c.facility == v.facility, c.container == v.container)
    return VIOLATION.outerjoin(CONTAINER, same)


def _conditions(facility: str, f: UrgentFilter, scope: Scope) -> list[ColumnElement[bool]]:
    v, c = VIOLATION.c, CONTAINER.c
    equal = (
        (v.severity, f.severity),
        (v.code, f.code),
        (c.unit, f.unit),
        (c.custodian, f.custodian),
    )
    return [
        v.facility == facility,
        v.opened_at <= f.at,
        or_(v.closed_at.is_(None), v.closed_at > f.at),
        *of_row(scope, v),
        *(column == value for column, value in equal if value is not None),
    ]
