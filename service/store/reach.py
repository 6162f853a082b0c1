"""How far a scope reaches into the record, as conditions of queries.

The rule is that of ``service.access.reading``.
"""

from collections.abc import Iterable
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    FromClause,
    and_,
    bindparam,
    exists,
    or_,
    select,
)

from service.access.caller import Scope
from service.store.entries import chunks
from service.store.rows import Statement, among
from service.store.tables import CARRIED, CONTAINER

_UNITS = Statement(
    select(CONTAINER.c.container, CONTAINER.c.unit).where(
        CONTAINER.c.facility == bindparam("facility"),
        among(CONTAINER.c.container, "containers"),
        CONTAINER.c.unit.is_not(None),
    )
)


def of_container(scope: Scope, table: FromClause = CONTAINER) -> list[ColumnElement[bool]]:
    """Give the conditions under which a row of containers is within a scope; none for the whole."""
    if scope.whole:
        return []
    c = table.c
    ways: list[ColumnElement[bool]] = [c.unit.is_(None)]
    if scope.units:
        ways.append(c.unit.in_(sorted(scope.units)))
    if scope.parties:
        ways += [c.custodian.in_(sorted(scope.parties)), _went_with(sorted(scope.parties), c)]
    return [or_(*ways)]


def _went_with(parties: list[str], c: Any) -> ColumnElement[bool]:
    """Whether a container was ever in a consignment carried by or to one of the parties.

    Its journeys are found by an index that has their keys alone, then each by its key: asked in
    one, SQLite would rather read all journeys of the facility, for every container anew.
    """
    key, went = CARRIED.alias("journey").c, CARRIED.alias("went").c
    same = [went[column.name] == key[column.name] for column in CARRIED.primary_key]
    with_them = exists().where(*same, or_(went.carrier.in_(parties), went.consignee.in_(parties)))
    mine = and_(key.facility == c.facility, key.container == c.container)
    return select(key.container).where(mine, with_them).exists()


def of_row(scope: Scope, row: Any) -> list[ColumnElement[bool]]:
    """Give the same for a row that is about a container, by the columns of its table."""
    if scope.whole:
        return []
    held = CONTAINER.alias("held")
    same = and_(held.c.facility == row.facility, held.c.container == row.container)
    return [exists().where(same, *of_container(scope, held))]


def units_of(connection: Connection, facility: str, containers: Iterable[str]) -> dict[str, str]:
    """Give the unit that each registered one of the containers is of."""
    found: dict[str, str] = {}
    for chunk in chunks(set(containers)):
        rows = _UNITS.rows(connection, facility=facility, containers=chunk)
        found |= {row.container: row.unit for row in rows}
    return found
