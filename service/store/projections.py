"""Projections: containers as they stand, stays and violations, derived from the entries alone."""

import json
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Table, bindparam, delete, select

from service.custody.events import Entry
from service.custody.history import History, fold
from service.custody.journeys import journeys
from service.custody.rules import Rules
from service.custody.standing import Standing, stand_case
from service.custody.verdict import Case, Code, Violation
from service.custody.violations import judge_case
from service.custody.words import Severity
from service.store.cycle_tables import LOADED
from service.store.entries import Entries, chunks
from service.store.gathering import histories, known
from service.store.rows import Statement, among, insert_rows
from service.store.tables import CARRIED, CONTAINER, STAY, VIOLATION

_OURS = VIOLATION.c.facility == bindparam("facility"), among(VIOLATION.c.container, "containers")
_BEFORE = Statement(
    select(
        VIOLATION.c.container, VIOLATION.c.code, VIOLATION.c.opened_at, VIOLATION.c.message
    ).where(*_OURS)
)
_IN_ORDER = Statement(
    select(VIOLATION).where(*_OURS).order_by(VIOLATION.c.container, VIOLATION.c.number)
)
_CLEARING = {
    table: Statement(
        delete(table).where(table.c.facility == bindparam("facility"), among(key, "containers"))
    )
    for table, key in (
        (CONTAINER, CONTAINER.c.container),
        (STAY, STAY.c.child),
        (CARRIED, CARRIED.c.container),
        (LOADED, LOADED.c.container),
        (VIOLATION, VIOLATION.c.container),
    )
}
"""What is written anew of a container, and how its old rows go."""


def project(
    connection: Connection,
    facility: str,
    rules: Rules,
    reader: Entries,
    containers: Collection[str],
) -> list[Violation]:
    """Refold the containers and replace their rows; give the violations that were not there."""
    held = known(connection, facility, containers)  # who has a row of any kind has one as such
    before = _violations_before(connection, facility, held)
    now: dict[Table, list[dict[str, Any]]] = {table: [] for table in _CLEARING}
    new: list[Violation] = []
    for history in histories(connection, facility, reader, containers).values():
        if history.carries and history.registered is None:
            now[CONTAINER].append(_carrier_row(facility, history.container))
            continue
        case = Case(history, rules)
        found = judge_case(case)
        now[CONTAINER].append(container_row(facility, stand_case(case)))
        now[STAY] += stay_rows(facility, history)
        now[CARRIED] += carried(facility, history)
        now[LOADED] += (
            {"facility": facility, "cycle": cycle, "container": history.container}
            for cycle in history.cycles
        )
        now[VIOLATION] += (violation_row(facility, n, v) for n, v in enumerate(found))
        new += (v for v in found if (v.container, v.code, v.opened_at, v.message) not in before)
    for table, rows in now.items():
        for chunk in chunks(held):
            _CLEARING[table].run(connection, facility=facility, containers=chunk)
        insert_rows(connection, table, rows)
    return new


def project_blank(
    connection: Connection, facility: str, rules: Rules, blank: Mapping[str, Entry]
) -> None:
    """Write the rows of containers known by nothing but the one entry that printed their labels.

    Rolls are printed by the thousand: what is so of one label of an entry is so of them all.
    """
    rows: dict[UUID, dict[str, Any]] = {}
    for container, entry in blank.items():
        if entry.event.id not in rows:
            standing = stand_case(Case(fold(container, [entry]), rules))
            rows[entry.event.id] = container_row(facility, standing)
    of_all = ((c, rows[e.event.id]) for c, e in blank.items())
    insert_rows(connection, CONTAINER, [row | {"container": c} for c, row in of_all])


def violations_of(
    connection: Connection, facility: str, containers: Collection[str]
) -> list[Violation]:
    """Give all violations of the containers, in the order in which a judgement gives them."""
    found: list[Violation] = []
    for chunk in chunks(sorted(containers)):
        rows = _IN_ORDER.rows(connection, facility=facility, containers=chunk)
        found += map(violation_of, rows)
    return found


