"""Questions to the record and its projections; each takes a connection and one facility."""

from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, Connection, Row, Select, and_, case, func, or_, select

from service.access.caller import WHOLE, Scope
from service.custody.events import KINDS, Amended, Entry
from service.custody.history import History, effective
from service.custody.verdict import Violation
from service.store.entries import CHUNK, Entries, from_row
from service.store.gathering import Older, histories
from service.store.projections import violation_of
from service.store.reach import of_container, of_row
from service.store.rows import Statement
from service.store.tables import CARRIED, CONTAINER, RECORD, VIOLATION

HISTORY_CHUNK = 500

_CONTAINERS, _VIOLATIONS = Statement(select(CONTAINER)), Statement(select(VIOLATION))


@dataclass(frozen=True, slots=True)
class ContainerFilter:
    """Which containers are asked for; None asks for any.

    Attributes:
        open_only: Registered and not disposed of.
        due_before: Whose holding limit ends at or before this instant.
        after: The id after which the page starts.
        after_due: With ``due_before``: the due time after which, then ``after``, it starts.
        went_in: A consignment that it was ever in; ``consignment`` is the last.
        seal: The seal under which it ever left or was received.
    """

    category: str | None = None
    unit: str | None = None
    state: str | None = None
    custodian: str | None = None
    consignment: str | None = None
    open_only: bool = False
    due_before: datetime | None = None
    sealed_from: datetime | None = None
    sealed_until: datetime | None = None
    after: str | None = None
    after_due: datetime | None = None
    limit: int = 100
    went_in: str | None = None
    seal: str | None = None


@dataclass(frozen=True, slots=True)
class ViolationFilter:
    """Which violations are asked for, as they stood at ``at``.

    Attributes:
        standing: Only those not closed at that instant.
        after: The (opened_at, container, number) after which the page starts.
    """

    at: datetime
    code: str | None = None
    severity: str | None = None
    container: str | None = None
    standing: bool = True
    opened_from: datetime | None = None
    after: tuple[datetime, str, int] | None = None
    limit: int = 100


def containers(
    connection: Connection, facility: str, f: ContainerFilter, scope: Scope = WHOLE
) -> Sequence[Row[Any]]:
    """Give containers by id, or by due time where a due time is asked for."""
    c = CONTAINER.c
    conditions: list[ColumnElement[bool]] = [c.facility == facility, *of_container(scope)]
    equal = (
        (c.category, f.category),
        (c.unit, f.unit),
        (c.state, f.state),
        (c.custodian, f.custodian),
        (c.consignment, f.consignment),
    )
    conditions += [column == value for column, value in equal if value is not None]
    if f.open_only:
        conditions.append(and_(c.sealed_at.is_not(None), c.closed_at.is_(None)))
    if f.due_before is not None:
        conditions.append(and_(c.due_at.is_not(None), c.due_at <= f.due_before))
    if f.sealed_from is not None:
        conditions.append(c.sealed_at >= f.sealed_from)
    if f.sealed_until is not None:
        conditions.append(c.sealed_at < f.sealed_until)
    if f.went_in is not None:
        conditions.append(c.container.in_(_carried(facility, CARRIED.c.consignment == f.went_in)))
    if f.seal is not None:  # as two questions: of one with "or", SQLite reads every row
        left = _carried(facility, CARRIED.c.seal == f.seal)
        came = _carried(facility, CARRIED.c.seal_received == f.seal)
        conditions.append(c.container.in_(left.union(came)))
    if f.after is not None and f.after_due is not None:
        at_once = and_(c.due_at == f.after_due, c.container > f.after)
        # What the second says already lets a page begin in the index; of one with "or" alone,
        # SQLite reads all that was due before.
        conditions += [c.due_at >= f.after_due, or_(c.due_at > f.after_due, at_once)]
    elif f.after is not None:
        conditions.append(c.container > f.after)
    order = (c.due_at, c.container) if f.due_before is not None else (c.container,)
    asked = select(CONTAINER).where(*conditions).order_by(*order).limit(f.limit)
    return _CONTAINERS.like(connection, asked)


def _carried(facility: str, which: ColumnElement[bool]) -> Select[tuple[str]]:
    """The containers of the consignments that fit."""
    return select(CARRIED.c.container).where(CARRIED.c.facility == facility, which)


