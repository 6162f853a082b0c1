"""Cycles of machines as a projection: what each proves, and the register of spore tests.

A cycle's row is worked out from its own entries, the bytes of its traces, and what ran and was
tested on its machine around it; the histories of what was in it are folded with it.
"""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import partial
from typing import Any, NamedTuple
from uuid import UUID

from pydantic import TypeAdapter
from sqlalchemy import ColumnElement, Connection, and_, delete, or_, select

from service.custody.cycles import Cycle, fold_cycle, fold_register, prove, subjects
from service.custody.events import Amended, Entry
from service.custody.proof import Around, Other, Proof, SporeTest
from service.custody.rules import Rules
from service.store.cycle_tables import BEARING, CYCLE, LOADED, SPORE, TRACE
from service.store.entries import Entries, chunks
from service.store.rows import insert_rows
from service.treatment.cycles import TraceJudge

_PROOF: TypeAdapter[Proof] = TypeAdapter(Proof)
TRACES_AT_ONCE = 50
"""A trace may have a megabyte."""
OF_CYCLE, OF_MACHINE, OF_TRACE = "cycle", "machine", "trace"


class Touched(NamedTuple):
    """What entries bear on, and is to be folded anew."""

    containers: set[str]
    cycles: set[str]
    machines: set[str]


def trace_bytes(connection: Connection, facility: str, sha256: str) -> bytes | None:
    """Give the bytes of a trace, or None where they are not on record."""
    asked = select(TRACE.c.content).where(TRACE.c.facility == facility, TRACE.c.sha256 == sha256)
    found: bytes | None = connection.execute(asked).scalar()
    return found


def traces_of(
    connection: Connection, facility: str, hashes: Iterable[str]
) -> Iterator[tuple[str, bytes]]:
    """Give those of the traces that are on record, hash and bytes, in the order of the hashes."""
    for chunk in chunks(sorted(hashes), TRACES_AT_ONCE):
        asked = select(TRACE.c.sha256, TRACE.c.content).where(
            TRACE.c.facility == facility, TRACE.c.sha256.in_(chunk)
        )
        yield from sorted((row.sha256, row.content) for row in connection.execute(asked))


def index_subjects(
    connection: Connection,
    facility: str,
    family: Mapping[int, Entry],
    originals: Mapping[UUID, Entry],
) -> tuple[set[str], set[str]]:
    """Write which cycles and machines the entries bear on, amendments anew; give them."""
    rows: set[tuple[str, str, int]] = set()
    again: list[int] = []
    for seq, entry in family.items():
        event, original = entry.event, None
        if isinstance(event, Amended):
            again.append(seq)
            original = originals.get(event.supersedes)
        told = subjects(entry, original)
        rows |= {(OF_CYCLE, cycle, seq) for cycle in told.cycles}
        rows |= {(OF_MACHINE, machine, seq) for machine in told.machines}
        rows |= {(OF_TRACE, sha256, seq) for sha256 in told.traces}
    names = {(subject, name) for subject, name, _ in rows}
    for chunk in chunks(names if again else ()):
        same = or_(*(and_(BEARING.c.subject == s, BEARING.c.name == n) for s, n in chunk))
        mine = and_(BEARING.c.facility == facility, same)
        for some in chunks(again):
            connection.execute(delete(BEARING).where(mine, BEARING.c.seq.in_(some)))
    insert_rows(
        connection,
        BEARING,
        [{"facility": facility, "subject": s, "name": n, "seq": seq} for s, n, seq in sorted(rows)],
    )
    return (
        {name for subject, name in names if subject == OF_CYCLE},
        {name for subject, name in names if subject == OF_MACHINE},
    )


def project_cycles(
    connection: Connection, facility: str, rules: Rules, reader: Entries, touched: Touched
) -> set[str]:
    """Work out anew the cycles that are touched, and give what was in them, to be refolded."""
    if not touched.cycles and not touched.machines:
        return set()
    made = _Projecting(connection, facility, rules, reader)
    return made.project(touched.cycles, touched.machines)


def proofs(connection: Connection, facility: str, cycles: Iterable[str]) -> dict[str, Proof]:
    """Give what the cycles prove, by number, those of which anything is on record."""
    written = _written(connection, facility, cycles)
    return {cycle: proof_of(text) for cycle, text in written.items()}


