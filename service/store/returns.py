"""What returns are filled from: sums over a period, each one question to the projections."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, func, select

from service.custody.events import Spilled
from service.custody.history import Happened, effective
from service.store.queries import with_amendments
from service.store.tables import CARRIED, CONTAINER

Between = tuple[datetime, datetime]


@dataclass(frozen=True, slots=True)
class Sum:
    """Containers with one name, as a category or a step; ``weight_g`` of those weighed."""

    name: str
    containers: int
    weighed: int
    weight_g: int


def by_category(connection: Connection, facility: str, between: Between) -> list[Sum]:
    """Add up what was sealed in a period by category."""
    return _sums(connection, facility, between, "category")


def by_outlet(connection: Connection, facility: str, between: Between) -> list[Sum]:
    """Add up what was sealed in a period, and disposed of since, by outlet."""
    return _sums(connection, facility, between, "outlet")


def by_steps(connection: Connection, facility: str, between: Between) -> list[Sum]:
    """Add up what was sealed in a period by the steps it went through, parted by blanks."""
    return _sums(connection, facility, between, "steps")


def _sums(connection: Connection, facility: str, between: Between, column: str) -> list[Sum]:
    c = CONTAINER.c
    asked = (
        select(
            c[column],
            func.count(),
            func.count(c.weight_g),
            func.coalesce(func.sum(c.weight_g), 0),
        )
        .where(
            c.facility == facility,
            c.sealed_at >= between[0],
            c.sealed_at < between[1],
            c[column].is_not(None),
            c[column] != "",
        )
        .group_by(c[column])
        .order_by(c[column])
    )
    return [Sum(r[0], r[1], r[2], int(r[3])) for r in connection.execute(asked)]


def by_consignee(connection: Connection, facility: str, between: Between) -> list[Sum]:
    """Add up what left in a period by whom it was sent to."""
    c = CARRIED.c
    asked = (
        select(
            c.consignee,
            func.count(),
            func.count(c.sent_g),
            func.coalesce(func.sum(c.sent_g), 0),
        )
        .where(c.facility == facility, c.left_at >= between[0], c.left_at < between[1])
        .group_by(c.consignee)
        .order_by(c.consignee)
    )
    return [Sum(r[0], r[1], r[2], int(r[3])) for r in connection.execute(asked)]


def incidents(connection: Connection, facility: str, between: Between) -> list[Happened]:
    """Give the spills and injuries of a period as they hold, in order."""
    kind = Spilled.model_fields["kind"].default
    told = with_amendments(connection, facility, [kind], *between)
    return [h for h in effective(told.values()) if isinstance(h.event, Spilled)]
