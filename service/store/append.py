"""The one append path: give each entry its number, write it, refold what it touches, all at once.

The caller holds the transaction; nothing here commits.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from uuid import UUID

from sqlalchemy import Connection, and_, delete, func, insert, or_, select

from service.custody.events import Amended, DoubleBagged, Entry, Packed, Registered, Unpacked
from service.custody.rules import Rules
from service.custody.verdict import Violation
from service.store.entries import Entries, body, chunks, receipts_in, speaks_of, to_row
from service.store.projections import Projected, project
from service.store.tables import CONSIGNED, CONTAINER, NAMED, RECORD, STAY


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one submitted event."""

    id: UUID | None
    outcome: Literal["recorded", "repeated", "refused"]
    reason: str = ""
    violations: tuple[Violation, ...] = ()


def append(
    connection: Connection, facility: str, rules: Rules, entries: Sequence[Entry]
) -> list[Outcome]:
    """Write entries in the order given and bring the projections up to them.

    An entry whose id is on record with the same content is ``repeated``; with other content it is
    ``refused``. The head of the record is read inside the transaction.
    """
    reader = Entries(connection, facility)
    known = {i: e for i, (_, e) in reader.by_id(e.event.id for e in entries).items()}
    outcomes: list[Outcome] = []
    fresh: list[Entry] = []
    for entry in entries:
        earlier = known.get(entry.event.id)
        reason = "" if earlier is not None else _refusal(entry, reader, known)
        if earlier is not None and body(earlier.event) == body(entry.event):
            outcomes.append(Outcome(entry.event.id, "repeated"))
        elif earlier is not None:
            reason = "this id is on record with other content; a correction is an amended event"
            outcomes.append(Outcome(entry.event.id, "refused", reason))
        elif reason:
            outcomes.append(Outcome(entry.event.id, "refused", reason))
        else:
            known[entry.event.id] = entry
            fresh.append(entry)
            outcomes.append(Outcome(entry.event.id, "recorded"))
    if not fresh:
        return outcomes
    touched = _write(connection, facility, reader, fresh)
    touched -= _idle_carriers(connection, facility, touched, fresh)
    projected = project(connection, facility, rules, reader, touched)
    return _with_violations(outcomes, projected)


def _refusal(entry: Entry, reader: Entries, known: dict[UUID, Entry]) -> str:
    event = entry.event
    if not isinstance(event, Amended):
        return ""
    target = known.get(event.supersedes)
    if target is None:
        found = reader.by_id([event.supersedes]).get(event.supersedes)
        target = found[1] if found else None
    if target is not None and isinstance(target.event, Amended):
        return "an amendment cannot be amended: amend the original event again"
    return ""


def _write(connection: Connection, facility: str, reader: Entries, fresh: list[Entry]) -> set[str]:
    """Insert entries and their index rows; give the containers whose history they may change."""
    head = connection.execute(
        select(func.coalesce(func.max(RECORD.c.seq), 0)).where(RECORD.c.facility == facility)
    ).scalar_one()
    numbered = list(enumerate(fresh, head + 1))
    for seq, entry in numbered:
        reader.put(seq, entry)
    connection.execute(insert(RECORD), [to_row(facility, seq, e) for seq, e in numbered])
    return index(connection, facility, reader, numbered)


def index(
    connection: Connection,
    facility: str,
    reader: Entries,
    numbered: Sequence[tuple[int, Entry]],
) -> set[str]:
    """Write which containers and consignments the entries bear on; give the containers touched."""
    amended = [e.event.supersedes for _, e in numbered if isinstance(e.event, Amended)]
    originals = {i: e for i, (_, e) in reader.by_id(amended).items()}
    earlier = reader.amending(e.event.id for _, e in numbered)
    here = {e.event.id: e for _, e in numbered}
    named: dict[tuple[str, datetime, int], bool] = {}
    receipts: set[tuple[str, int]] = set()
    moves: list[tuple[str, datetime, bool]] = []
    for seq, entry in (*numbered, *earlier):
        original = None
        if isinstance(entry.event, Amended):
            original = here.get(entry.event.supersedes) or originals.get(entry.event.supersedes)
        onward = _changes_what_is_inside(entry, original)
        for container, at, reaches in speaks_of(entry, original):
            named[container, at, seq] = named.get((container, at, seq), False) or reaches
            if reaches:
                moves.append((container, at, onward))
        receipts |= {(c, seq) for c in receipts_in(entry, original)}
    again = {seq for seq, e in (*numbered, *earlier) if isinstance(e.event, Amended)}
    _write_index(connection, facility, (named, receipts), again)
    touched = {container for container, _, _ in named}
    touched |= _inside(connection, facility, moves)
    touched |= _of_consignments(connection, facility, {c for c, _ in receipts})
    return touched