def under_way(connection: Connection, facility: str, scope: Scope = WHOLE) -> list[str]:
    """Give the consignments of which something has neither arrived nor been seen elsewhere."""
    c, k = CONTAINER.c, CARRIED.c
    both = and_(
        c.facility == k.facility, c.container == k.container, c.consignment == k.consignment
    )
    asked = (
        select(k.consignment)
        .join(CONTAINER, both)
        .where(
            k.facility == facility,
            k.end.is_(None),
            c.state == "dispatched",
            c.sealed_at.is_not(None),
            c.closed_at.is_(None),
            *of_container(scope),
        )
        .distinct()
        .order_by(k.consignment)
    )
    return list(connection.execute(asked).scalars())


def violations(
    connection: Connection, facility: str, f: ViolationFilter, scope: Scope = WHOLE
) -> list[tuple[int, Violation]]:
    """Give violations with their number, by opening."""
    v = VIOLATION.c
    conditions: list[ColumnElement[bool]] = [v.facility == facility, v.opened_at <= f.at]
    conditions += of_row(scope, v)
    equal = ((v.code, f.code), (v.severity, f.severity), (v.container, f.container))
    conditions += [column == value for column, value in equal if value is not None]
    if f.standing:
        conditions.append(or_(v.closed_at.is_(None), v.closed_at > f.at))
    if f.opened_from is not None:
        conditions.append(v.opened_at >= f.opened_from)
    if f.after is not None:
        opened_at, container, number = f.after
        conditions.append(v.opened_at >= opened_at)  # so that the page begins in the index
        conditions.append(
            or_(
                v.opened_at > opened_at,
                and_(v.opened_at == opened_at, v.container > container),
                and_(v.opened_at == opened_at, v.container == container, v.number > number),
            )
        )
    asked = (
        select(VIOLATION)
        .where(*conditions)
        .order_by(v.opened_at, v.container, v.number)
        .limit(f.limit)
    )
    return [(row.number, violation_of(row)) for row in _VIOLATIONS.like(connection, asked)]


def violation_counts(
    connection: Connection, facility: str, at: datetime, scope: Scope = WHOLE
) -> list[tuple[str, str, int, int]]:
    """Give code, severity, how many had opened by that instant, and how many stood at it."""
    v = VIOLATION.c
    standing = func.sum(case((or_(v.closed_at.is_(None), v.closed_at > at), 1), else_=0))
    asked = (
        select(v.code, v.severity, func.count(), standing)
        .where(v.facility == facility, v.opened_at <= at, *of_row(scope, v))
        .group_by(v.code, v.severity)
        .order_by(v.code)
    )
    return [(r[0], r[1], r[2], r[3]) for r in connection.execute(asked)]


def history(connection: Connection, facility: str, container: str) -> History:
    """Fold one container."""
    return histories(connection, facility, Entries(connection, facility), [container])[container]


def entries_after(
    connection: Connection, facility: str, after: int, limit: int
) -> list[tuple[int, Entry]]:
    """Give entries with their numbers in order of arrival."""
    wanted = and_(RECORD.c.facility == facility, RECORD.c.seq > after)
    rows = connection.execute(select(RECORD).where(wanted).order_by(RECORD.c.seq).limit(limit))
    return [(row.seq, from_row(row)) for row in rows]


def cargo(
    connection: Connection,
    facility: str,
    consignment: str | None,
    after: str | None,
    limit: int,
    scope: Scope = WHOLE,
) -> dict[str, list[Row[Any]]]:
    """Give what each consignment carried: one, or a page of them by id.

    Of a consignment in part beyond the scope, only the part within.
    """
    c = CARRIED.c
    within = [c.facility == facility, *of_row(scope, c)]
    conditions: list[ColumnElement[bool]] = [*within]
    if consignment is not None:
        conditions.append(c.consignment == consignment)
    if after is not None:
        conditions.append(c.consignment > after)
    ids = select(c.consignment).where(*conditions).distinct().order_by(c.consignment).limit(limit)
    found: dict[str, list[Row[Any]]] = {i: [] for i in connection.execute(ids).scalars()}
    members = select(CARRIED).where(*within, c.consignment.in_(list(found)))
    for row in connection.execute(members.order_by(c.consignment, c.container, c.left_at)):
        found[row.consignment].append(row)
    return found