def _violations_before(
    connection: Connection, facility: str, containers: Collection[str]
) -> set[tuple[str, str, datetime, str]]:
    found: set[tuple[str, str, datetime, str]] = set()
    for chunk in chunks(containers):
        found |= {*_BEFORE.rows(connection, facility=facility, containers=chunk)}
    return found


def _carrier_row(facility: str, container: str) -> dict[str, Any]:
    """A cart has its row once and for all: where it is now is read from its entries when asked."""
    row = dict.fromkeys(column.name for column in CONTAINER.columns)
    empty = {"state": "carrying", "steps": "", "next_acts": "", "carries": True}
    return row | empty | {"facility": facility, "container": container}


def container_row(facility: str, s: Standing) -> dict[str, Any]:
    """Give the row of a container as it stands."""
    return {
        "facility": facility,
        "container": s.container,
        "state": s.state,
        "category": s.category,
        "unit": s.unit,
        "kind": s.kind.value if s.kind else None,
        "weight_g": s.weight_g,
        "scale": s.scale,
        "received_g": s.received_g,
        "received_scale": s.received_scale,
        "sealed_at": s.sealed_at,
        "custodian": s.custodian,
        "since": s.since,
        "place": s.place,
        "condition": s.condition.value if s.condition else None,
        "parent": s.parent,
        "consignment": s.consignment,
        "steps": " ".join(step.value for step in s.steps),
        "outlet": s.outlet.value if s.outlet else None,
        "next_acts": " ".join(act.value for act in s.next_acts),
        "due_at": s.due_at,
        "closed_at": s.closed_at,
        "carries": s.carries,
    }


def stay_rows(facility: str, history: History) -> list[dict[str, Any]]:
    """Give a row for each stay; a stay that began twice in one instant is one."""
    stays = {(s.parent, s.from_at): s for s in history.stays}
    return [
        {
            "facility": facility,
            "parent": s.parent,
            "child": history.container,
            "from_at": s.from_at,
            "until_at": s.until_at,
        }
        for s in stays.values()
    ]


def carried(facility: str, history: History) -> list[dict[str, Any]]:
    """Give a row for each journey."""
    rows = {
        (j.departure.consignment, j.left_at): {
            "facility": facility,
            "consignment": j.departure.consignment,
            "container": history.container,
            "left_at": j.left_at,
            "carrier": j.departure.carrier,
            "consignee": j.departure.consignee,
            "vehicle": j.departure.vehicle,
            "seal": j.departure.seal,
            "sent_g": j.sent_g,
            "end": j.end.event.kind if j.end else None,
            "ended_at": j.end.at if j.end else None,
            "ended_by": j.ended_by,
            "seal_received": j.receipt.seal if j.receipt else None,
            "received_g": j.received_g,
        }
        for j in journeys(history)
    }
    return list(rows.values())


def violation_row(facility: str, number: int, v: Violation) -> dict[str, Any]:
    """Give the row of a violation."""
    return {
        "facility": facility,
        "container": v.container,
        "number": number,
        "code": v.code.value,
        "severity": v.severity.value,
        "opened_at": v.opened_at,
        "closed_at": v.closed_at,
        "clause": v.clause,
        "evidence": json.dumps([str(i) for i in v.evidence]),
        "message": v.message,
        "next_action": v.next_action,
        "notified_at": v.notified_at,
    }


def violation_of(row: Any) -> Violation:
    """Give the violation of a row."""
    return Violation(
        Code(row.code),
        Severity(row.severity),
        row.container,
        row.opened_at,
        row.closed_at,
        row.clause,
        tuple(UUID(i) for i in json.loads(row.evidence)),
        row.message,
        row.next_action,
        row.notified_at,
    )