def _written(connection: Connection, facility: str, cycles: Iterable[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for chunk in chunks(sorted(cycles)):
        asked = select(CYCLE.c.cycle, CYCLE.c.proof).where(
            CYCLE.c.facility == facility, CYCLE.c.cycle.in_(chunk)
        )
        found |= {row.cycle: row.proof for row in connection.execute(asked)}
    return found


def proof_of(text: str) -> Proof:
    """Read a proof from its row."""
    return _PROOF.validate_json(text)


def load_of(connection: Connection, facility: str, cycles: Iterable[str]) -> set[str]:
    """Give the containers that were in any of the cycles."""
    found: set[str] = set()
    for chunk in chunks(sorted(cycles)):
        asked = select(LOADED.c.container).where(
            LOADED.c.facility == facility, LOADED.c.cycle.in_(chunk)
        )
        found |= set(connection.execute(asked).scalars())
    return found


def entries_of(
    connection: Connection, facility: str, reader: Entries, subject: str, name: str
) -> dict[int, Entry]:
    """Give the entries that bear on a cycle or a register, and the kin of amendments, by number."""
    asked = select(BEARING.c.seq).where(
        BEARING.c.facility == facility, BEARING.c.subject == subject, BEARING.c.name == name
    )
    held = reader.by_seq(list(connection.execute(asked).scalars()))
    corrects = {e.event.supersedes for e in held.values() if isinstance(e.event, Amended)}
    kin = (*reader.by_id(corrects).values(), *reader.amending(corrects)) if corrects else ()
    return held | dict(kin)


def around(
    connection: Connection,
    facility: str,
    machine: str,
    cycle: str,
    started_at: datetime,
    ended_at: datetime,
) -> Around:
    """Give what the machine's register has around a cycle."""
    s, c = SPORE.c, CYCLE.c
    tests = select(SPORE).where(s.facility == facility, s.machine == machine)
    before = tests.where(s.at <= started_at).order_by(s.at.desc(), s.event.desc()).limit(1)
    after = tests.where(s.at > started_at).order_by(s.at, s.event).limit(1)
    others = select(c.cycle, c.started_at, c.ended_at, c.run).where(
        c.facility == facility,
        c.machine == machine,
        c.cycle != cycle,
        c.started_at < ended_at,
        c.ended_at > started_at,
    )
    return Around(
        _test(connection.execute(before).first()),
        _test(connection.execute(after).first()),
        tuple(
            Other(r.cycle, r.started_at, r.ended_at, UUID(r.run))
            for r in connection.execute(others.order_by(c.started_at, c.cycle))
        ),
    )


def register(connection: Connection, facility: str, machine: str) -> list[SporeTest]:
    """Give the spore tests of a machine in order."""
    mine = and_(SPORE.c.facility == facility, SPORE.c.machine == machine)
    rows = connection.execute(select(SPORE).where(mine).order_by(SPORE.c.at, SPORE.c.event))
    return [SporeTest(r.at, UUID(r.event), r.grew) for r in rows]


def keep_traces(connection: Connection, facility: str, traces: Mapping[str, bytes]) -> set[str]:
    """Keep the bytes of traces once; give the cycles on record that waited for them."""
    held: set[str] = set()
    for chunk in chunks(traces):
        asked = select(TRACE.c.sha256).where(
            TRACE.c.facility == facility, TRACE.c.sha256.in_(chunk)
        )
        held |= set(connection.execute(asked).scalars())
    fresh = {sha256: content for sha256, content in traces.items() if sha256 not in held}
    rows = [{"facility": facility, "sha256": s, "content": c} for s, c in fresh.items()]
    insert_rows(connection, TRACE, rows)
    reader, waited = Entries(connection, facility), set[str]()
    for sha256 in fresh:
        told = entries_of(connection, facility, reader, OF_TRACE, sha256)
        originals = {e.event.id: e for e in told.values()}
        for entry in told.values():
            event = entry.event
            original = originals.get(event.supersedes) if isinstance(event, Amended) else None
            waited |= subjects(entry, original).cycles
    return waited


def _test(row: Any) -> SporeTest | None:
    return SporeTest(row.at, UUID(row.event), row.grew) if row is not None else None


class _Projecting:
    """One working out of cycles: spans and registers first, then what each proves."""

    def __init__(
        self, connection: Connection, facility: str, rules: Rules, reader: Entries
    ) -> None:
        self._connection = connection
        self._facility = facility
        self._rules = rules
        self._reader = reader
        self._judge = TraceJudge(partial(trace_bytes, connection, facility))

    def project(self, cycles: set[str], machines: set[str]) -> set[str]:
        """Rewrite the rows of the cycles and of all that they or the machines' tests bear on.

        Gives what was in those that prove something else now: the others bear on nothing anew.
        """
        before = _written(self._connection, self._facility, cycles)
        spans = self._spans(cycles)
        folded = {cycle: self._fold(cycle) for cycle in sorted(cycles)}
        self._write([_row(self._facility, c) for c in folded.values()], cycles)
        spans += self._spans(cycles)
        affected = cycles | self._near(spans)
        for machine in sorted(machines):
            affected |= self._register(machine)
        before |= _written(self._connection, self._facility, affected - cycles)
        rows = []
        for cycle in sorted(affected):
            one = folded.get(cycle) or self._fold(cycle)
            near = Around()
            if one.run and one.started_at and one.ended_at:
                near = around(
                    self._connection, self._facility, one.run.machine, cycle,
                    one.started_at, one.ended_at,
                )  # fmt: skip
            proof = prove(one, near, self._rules, self._judge)
            rows.append(_row(self._facility, one, proof))
        changed = {row["cycle"] for row in rows if row["proof"] != before.get(row["cycle"])}
        anew = cycles | changed
        self._write([row for row in rows if row["cycle"] in anew], anew)
        return load_of(self._connection, self._facility, changed)

    def _fold(self, cycle: str) -> Cycle:
        held = entries_of(self._connection, self._facility, self._reader, OF_CYCLE, cycle)
        return fold_cycle(cycle, held.values())

    def _write(self, rows: Sequence[dict[str, Any]], cycles: Iterable[str]) -> None:
        for chunk in chunks(sorted(cycles)):
            mine = and_(CYCLE.c.facility == self._facility, CYCLE.c.cycle.in_(chunk))
            self._connection.execute(delete(CYCLE).where(mine))
        insert_rows(self._connection, CYCLE, list(rows))

    def _spans(self, cycles: Iterable[str]) -> list[tuple[str, datetime, datetime]]:
        """When the cycles ran on which machine, as their rows have it."""
        found: list[tuple[str, datetime, datetime]] = []
        for chunk in chunks(sorted(cycles)):
            c = CYCLE.c
            asked = select(c.machine, c.started_at, c.ended_at).where(
                c.facility == self._facility, c.cycle.in_(chunk), c.machine.is_not(None)
            )
            found += ((r[0], r[1], r[2]) for r in self._connection.execute(asked))
        return found

    def _near(self, spans: Iterable[tuple[str, datetime, datetime]]) -> set[str]:
        """The cycles that ran at the same time on the same machine."""
        c = CYCLE.c
        return self._where(
            and_(c.machine == machine, c.started_at < ended_at, c.ended_at > started_at)
            for machine, started_at, ended_at in set(spans)
        )

    def _where(self, conditions: Iterable[ColumnElement[bool]]) -> set[str]:
        found: set[str] = set()
        for chunk in chunks(conditions, 100):
            asked = select(CYCLE.c.cycle).where(CYCLE.c.facility == self._facility, or_(*chunk))
            found |= set(self._connection.execute(asked).scalars())
        return found

    def _register(self, machine: str) -> set[str]:
        """Rewrite a register; give the cycles whose last or next test may be another now."""
        mine = and_(SPORE.c.facility == self._facility, SPORE.c.machine == machine)
        old = register(self._connection, self._facility, machine)
        held = entries_of(self._connection, self._facility, self._reader, OF_MACHINE, machine)
        new = fold_register(machine, held.values())
        self._connection.execute(delete(SPORE).where(mine))
        insert_rows(
            self._connection,
            SPORE,
            [
                {"facility": self._facility, "machine": machine, "at": t.at,
                 "event": str(t.event), "grew": t.grew}
                for t in new
            ],
        )  # fmt: skip
        changed = {t.at for t in set(old) ^ set(new)}
        if not changed:
            return set()
        same = {t.at for t in set(old) & set(new)}
        earlier = max((at for at in same if at < min(changed)), default=None)
        later = min((at for at in same if at > max(changed)), default=None)
        c = CYCLE.c
        between = [c.machine == machine]
        between += [c.started_at >= earlier] if earlier else []
        between += [c.started_at <= later] if later else []
        return self._where([and_(*between)])


def _row(facility: str, cycle: Cycle, proof: Proof | None = None) -> dict[str, Any]:
    run = cycle.run
    said = _PROOF.dump_python(proof, mode="json") if proof else None
    return {
        "facility": facility,
        "cycle": cycle.id,
        "machine": run.machine if run else None,
        "party": run.party if run else None,
        "step": run.step.value if run else None,
        "started_at": cycle.started_at,
        "ended_at": cycle.ended_at,
        "run": str(run.id) if run else None,
        "outcome": proof.outcome if proof else "",
        "proof": json.dumps(said, ensure_ascii=False, sort_keys=True),
    }
