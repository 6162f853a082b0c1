"""The officer's desk: what is late, wrong, unsafe or lost now, the most urgent first."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Row

from service.custody.verdict import Code, Violation
from service.custody.words import Severity
from service.duties.access import Caller, demand
from service.store.store import Store
from service.store.urgency import UrgentFilter, urgent, urgent_counts

URGENCY = (Severity.UNSAFE, Severity.LOST, Severity.WRONG, Severity.LATE)
"""Somebody can be hurt; something can reach somebody; something is not as it must be; time."""
ROWS = 50


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the officer looks for; None is for any. Pages count from 1."""

    severity: Severity | None = None
    code: Code | None = None
    unit: str | None = None
    party: str | None = None
    page: int = 1


@dataclass(frozen=True, slots=True)
class Standing:
    """A violation that stands, with its container as it is now: a row of the list."""

    violation: Violation
    container: Row[Any]


@dataclass(frozen=True, slots=True)
class DeskView:
    """The list and the counts.

    Attributes:
        severities: How many stand in all, by severity, the most urgent first.
        codes: The same by code, for the severity that is looked for, if one is.
        found: How many fit what is looked for; ``rows`` is a page of them.
    """

    severities: dict[Severity, int]
    codes: dict[Code, int]
    found: int
    rows: Sequence[Standing]
    page: int
    pages: int


def desk(store: Store, caller: Caller, wanted: Wanted, now: datetime) -> DeskView:
    """Give what stands now, as far as the caller's scope reaches; a page too far is the last."""
    demand(caller, "list_violations")
    fits = UrgentFilter(
        at=now,
        order=URGENCY,
        severity=wanted.severity,
        code=wanted.code,
        unit=wanted.unit,
        custodian=wanted.party,
        limit=ROWS,
    )
    with store.viewing() as connection:
        everything = replace(fits, severity=None, code=None, unit=None, custodian=None)
        every = urgent_counts(connection, caller.facility, everything, caller.scope)
        fitting = urgent_counts(connection, caller.facility, fits, caller.scope)
        found = sum(count for *_, count in fitting)
        pages = max(1, -(-found // ROWS))
        page = min(max(1, wanted.page), pages)
        shown = replace(fits, skip=(page - 1) * ROWS)
        rows = urgent(connection, caller.facility, shown, caller.scope)
    by_severity: Counter[str] = Counter()
    by_code: Counter[str] = Counter()
    for severity, code, count in every:
        by_severity[severity] += count
        if wanted.severity in (None, severity):
            by_code[code] += count
    return DeskView(
        {severity: by_severity[severity] for severity in URGENCY},
        {Code(code): count for code, count in by_code.most_common()},
        found,
        [Standing(violation, row) for violation, row in rows],
        page,
        pages,
    )
