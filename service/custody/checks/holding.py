"""Holding time: near its limit, past it, and cold stores that are not cold."""

from datetime import datetime, timedelta

from service.custody.events import (
    Collected,
    Dispatched,
    Disposed,
    Received,
    Refused,
    Registered,
    Stored,
    Treated,
)
from service.custody.history import Happened
from service.custody.holding import JUST_AFTER, Deadline, outside_band
from service.custody.regime import HoldingLimit
from service.custody.verdict import Case, Code, Violations
from service.custody.words import Condition

_STARTS = {
    "sealed": Registered,
    "first_item": Registered,
    "collected": Collected,
    "dispatched": Dispatched,
    "received": Received,
}


def near(case: Case) -> Violations:
    """Untreated waste comes near its limit."""
    if case.day is None:
        return
    rule = case.rules.hours("holding_near", "", case.day)
    if rule is None:
        return
    for deadline in case.deadlines:
        opened_at = max(deadline.from_at, deadline.due_at - timedelta(hours=rule[0]))
        closed_at = _earlier(deadline.until_at, deadline.due_at + JUST_AFTER)
        if opened_at < closed_at:
            yield case.violation(
                Code.HOLDING_NEAR,
                opened_at,
                f"untreated, and its limit of {_span(deadline.limit)} ends at "
                f"{case.rules.local(deadline.due_at)}",
                *_evidence(case, deadline),
                closed_at=closed_at,
                clause=case.rules.cite(deadline.limit),
            )


def exceeded(case: Case) -> Violations:
    """Untreated waste was kept past its limit; at the limit is still allowed."""
    if case.text is None:
        return
    for deadline in case.deadlines:
        if not deadline.overrun:
            continue
        over_from = deadline.over_from
        notice = case.told(case.sealed_at or over_from, "holding") if case.text.notices else None
        yield case.violation(
            Code.HOLDING_EXCEEDED,
            over_from,
            f"untreated past {_span(deadline.limit)}: the limit ended at "
            f"{case.rules.local(deadline.due_at)}",
            *_evidence(case, deadline),
            closed_at=deadline.until_at,
            clause=case.rules.cite(deadline.limit),
            notified_at=notice,
        )


def warm_store(case: Case) -> Violations:
    """A cold store was outside its temperatures when the container was put in."""
    site = case.rules.site
    for h in case.of(Stored):
        if not isinstance(h.event, Stored) or h.event.store not in site.stores:
            continue
        condition = site.stores[h.event.store].condition
        band = case.rules.band(condition, site.local_day(h.at))
        if condition in (Condition.CHILLED, Condition.FROZEN) and outside_band(h.event, band):
            assert band is not None
            yield case.violation(
                Code.HOLDING_WARM_STORE,
                h.at,
                f"put in {site.stores[h.event.store].name} at {h.event.temperature_c} °C; "
                f"{condition} is {_band(band.temperature_c_min, band.temperature_c_max)}",
                h,
                closed_at=case.first_after(
                    h, Stored, Collected, Dispatched, Received, Refused, Treated, Disposed
                ),
                clause=case.rules.cite(band),
            )


def _evidence(case: Case, deadline: Deadline) -> list[Happened]:
    """The event that started the clock and the one that put it where the limit runs."""
    starts = _STARTS[deadline.limit.clock]
    moved = case.of(Stored, Collected, Dispatched, Received, Registered)
    return [*case.of(starts)[:1], *(h for h in moved if h.at == deadline.from_at)]


def _earlier(until_at: datetime | None, due_at: datetime) -> datetime:
    return due_at if until_at is None else min(until_at, due_at)


def _span(limit: HoldingLimit) -> str:
    for number, unit in (
        (limit.hours, "h"),
        (limit.days, "days"),
        (limit.calendar_days, "calendar days"),
        (limit.months, "months"),
    ):
        if number is not None:
            return f"{number} {unit}"
    raise AssertionError("a limit has one unit")


def _band(low: object, high: object) -> str:
    if low is None:
        return f"at most {high} °C"
    return f"at least {low} °C" if high is None else f"{low} to {high} °C"
