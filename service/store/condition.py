"""How a facility's record stands, in a few numbers for those who watch over the service."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, Connection, and_, func, select

from service.access.caller import WHOLE
from service.store.notices import waiting
from service.store.tables import CHECKPOINT, CONTAINER, LOG
from service.store.urgency import UrgentFilter, urgent_counts


@dataclass(frozen=True, slots=True)
class Condition:
    """A facility's record at one instant.

    Attributes:
        open: Containers sealed and not yet at the end of their way.
        due_soon: Of those still within their holding limit, how many reach it soon.
        overdue: How many are past it.
        standing: Violations that stand, by severity.
        entries: The size of the log.
        signed: How many of them the last checkpoint covers.
        signed_at: When it was signed.
        untold: Notices that nobody outside has taken yet.
    """

    open: int
    due_soon: int
    overdue: int
    standing: dict[str, int]
    entries: int
    signed: int
    signed_at: datetime | None
    untold: int


def condition(connection: Connection, facility: str, at: datetime, soon: timedelta) -> Condition:
    """Count; ``soon`` is how long before its limit a container counts as due."""
    c, made = CONTAINER.c, CHECKPOINT.c
    here = c.facility == facility
    still_open = and_(here, c.sealed_at.is_not(None), c.closed_at.is_(None))
    late = and_(here, c.due_at.is_not(None), c.due_at <= at)
    due = and_(here, c.due_at > at, c.due_at <= at + soon)

    def count(which: ColumnElement[bool]) -> int:
        asked = select(func.count()).select_from(CONTAINER).where(which)
        return connection.execute(asked).scalar_one()

    standing: dict[str, int] = {}
    every = UrgentFilter(at=at, order=())
    for severity, _, number in urgent_counts(connection, facility, every, WHOLE):
        standing[severity] = standing.get(severity, 0) + number
    size = connection.execute(select(LOG.c.size).where(LOG.c.facility == facility)).scalar() or 0
    last = connection.execute(
        select(made.size, made.signed_at)
        .where(made.facility == facility)
        .order_by(made.size.desc())
        .limit(1)
    ).first()
    signed, signed_at = (last.size, last.signed_at) if last else (0, None)
    untold = sum(each.number for each in waiting(connection, facility))
    counts = count(still_open), count(due), count(late)
    return Condition(*counts, standing, size, signed, signed_at, untold)