def _changes_what_is_inside(entry: Entry, original: Entry | None) -> bool:
    events = [entry.event, original.event if original else None]
    if isinstance(entry.event, Amended):
        events.append(entry.event.corrected)
    return any(isinstance(e, Packed | Unpacked | DoubleBagged) for e in events)


def _write_index(
    connection: Connection,
    facility: str,
    rows: tuple[dict[tuple[str, datetime, int], bool], set[tuple[str, int]]],
    again: set[int],
) -> None:
    """Insert index rows; those of amendments, which may have been written before, are replaced."""
    named, receipts = rows
    for chunk in chunks(again):
        holders = {container for container, _, seq in named if seq in chunk}
        for some in chunks(holders):
            mine = and_(NAMED.c.facility == facility, NAMED.c.container.in_(some))
            connection.execute(delete(NAMED).where(mine, NAMED.c.seq.in_(chunk)))
        mine = and_(CONSIGNED.c.facility == facility, CONSIGNED.c.seq.in_(chunk))
        connection.execute(delete(CONSIGNED).where(mine))
    if named:
        connection.execute(
            insert(NAMED),
            [
                {"facility": facility, "container": c, "at": at, "seq": seq, "reaches": reaches}
                for (c, at, seq), reaches in sorted(named.items())
            ],
        )
    if receipts:
        connection.execute(
            insert(CONSIGNED),
            [{"facility": facility, "consignment": c, "seq": seq} for c, seq in sorted(receipts)],
        )


def _inside(
    connection: Connection, facility: str, moves: Iterable[tuple[str, datetime, bool]]
) -> set[str]:
    """What was inside the named containers then, or at any later time for a change of contents."""
    times: dict[str, list[tuple[datetime, bool]]] = defaultdict(list)
    for container, at, onward in moves:
        times[container].append((at, onward))
    found: set[str] = set()
    for chunk in chunks(times):
        stays = select(STAY).where(STAY.c.facility == facility, STAY.c.parent.in_(chunk))
        earliest = min(at for c in chunk for at, _ in times[c])
        still = or_(STAY.c.until_at.is_(None), STAY.c.until_at >= earliest)
        for row in connection.execute(stays.where(still)):
            for at, onward in times[row.parent]:
                ended = row.until_at is not None and row.until_at < at
                if not ended and (onward or row.from_at <= at):
                    found.add(row.child)
                    break
    return found


def _of_consignments(connection: Connection, facility: str, consignments: set[str]) -> set[str]:
    found: set[str] = set()
    for chunk in chunks(consignments):
        wanted = and_(CONTAINER.c.facility == facility, CONTAINER.c.consignment.in_(chunk))
        found |= set(connection.execute(select(CONTAINER.c.container).where(wanted)).scalars())
    return found


def _idle_carriers(
    connection: Connection, facility: str, touched: set[str], fresh: list[Entry]
) -> set[str]:
    """Carts and outer bags known as such: a trip more of one changes no row of its own.

    A cart makes thousands of trips; only if it is registered as waste itself is it looked at anew.
    """
    sealed: set[str] = set()
    for entry in fresh:
        event = entry.event.corrected if isinstance(entry.event, Amended) else entry.event
        if isinstance(event, Registered):
            sealed.update(event.containers)
    idle: set[str] = set()
    for chunk in chunks(touched - sealed):
        carrying = and_(CONTAINER.c.facility == facility, CONTAINER.c.container.in_(chunk))
        asked = select(CONTAINER.c.container).where(carrying, CONTAINER.c.state == "carrying")
        idle |= set(connection.execute(asked).scalars())
    return idle


def _with_violations(outcomes: list[Outcome], projected: Projected) -> list[Outcome]:
    """Put each new violation beside the event of this batch that shows it."""
    by_event: dict[UUID, list[Violation]] = defaultdict(list)
    for violation in projected.new:
        for event_id in violation.evidence:
            by_event[event_id].append(violation)
    return [
        Outcome(o.id, o.outcome, o.reason, tuple(by_event[o.id]))
        if o.id is not None and o.outcome == "recorded"
        else o
        for o in outcomes
    ]
