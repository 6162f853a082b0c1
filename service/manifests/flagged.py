"""Violations as the quarter sees them: brought forward, opened, closed, standing at its end."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from service.custody.regime import Regime, Row
from service.custody.rules import Rules
from service.custody.verdict import CATALOGUE, Code, Violation
from service.custody.words import Severity
from service.manifests.tally import Period

GROUND = {
    "read": "read in an excerpt of the text",
    "memory": "from memory of the published text",
    "policy": "house policy or common practice",
}
"""What a row's way of checking means to a reader of the paper."""


class Flagged(NamedTuple):
    """A violation that opened in the quarter or stood at its start.

    Attributes:
        brought_forward: It stood when the quarter began.
        closed_at: When it closed, as far as known at the moment of the reckoning.
        closed_in: It closed before the quarter, or its passed part, ended.
        ground: How the clause it rests on was checked.
    """

    violation: Violation
    category: str
    unit: str
    brought_forward: bool
    closed_at: datetime | None
    closed_in: bool
    ground: str


@dataclass(frozen=True, slots=True)
class CodeCount:
    """How often one rule was not kept: brought forward + opened - closed = standing.

    A rule whose violations differ in severity, as the regime's rows say, is counted once for each;
    the number is the rule's and so the same.
    """

    number: int
    code: Code
    severity: Severity
    next_action: str
    brought_forward: int
    opened: int
    closed: int

    @property
    def standing(self) -> int:
        """How many still stand at the quarter's end."""
        return self.brought_forward + self.opened - self.closed


def concerns(violation: Violation, period: Period) -> bool:
    """Say whether it opened in the quarter's passed part, or stood when the quarter began."""
    return violation.opened_at < period.until and (
        violation.opened_at >= period.start
        or violation.closed_at is None
        or violation.closed_at >= period.start
    )


class Grounds:
    """How the clauses of a regime were checked, by the clause as violations cite it."""

    def __init__(self, rules: Rules) -> None:
        self._by_clause: dict[str, str] = {}
        for row in _rows(rules.regime):
            clause = rules.cite(row)
            if self._by_clause.get(clause) != "memory":
                self._by_clause[clause] = row.verified

    def of(self, clause: str) -> str:
        """Say in words how the clause was checked; what is no clause is common practice."""
        return GROUND[self._by_clause.get(clause, "policy")]


def _rows(regime: Regime) -> Iterable[Row]:
    tables: tuple[Iterable[Row], ...] = (
        regime.holding, regime.store_band, regime.route, regime.denied, regime.packing,
        regime.time, regime.weight, regime.container, regime.category, regime.notice,
    )  # fmt: skip
    return (row for table in tables for row in table)


def flagged(violation: Violation, category: str, unit: str, period: Period, ground: str) -> Flagged:
    """Lay a violation over the quarter."""
    closed_at = violation.closed_at
    return Flagged(
        violation,
        category,
        unit,
        violation.opened_at < period.start,
        closed_at if closed_at is not None and closed_at <= period.now else None,
        closed_at is not None and closed_at < period.until,
        ground,
    )


def counts(violations: Iterable[Flagged]) -> tuple[CodeCount, ...]:
    """Count by code and severity, in the order of the catalogue; numbers are of this manifest."""
    of: Counter[tuple[Code, Severity]] = Counter()
    forward: Counter[tuple[Code, Severity]] = Counter()
    closed: Counter[tuple[Code, Severity]] = Counter()
    for f in violations:
        key = f.violation.code, f.violation.severity
        of[key] += 1
        forward[key] += f.brought_forward
        closed[key] += f.closed_in
    met = {code for code, _ in of}
    numbers = {code: n for n, code in enumerate((c for c in CATALOGUE if c in met), 1)}
    return tuple(
        CodeCount(
            numbers[code],
            code,
            severity,
            CATALOGUE[code][1],
            forward[code, severity],
            of[code, severity] - forward[code, severity],
            closed[code, severity],
        )
        for code in numbers
        for severity in Severity
        if (code, severity) in of
    )
