"""Questions about cycles: what they prove, what was in them, and their traces."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from sqlalchemy import ColumnElement, Connection, false, select

from service.access.caller import Scope
from service.custody.cycles import Cycle, fold_cycle
from service.custody.proof import Around, Proof, SporeTest
from service.store import cycles as projected
from service.store.cycle_tables import CYCLE
from service.store.cycles import (
    OF_CYCLE,
    entries_of,
    load_of,
    proof_of,
    proofs,
    register,
    trace_bytes,
)
from service.store.entries import Entries, chunks


class Run(NamedTuple):
    """On which machine a cycle ran, and of whom."""

    machine: str
    party: str


@dataclass(frozen=True, slots=True)
class CycleFilter:
    """Which cycles are asked for; None asks for any.

    Attributes:
        after: The number after which the page starts.
        latest: The latest first, and no page after it.
    """

    machine: str | None = None
    outcome: str | None = None
    after: str | None = None
    latest: bool = False
    limit: int = 100


def cycles(connection: Connection, facility: str, asked: CycleFilter, scope: Scope) -> list[Proof]:
    """Give cycles of which a run is on record, by number or the latest first."""
    c = CYCLE.c
    conditions: list[ColumnElement[bool]] = [c.facility == facility, c.run.is_not(None)]
    if not scope.whole:
        parties = sorted(scope.parties)
        conditions.append(c.party.in_(parties) if parties else false())
    if asked.machine is not None:
        conditions.append(c.machine == asked.machine)
    if asked.outcome is not None:
        conditions.append(c.outcome == asked.outcome)
    if asked.after is not None:
        conditions.append(c.cycle > asked.after)
    order = (c.started_at.desc(), c.cycle) if asked.latest else (c.cycle,)
    rows = select(c.proof).where(*conditions).order_by(*order).limit(asked.limit)
    return [proof_of(text) for text in connection.execute(rows).scalars()]


def ran_on(connection: Connection, facility: str, names: Iterable[str]) -> dict[str, Run]:
    """Give machine and party of those of the cycles of which a run is on record."""
    c = CYCLE.c
    found: dict[str, Run] = {}
    for chunk in chunks(sorted(names)):
        asked = select(c.cycle, c.machine, c.party).where(
            c.facility == facility, c.cycle.in_(chunk), c.run.is_not(None)
        )
        found |= {r.cycle: Run(r.machine, r.party) for r in connection.execute(asked)}
    return found


def proof(connection: Connection, facility: str, cycle: str) -> Proof | None:
    """Give what a cycle proves, or None where nothing is on record about it."""
    return proofs(connection, facility, [cycle]).get(cycle)


def cycle(connection: Connection, facility: str, name: str) -> Cycle:
    """Fold one cycle."""
    reader = Entries(connection, facility)
    return fold_cycle(name, entries_of(connection, facility, reader, OF_CYCLE, name).values())


def load(connection: Connection, facility: str, name: str) -> tuple[str, ...]:
    """Give what was in a cycle."""
    return tuple(sorted(load_of(connection, facility, [name])))


def near(connection: Connection, facility: str, of: Proof) -> Around:
    """Give what the register has around a cycle."""
    if of.machine is None or of.started_at is None or of.ended_at is None:
        return Around()
    return projected.around(connection, facility, of.machine, of.cycle, of.started_at, of.ended_at)


def content(connection: Connection, facility: str, sha256: str) -> bytes | None:
    """Give the bytes of a trace."""
    return trace_bytes(connection, facility, sha256)


def spore_tests(connection: Connection, facility: str, machine: str, limit: int) -> list[SporeTest]:
    """Give the last spore tests of a machine, the latest first."""
    return register(connection, facility, machine)[::-1][:limit]
