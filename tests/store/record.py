"""A store on a real file, and its rows as plain values: as kept, and as a fold of all should be."""

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from itertools import count
from pathlib import Path
from secrets import token_hex
from typing import Any

from sqlalchemy import Table, select

from service.custody.cycles import proofs
from service.custody.events import Amended, Entry
from service.custody.history import fold, with_proofs
from service.custody.rules import Rules
from service.custody.site import Site
from service.custody.standing import stand
from service.custody.violations import judge
from service.store.cycle_tables import BEARING, CYCLE, LOADED, SPORE
from service.store.projections import carried, container_row, stay_rows, violation_row
from service.store.store import Store
from service.store.tables import CARRIED, CONSIGNED, CONTAINER, NAMED, RECORD, STAY, VIOLATION
from service.treatment.cycles import TraceJudge
from tests.house import HOSPITAL
from tests.machines import MACHINES

SET_UP_AT = datetime(2026, 1, 1, tzinfo=UTC)
LABEL_KEY = b"k" * 32
DERIVED = {
    "container": CONTAINER, "stay": STAY, "carried": CARRIED, "violation": VIOLATION,
    "cycle": CYCLE, "loaded": LOADED, "spore": SPORE,
}  # fmt: skip
INDEXES = {"named": NAMED, "consigned": CONSIGNED, "bearing": BEARING}
ELSEWHERE = {"cycle", "spore"}
"""Rows that a fold of containers does not give."""
_RUN = token_hex(4)  # a database that outlives the run has the facilities of others
_numbers = count(1)

Rows = dict[str, list[tuple[Any, ...]]]


def on_file(folder: Path) -> Store:
    """A store on a file of its own."""
    return Store(f"sqlite:///{folder / 'record.sqlite3'}")


def site(facility: str, **said: Any) -> Site:
    """The invented hospital under another id, under the Indian rules."""
    usual = {"id": facility, "regime": "india-2016", "machine": MACHINES}
    return Site.model_validate(HOSPITAL | usual | said)


def new_facility(store: Store, **said: Any) -> str:
    """Set up one more facility in the same database: none sees the others."""
    facility = f"house-{_RUN}-{next(_numbers)}"
    store.set_up(site(facility, **said), SET_UP_AT, LABEL_KEY)
    return facility


def rows(store: Store, facility: str, table: Table) -> list[Any]:
    """Every row of a table that belongs to the facility."""
    with store.reading() as connection:
        return list(connection.execute(select(table).where(table.c.facility == facility)))


def record(store: Store, facility: str) -> list[Any]:
    """The rows of the record in order of arrival."""
    return sorted(rows(store, facility, RECORD), key=lambda row: row.seq)


def kept(store: Store, facility: str) -> Rows:
    """The rows of every projection, without the facility; entries are named by their event's id."""
    ids = {row.seq: row.id for row in record(store, facility)}
    found = {name: rows(store, facility, table) for name, table in DERIVED.items()}
    written = {name: _plain(r._mapping for r in held) for name, held in found.items()}
    for name, table in INDEXES.items():
        held = [dict(r._mapping) for r in rows(store, facility, table)]
        written[name] = _plain(r | {"seq": ids[r["seq"]]} for r in held)
    return written


def exactly(store: Store, facility: str) -> Rows:
    """The rows of every projection as they are, numbers of entries included."""
    return {
        name: sorted((tuple(r) for r in rows(store, facility, table)), key=repr)
        for name, table in (DERIVED | INDEXES).items()
    }


def folded(entries: Sequence[Entry], rules: Rules) -> Rows:
    """The rows that folding and judging all entries in memory gives; no trace is at hand."""
    found: dict[str, list[dict[str, Any]]] = {name: [] for name in DERIVED.keys() - ELSEWHERE}
    proved = proofs(entries, rules, TraceJudge(lambda _: None))
    for container in sorted(named(entries)):
        history = with_proofs(fold(container, entries), proved)
        if history.carries and history.registered is None:
            row = dict.fromkeys(column.name for column in CONTAINER.columns)
            said = {"state": "carrying", "steps": "", "next_acts": "", "carries": True}
            found["container"].append(row | said | {"container": container})
            continue
        found["container"].append(container_row("", stand(history, rules)))
        found["stay"] += stay_rows("", history)
        found["carried"] += carried("", history)
        found["loaded"] += ({"cycle": c, "container": container} for c in history.cycles)
        found["violation"] += (violation_row("", n, v) for n, v in enumerate(judge(history, rules)))
    return {name: _plain(held) for name, held in found.items()}


def named(entries: Iterable[Entry]) -> set[str]:
    """Every container that an entry speaks of."""
    found: set[str] = set()
    for entry in entries:
        found.update(entry.event.named())
        if isinstance(entry.event, Amended) and entry.event.corrected is not None:
            found.update(entry.event.corrected.named())
    return found


def _plain(held: Iterable[Any]) -> list[tuple[Any, ...]]:
    without = (tuple((k, v) for k, v in sorted(r.items()) if k != "facility") for r in held)
    return sorted(without, key=repr)
