"""The one append path: give each entry its number, write it, refold what it touches, all at once.

The caller holds the transaction; nothing here commits.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal
from uuid import UUID

from sqlalchemy import Connection, and_, bindparam, delete, select

from service.custody.events import Amended, Entry, Labelled, Registered
from service.custody.gathering import END, receipts_in, speaks_of
from service.custody.rules import Rules
from service.custody.verdict import Violation
from service.ledger.leaf import body, leaf_of
from service.store.cycles import Touched, index_subjects, project_cycles
from service.store.entries import Entries, chunks, to_row
from service.store.gathering import known
from service.store.log import extend, head
from service.store.projections import project, project_blank, violations_of
from service.store.rows import Statement, among, insert_rows
from service.store.tables import CARRIED, CONSIGNED, NAMED, RECORD, STAY

_STAYS = select(STAY.c.parent, STAY.c.child, STAY.c.from_at, STAY.c.until_at).where(
    STAY.c.facility == bindparam("facility"), among(STAY.c.parent, "parents")
)
_LASTING = Statement(_STAYS.where(STAY.c.until_at.is_(None)))
_ENDED = Statement(_STAYS.where(STAY.c.until_at >= bindparam("since")))
_LOAD = Statement(
    select(CARRIED.c.container).where(
        CARRIED.c.facility == bindparam("facility"), among(CARRIED.c.consignment, "consignments")
    )
)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one submitted event; ``recorded_at`` is when it was first taken in."""

    id: UUID | None
    outcome: Literal["recorded", "repeated", "refused"]
    reason: str = ""
    violations: tuple[Violation, ...] = ()
    recorded_at: datetime | None = None


def append(
    connection: Connection, facility: str, rules: Rules, reader: Entries, entries: Sequence[Entry]
) -> list[Outcome]:
    """Write entries in the order given and bring the projections up to them.

    An entry whose id is on record with the same content is ``repeated``; with other content it is
    ``refused``. The head of the record is read inside the transaction.
    """
    ids = {e.event.id for e in entries}
    on_record = {i: e for i, (_, e) in reader.by_id(ids | _superseded(entries)).items()}
    amendments = {e.event.id for e in entries if isinstance(e.event, Amended)}
    superseded = _superseded(e for _, e in reader.amending(amendments))
    outcomes: list[Outcome] = []
    fresh: list[Entry] = []
    for entry in entries:
        earlier = on_record.get(entry.event.id)
        if earlier is not None and body(earlier.event) == body(entry.event):
            outcomes.append(Outcome(entry.event.id, "repeated"))
        elif reason := _refusal(entry, on_record, superseded):
            outcomes.append(Outcome(entry.event.id, "refused", reason))
        else:
            on_record[entry.event.id] = entry
            superseded |= _superseded([entry])
            fresh.append(entry)
            outcomes.append(Outcome(entry.event.id, "recorded"))
    new: list[Violation] = []
    if fresh:
        touched = _write(connection, facility, reader, fresh)
        changed = project_cycles(connection, facility, rules, reader, touched)
        blank = _blank(connection, facility, fresh)
        project_blank(connection, facility, rules, blank)
        new = project(
            connection, facility, rules, reader, (touched.containers | changed) - blank.keys()
        )
    standing = _of_repeated(connection, facility, outcomes, on_record)
    shown = {"recorded": _by_event(new), "repeated": _by_event(standing), "refused": {}}
    return [_with_violations(o, on_record, shown[o.outcome]) for o in outcomes]


def _superseded(entries: Iterable[Entry]) -> set[UUID]:
    """Give the ids of the events that the amendments among the entries correct."""
    return {e.event.supersedes for e in entries if isinstance(e.event, Amended)}


def _refusal(entry: Entry, on_record: dict[UUID, Entry], superseded: set[UUID]) -> str:
    event = entry.event
    if event.id in on_record:
        return "this id is on record with other content; a correction is an amended event"
    if not isinstance(event, Amended):
        return ""
    target = on_record.get(event.supersedes)
    if target is not None and isinstance(target.event, Amended):
        return "an amendment cannot be amended: amend the original event again"
    if event.id in superseded:
        return "an amendment of this id came before it: send this one again under a new id"
    return ""


def _write(connection: Connection, facility: str, reader: Entries, fresh: list[Entry]) -> Touched:
    """Insert entries, their leaves and index rows; give what is to be refolded."""
    at = head(connection, facility)
    numbered = list(enumerate(fresh, at.size + 1))
    rows = [to_row(facility, seq, entry) for seq, entry in numbered]
    for seq, entry in numbered:
        reader.put(seq, entry)
    leaves = [
        leaf_of(row["body"], e.recorded_at, e.clock_offset_s, e.false_codes, e.origin, e.sender)
        for row, e in zip(rows, fresh, strict=True)
    ]
    insert_rows(connection, RECORD, rows)
    extend(connection, facility, at, leaves)
    return index(connection, facility, reader, numbered)


def _blank(connection: Connection, facility: str, fresh: list[Entry]) -> dict[str, Entry]:
    """Give the containers of which nothing is known but that their label was printed just now."""
    printed = [e for e in fresh if isinstance(e.event, Labelled) and not e.false_codes]
    if not printed:
        return {}
    times = Counter(container for e in fresh for container in e.event.named())
    blank = {c: e for e in printed for c in e.event.containers if times[c] == 1}
    taken = known(connection, facility, blank)
    return {c: e for c, e in blank.items() if c not in taken}


