"""A calendar quarter: its limits in the facility's own time, and the returns due after it."""

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Self
from zoneinfo import ZoneInfo

from service.custody.regime import Regime, RetentionRule, ReturnRule

_WRITTEN = re.compile(r"([0-9]{4})-[Qq]([1-4])")
_YEARS = range(1900, 3000)
_LAST = 4


class QuarterError(ValueError):
    """What was given is no quarter; the message says how one is written."""


@dataclass(frozen=True, slots=True)
class ReturnDue:
    """A return that falls due after the quarter; ``due_on`` None is: the text names no day."""

    rule: ReturnRule
    period: str
    due_on: date | None


@dataclass(frozen=True, slots=True, order=True)
class Quarter:
    """Three calendar months; ``number`` is 1 to 4."""

    year: int
    number: int

    def __post_init__(self) -> None:
        if self.year not in _YEARS or self.number not in range(1, _LAST + 1):
            raise QuarterError(
                f"there is no quarter {self.number} of {self.year}: years run from "
                f"{_YEARS.start} to {_YEARS.stop - 1}, quarters from 1 to {_LAST}"
            )

    def __str__(self) -> str:
        return f"{self.year}-Q{self.number}"

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read a quarter as people write it, ``2026-Q3``.

        Raises:
            QuarterError: it is written otherwise.
        """
        found = _WRITTEN.fullmatch(text.strip())
        if found is None:
            raise QuarterError(f"'{text}' is not a quarter: write year and quarter as 2026-Q3")
        return cls(int(found[1]), int(found[2]))

    @classmethod
    def of(cls, instant: datetime, zone: ZoneInfo) -> Self:
        """Give the quarter in which the instant falls by the zone's own calendar.

        Raises:
            QuarterError: the instant does not say its offset from UTC.
        """
        if instant.tzinfo is None:
            raise QuarterError(f"{instant} says no offset from UTC: its quarter is not certain")
        local = instant.astimezone(zone)
        return cls(local.year, (local.month + 2) // 3)

    @property
    def first_day(self) -> date:
        """The first day of the quarter."""
        return date(self.year, 3 * self.number - 2, 1)

    @property
    def last_day(self) -> date:
        """The last day of the quarter."""
        return _month_end(self.year, 3 * self.number)

    def start(self, zone: ZoneInfo) -> datetime:
        """Give the first instant of the quarter in the zone, as UTC."""
        return datetime.combine(self.first_day, time(), zone).astimezone(UTC)

    def end(self, zone: ZoneInfo) -> datetime:
        """Give the first instant after the quarter in the zone, as UTC."""
        after = self.last_day + timedelta(days=1)
        return datetime.combine(after, time(), zone).astimezone(UTC)

    def due_on(self, regime: Regime) -> tuple[ReturnDue, ...]:
        """Give the returns for this quarter, and after a fourth quarter those for its year.

        The rows in force on the quarter's last day hold; returns are ordered by day due, those
        without a day last.
        """
        due = [
            ReturnDue(row, period, due_after(row, self.last_day))
            for row in regime.returns
            if row.in_force(self.last_day) and (period := self._period(row))
        ]
        return tuple(sorted(due, key=lambda r: (r.due_on or date.max, r.rule.id)))

    def _period(self, row: ReturnRule) -> str:
        """The period reported on, or nothing where the row's period does not end here."""
        if row.period == "quarter":
            return str(self)
        return str(self.year) if row.period == "year" and self.number == _LAST else ""


def keep_until(day: date, rule: RetentionRule) -> date | None:
    """Give the day until which a record of ``day`` is kept, or None where no span is given."""
    months = 12 * (rule.years or 0) + (rule.months or 0)
    if not months:
        return None
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


def due_after(row: ReturnRule, end: date) -> date | None:
    """Give the day on which a return for a period that ended then is due, or None: none named."""
    if row.due_months_after is not None:
        year, month = divmod(end.year * 12 + end.month - 1 + row.due_months_after, 12)
        return _month_end(year, month + 1)
    if row.due_day:
        month, day = (int(part) for part in row.due_day.split("-"))
        return min(
            _month_end(end.year + 1, month), date(end.year + 1, month, 1) + timedelta(day - 1)
        )
    return None


def _month_end(year: int, month: int) -> date:
    return date(year, month, monthrange(year, month)[1])
