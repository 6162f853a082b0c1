"""Which older entries the proofs of cycles rest on, asked for many cycles at once."""

from collections.abc import Collection, Iterable
from typing import Any
from uuid import UUID

from sqlalchemy import Column, ColumnElement, Connection, and_, select

from service.custody.proof import Other, Register
from service.store.cycle_tables import BEARING, CYCLE
from service.store.cycles import OF_CYCLE, register
from service.store.entries import chunks
from service.store.tables import RECORD


def bearing_on(
    connection: Connection, facility: str, cycles: Collection[str], until: int
) -> set[int]:
    """Give the numbers up to ``until`` of the entries that the cycles' proofs rest on."""
    if not until or not cycles:
        return set()
    r = RECORD.c
    bearing = _numbers(connection, BEARING.c.name, cycles, facility, BEARING.c.subject == OF_CYCLE)
    amended = select(r.supersedes).where(r.facility == facility, r.supersedes.is_not(None))
    ids = _beside(connection, facility, cycles)
    for chunk in chunks(bearing):
        ids |= set(connection.execute(amended.where(r.seq.in_(chunk))).scalars())
    told = (_numbers(connection, key, ids, facility) for key in (r.id, r.supersedes))
    return {seq for seq in bearing.union(*told) if seq <= until}


def _numbers(
    connection: Connection,
    key: Column[Any],
    values: Iterable[str],
    facility: str,
    *conditions: ColumnElement[bool],
) -> set[int]:
    """Give the numbers of the entries whose key is one of the values."""
    table, found = key.table.c, set[int]()
    for chunk in chunks(values):
        asked = select(table.seq).where(table.facility == facility, key.in_(chunk), *conditions)
        found |= set(connection.execute(asked).scalars())
    return found


def _beside(connection: Connection, facility: str, cycles: Iterable[str]) -> set[str]:
    """Give the events that tell of what the machines' registers have around cycles.

    It is what ``cycles.around`` gives of each; asked one by one, a quarter would take longer than
    all the rest of its reckoning.
    """
    c, found = CYCLE.c, set[str]()
    span = select(c.machine, c.started_at, c.ended_at, c.cycle, c.run)
    for chunk in chunks(cycles):
        known = and_(c.facility == facility, c.started_at.is_not(None), c.ended_at.is_not(None))
        mine = connection.execute(span.where(known, c.cycle.in_(chunk))).all()
        for machine in {row.machine for row in mine}:
            here = [row for row in mine if row.machine == machine]
            first, last = min(r.started_at for r in here), max(r.ended_at for r in here)
            meanwhile = and_(c.machine == machine, c.started_at < last, c.ended_at > first)
            ran = connection.execute(span.where(known, meanwhile)).all()
            runs = (Other(r.cycle, r.started_at, r.ended_at, UUID(r.run)) for r in ran)
            kept = Register(register(connection, facility, machine), runs)
            for row in here:
                near = kept.around(row.cycle, row.started_at, row.ended_at)
                beside = (near.before, near.after, *near.others)
                found.update(str(each.event) for each in beside if each is not None)
    return found