def index(
    connection: Connection,
    facility: str,
    reader: Entries,
    numbered: Sequence[tuple[int, Entry]],
) -> Touched:
    """Write what the entries bear on, containers, consignments and cycles; give what to refold.

    With an entry go all amendments of the same event: a later one takes back what an earlier one
    said, and one that came before its original can be placed only now.
    """
    corrected = _superseded(e for _, e in numbered)
    originals = {e.event.id: e for _, e in numbered}
    originals |= {i: e for i, (_, e) in reader.by_id(corrected).items()}
    family = dict(numbered) | dict(reader.amending(originals.keys() | corrected))
    named: dict[tuple[str, datetime, int], bool] = {}
    receipts: set[tuple[str, int]] = set()
    anew: set[str] = set()
    for seq, entry in family.items():
        event = entry.event
        original = originals.get(event.supersedes) if isinstance(event, Amended) else None
        spoken = list(speaks_of(entry, original))
        for container, at, reaches in spoken:
            named[container, at, seq] = named.get((container, at, seq), False) or reaches
        if isinstance(event, (Amended, Registered)):
            anew.update(container for container, _, _ in spoken)
        receipts |= {(c, seq) for c in receipts_in(entry, original)}
    again = {seq for seq, e in family.items() if isinstance(e.event, Amended)}
    _write_index(connection, facility, (named, receipts), again)
    touched = {container for container, _, _ in named}
    moves = {(container, at) for (container, at, _), reaches in named.items() if reaches}
    touched |= _inside(connection, facility, moves)
    touched |= _of_consignments(connection, facility, {c for c, _ in receipts})
    touched -= _idle_carriers(connection, facility, touched - anew)
    return Touched(touched, *index_subjects(connection, facility, family, originals))


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
    insert_rows(
        connection,
        NAMED,
        [
            {"facility": facility, "container": c, "at": at, "seq": seq, "reaches": reaches}
            for (c, at, seq), reaches in sorted(named.items())
        ],
    )
    insert_rows(
        connection,
        CONSIGNED,
        [{"facility": facility, "consignment": c, "seq": seq} for c, seq in sorted(receipts)],
    )


def _inside(
    connection: Connection, facility: str, moves: Iterable[tuple[str, datetime]]
) -> set[str]:
    """Give what was inside the named containers then, as far as the last projection knew.

    That is enough: up to the first instant at which a container's history changes, it was inside
    what it was inside before.
    """
    times: dict[str, list[datetime]] = defaultdict(list)
    for container, at in moves:
        times[container].append(at)
    found: set[str] = set()
    for chunk in chunks(times):
        earliest = min(at for c in chunk for at in times[c])
        told = {"facility": facility, "parents": chunk}
        # Asked in two, each is a range of an index: a cart's past stays are not read.
        lasting = _LASTING.rows(connection, **told)
        for parent, child, from_at, until_at in (
            *lasting,
            *_ENDED.rows(connection, **told, since=earliest),
        ):
            if any(from_at <= at <= (until_at or END) for at in times[parent]):
                found.add(child)
    return found


def _of_consignments(connection: Connection, facility: str, consignments: set[str]) -> set[str]:
    """Give what left in the consignments, though it may have left in another since."""
    found: set[str] = set()
    for chunk in chunks(consignments):
        found.update(_LOAD.values(connection, facility=facility, consignments=chunk))
    return found


def _idle_carriers(connection: Connection, facility: str, containers: set[str]) -> set[str]:
    """Give the carts and outer bags known as such: a trip more changes no row of their own.

    A cart makes thousands of trips. Only a registration as waste, or an amendment that may take
    the trips back, is a reason to look at it anew.
    """
    return known(connection, facility, containers, state="carrying")


def _of_repeated(
    connection: Connection, facility: str, outcomes: list[Outcome], on_record: dict[UUID, Entry]
) -> list[Violation]:
    """Give what is flagged of the containers of repeated events: their sender may not know yet."""
    again = (on_record[o.id].event for o in outcomes if o.id and o.outcome == "repeated")
    return violations_of(connection, facility, {c for event in again for c in event.named()})


def _by_event(violations: list[Violation]) -> dict[UUID, list[Violation]]:
    """Give the violations by each event that shows them."""
    found: dict[UUID, list[Violation]] = defaultdict(list)
    for violation in violations:
        for event_id in violation.evidence:
            found[event_id].append(violation)
    return found


def _with_violations(
    outcome: Outcome, on_record: dict[UUID, Entry], shown: dict[UUID, list[Violation]]
) -> Outcome:
    """Put beside an event the violations that it shows.

    What an amendment brings to light is shown by the event that it corrects.
    """
    if outcome.id is None or outcome.outcome == "refused":
        return outcome
    entry = on_record[outcome.id]
    event = entry.event
    told = shown.get(event.supersedes if isinstance(event, Amended) else event.id, ())
    return replace(outcome, violations=tuple(told), recorded_at=entry.recorded_at)
