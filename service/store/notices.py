"""Notices on their way out: made once, tried until they are taken, kept as sent.

Whoever sends takes them for a while first, so that two processes do not send the same at once; one
that dies in between has them sent again. At least once, then, and as a rule once.
"""

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, Connection, and_, func, or_, select, update

from service.custody.verdict import Violation
from service.notices.notice import Notice, notice_of
from service.store.entries import chunks
from service.store.projections import violation_of
from service.store.rows import insert_rows
from service.store.tables import NOTICE, VIOLATION

AT_ONCE = 200
TAKEN_FOR = timedelta(minutes=10)
FIRST_WAIT = timedelta(minutes=1)
LONGEST_WAIT = timedelta(hours=6)
FAULT_LENGTH = 300


@dataclass(frozen=True, slots=True)
class Unsent:
    """A notice that is to be sent, with the tries that failed."""

    notice: Notice
    tries: int


def make(
    connection: Connection, facility: str, recipient: str, tell: Collection[str], now: datetime
) -> int:
    """Make notices of what stands and was not told; gives how many.

    Args:
        tell: Codes or severities.
        connection, facility, recipient, now: As elsewhere.
    """
    v = VIOLATION.c
    standing = and_(v.opened_at <= now, or_(v.closed_at.is_(None), v.closed_at > now))
    asked = select(VIOLATION).where(
        v.facility == facility, standing, or_(v.code.in_(tell), v.severity.in_(tell))
    )
    violations: list[Violation] = [violation_of(row) for row in connection.execute(asked)]
    made = {n.id: n for n in (notice_of(facility, recipient, x, now) for x in violations)}
    there: set[str] = set()
    for chunk in chunks(made):
        asked_for = _these(facility, recipient, chunk)
        there |= set(connection.execute(select(NOTICE.c.id).where(asked_for)).scalars())
    fresh = [n for n in made.values() if n.id not in there]
    rows = [
        {
            "facility": facility,
            "recipient": recipient,
            "id": notice.id,
            "made_at": now,
            "told": json.dumps(notice.told, ensure_ascii=False),
            "tries": 0,
            "next_at": now,
            "fault": "",
        }
        for notice in fresh
    ]
    insert_rows(connection, NOTICE, rows)
    return len(fresh)


def _these(facility: str, recipient: str, ids: Collection[str]) -> ColumnElement[bool]:
    n = NOTICE.c
    return and_(n.facility == facility, n.recipient == recipient, n.id.in_(ids))


def take(connection: Connection, facility: str, recipient: str, now: datetime) -> list[Unsent]:
    """Take what is to be sent now, the earliest opened first; nobody else gets it for a while."""
    n = NOTICE.c
    due = and_(
        n.facility == facility, n.recipient == recipient, n.sent_at.is_(None), n.next_at <= now
    )
    asked = select(NOTICE).where(due).order_by(n.next_at, n.id).limit(AT_ONCE)
    found = [
        Unsent(Notice(row.id, facility, row.made_at, json.loads(row.told)), row.tries)
        for row in connection.execute(asked)
    ]
    leased = _these(facility, recipient, [unsent.notice.id for unsent in found])
    connection.execute(update(NOTICE).where(leased).values(next_at=now + TAKEN_FOR))
    return sorted(found, key=lambda u: (u.notice.told["opened_at"], u.notice.told["container"]))


def sent(
    connection: Connection, facility: str, recipient: str, some: Sequence[Unsent], now: datetime
) -> None:
    """Note that they were taken by whom they are for."""
    these = _these(facility, recipient, [unsent.notice.id for unsent in some])
    connection.execute(update(NOTICE).where(these).values(sent_at=now, fault=""))


def failed(
    connection: Connection,
    facility: str,
    recipient: str,
    some: Sequence[Unsent],
    why: str,
    now: datetime,
) -> None:
    """Note why they were not; each waits twice as long as before for its next try."""
    for unsent in some:
        wait = min(LONGEST_WAIT, FIRST_WAIT * 2 ** min(unsent.tries, 20))
        said = {"tries": unsent.tries + 1, "next_at": now + wait, "fault": why[:FAULT_LENGTH]}
        this = _these(facility, recipient, [unsent.notice.id])
        connection.execute(update(NOTICE).where(this).values(**said))


@dataclass(frozen=True, slots=True)
class Waiting:
    """What a recipient was not told yet: how many, since when, and what stood in the way last."""

    recipient: str
    number: int
    since: datetime
    fault: str


def waiting(connection: Connection, facility: str) -> list[Waiting]:
    """Give what is not sent, by recipient."""
    n = NOTICE.c
    unsent = and_(n.facility == facility, n.sent_at.is_(None))
    asked = (
        select(n.recipient, func.count(), func.min(n.made_at), func.max(n.fault))
        .where(unsent)
        .group_by(n.recipient)
        .order_by(n.recipient)
    )
    return [Waiting(row[0], row[1], row[2], row[3]) for row in connection.execute(asked)]
