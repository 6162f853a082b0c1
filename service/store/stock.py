"""What stands in the stores and at the units, and what the units usually make."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, and_, func, or_, select

from service.access.caller import WHOLE, Scope
from service.store.reach import of_container
from service.store.tables import CONTAINER


def standing(
    connection: Connection,
    facility: str,
    parties: Collection[str],
    places: Collection[str],
    scope: Scope = WHOLE,
) -> Sequence[Any]:
    """Give what one of the parties holds in one of the places, and what waits at its unit."""
    c = CONTAINER.c
    stored = and_(c.custodian.in_(sorted(parties)), c.place.in_(sorted(places)))
    asked = select(
        c.container, c.category, c.unit, c.weight_g, c.place, c.custodian, c.due_at
    ).where(
        c.facility == facility,
        c.closed_at.is_(None),
        c.sealed_at.is_not(None),
        or_(stored, c.custodian == c.unit),
        *of_container(scope),
    )
    return connection.execute(asked.order_by(c.container)).all()


@dataclass(frozen=True, slots=True)
class Made:
    """What a unit made of a category: of those weighed, how many and how much."""

    unit: str
    category: str
    containers: int
    weighed: int
    weight_g: int


def made(
    connection: Connection,
    facility: str,
    between: tuple[datetime, datetime],
    scope: Scope = WHOLE,
) -> list[Made]:
    """Add up what was sealed in a span by unit and category."""
    c = CONTAINER.c
    asked = (
        select(
            c.unit,
            c.category,
            func.count(),
            func.count(c.weight_g),
            func.coalesce(func.sum(c.weight_g), 0),
        )
        .where(
            c.facility == facility,
            c.sealed_at >= between[0],
            c.sealed_at < between[1],
            c.unit.is_not(None),
            c.category.is_not(None),
            *of_container(scope),
        )
        .group_by(c.unit, c.category)
        .order_by(c.unit, c.category)
    )
    return [Made(r[0], r[1], r[2], r[3], int(r[4])) for r in connection.execute(asked)]