def histories_until(
    connection: Connection,
    facility: str,
    until: datetime,
    open_since: datetime,
    older: Older | None = None,
) -> Iterator[History]:
    """Fold every container sealed before ``until`` that was not closed before ``open_since``.

    Containers that were never registered but to which something happened are among them, and so
    are those sealed later or closed earlier of which something was wrong in between. The older
    entries that they rest on are noted.
    """
    c, v = CONTAINER.c, VIOLATION.c
    wrong = select(v.container).where(
        v.facility == facility,
        v.opened_at < until,
        or_(v.closed_at.is_(None), v.closed_at >= open_since),
    )
    conditions = (
        c.facility == facility,
        or_(c.sealed_at.is_(None), c.sealed_at < until, c.container.in_(wrong)),
        or_(c.closed_at.is_(None), c.closed_at >= open_since, c.container.in_(wrong)),
        c.state.not_in(("labelled", "carrying")),
    )
    # By time, so that what travelled together is read together and each cart's trips once.
    by_time = select(c.container).where(*conditions).order_by(c.sealed_at, c.container)
    ids = list(connection.execute(by_time).scalars())
    for low in range(0, len(ids), HISTORY_CHUNK):
        some, reader = ids[low : low + HISTORY_CHUNK], Entries(connection, facility)
        yield from histories(connection, facility, reader, some, older).values()


def entries_of_kind(
    connection: Connection, facility: str, kinds: Sequence[str], from_at: datetime, until: datetime
) -> dict[int, Entry]:
    """Give the entries of some kinds that happened in a period by number, as they happened."""
    wanted = and_(
        RECORD.c.facility == facility,
        RECORD.c.kind.in_(kinds),
        RECORD.c.at >= from_at,
        RECORD.c.at < until,
    )
    rows = connection.execute(select(RECORD).where(wanted).order_by(RECORD.c.at, RECORD.c.id))
    return {row.seq: from_row(row) for row in rows}


def with_amendments(
    connection: Connection, facility: str, kinds: Sequence[str], from_at: datetime, until: datetime
) -> dict[int, Entry]:
    """Give the entries of some kinds that were first told to have happened in a period.

    With them all amendments of theirs, so that what they come to can be read of them.
    """
    told = entries_of_kind(connection, facility, kinds, from_at, until)
    corrections = Entries(connection, facility).amending({e.event.id for e in told.values()})
    return told | dict(corrections)


_FACTS = [k for k in (kind.model_fields["kind"].default for kind in KINDS) if k != "amended"]


def happened(
    connection: Connection, facility: str, from_at: datetime, until: datetime
) -> Iterator[Entry]:
    """Give all but the amendments that happened in a period, in order, read as they are taken."""
    r = RECORD.c
    wanted = and_(r.facility == facility, r.kind.in_(_FACTS), r.at >= from_at, r.at < until)
    numbers = connection.execute(select(r.seq).where(wanted).order_by(r.at, r.id)).scalars()
    # Numbers first, eight bytes each: sorting whole rows would hold the period in memory.
    seqs = array("q", numbers)
    for low in range(0, len(seqs), CHUNK):
        some = seqs[low : low + CHUNK]
        read = Entries(connection, facility).by_seq(some)
        yield from (read[seq] for seq in some)


def amended(
    connection: Connection, facility: str, from_at: datetime, until: datetime
) -> list[Entry]:
    """Give the corrected events of a period, originals and all their amendments.

    Of the period is what happened in it as first told or by any of its corrections.
    """
    r = RECORD.c
    asked = select(RECORD).where(r.facility == facility, r.kind == "amended").order_by(r.seq)
    told: dict[UUID, list[Entry]] = {}
    for row in connection.execute(asked):
        entry = from_row(row)
        if isinstance(entry.event, Amended):
            told.setdefault(entry.event.supersedes, []).append(entry)
    originals = Entries(connection, facility).by_id(told)
    found: list[Entry] = []
    for superseded, amendments in told.items():
        original = [originals[superseded][1]] if superseded in originals else []
        ways = (original, *([*original, amendment] for amendment in amendments))
        if any(from_at <= h.at < until for way in ways for h in effective(way)):
            found += original + amendments
    return found


def carriers(connection: Connection, facility: str) -> set[str]:
    """Give the carts, outer bags and the like that were never registered as waste."""
    c = CONTAINER.c
    asked = select(c.container).where(c.facility == facility, c.state == "carrying")
    return set(connection.execute(asked).scalars())
