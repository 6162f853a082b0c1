"""When a holding limit's clock starts, what is left of it, and when it is over.

All times of a container as untreated waste are cut into spans of one storage condition; each
limit of the regime is laid over them.
"""

from calendar import monthrange
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import NamedTuple, TypeVar
from zoneinfo import ZoneInfo

from service.custody.acts import is_treating
from service.custody.events import (
    Collected,
    Dispatched,
    Disposed,
    Received,
    Registered,
    Stored,
    Treated,
)
from service.custody.history import Happened, History
from service.custody.regime import HoldingLimit, StoreBand
from service.custody.rules import CategoryRules, Rules
from service.custody.site import Site
from service.custody.words import ClockStart, Condition, Whereabouts

DayT = TypeVar("DayT", bound=date)

SATURDAY = 5
JUST_AFTER = timedelta.resolution
"""At the limit is still allowed; the first instant after it is not."""


class Span(NamedTuple):
    """A stretch of time as untreated waste under one condition; ``until_at`` None is: still."""

    from_at: datetime
    until_at: datetime | None
    condition: Condition
    whereabouts: Whereabouts


class Deadline(NamedTuple):
    """One limit over one stretch in which it ran.

    Attributes:
        limit: The row of the regime.
        clock_from: The instant its clock started.
        due_at: The last allowed instant, if the container stays under the limit's conditions.
        from_at, until_at: The stretch; ``until_at`` None is: still running.
    """

    limit: HoldingLimit
    clock_from: datetime
    due_at: datetime
    from_at: datetime
    until_at: datetime | None

    @property
    def over_from(self) -> datetime:
        """The first instant of the overrun, should it last so long."""
        return max(self.from_at, self.due_at + JUST_AFTER)

    @property
    def overrun(self) -> bool:
        """Whether the stretch goes, or would go if nothing happens, past the due instant."""
        return self.until_at is None or self.over_from < self.until_at


def treated_at(history: History) -> datetime | None:
    """Give the instant from which the waste no longer counts as untreated, or None."""
    for h in history.happened:
        if isinstance(h.event, Disposed) or (
            isinstance(h.event, Treated) and is_treating(h.event.step) and history.counts(h)
        ):
            return h.at
    return None


def outside_band(event: Stored, band: StoreBand | None) -> bool:
    """Say whether the measured temperature is outside what the storage condition allows."""
    if band is None or event.temperature_c is None:
        return False
    low, high = band.temperature_c_min, band.temperature_c_max
    return (low is not None and event.temperature_c < low) or (
        high is not None and event.temperature_c > high
    )


def spans(history: History, rules: Rules) -> tuple[Span, ...]:
    """Cut the time from sealing to treatment into spans of one condition and whereabouts."""
    sealed = history.registered
    if sealed is None:
        return ()
    end = treated_at(history)
    state = (Condition.AMBIENT, Whereabouts.GENERATOR)
    changes = [(sealed.at, state)]
    for h in history.happened:
        if h.at < sealed.at:
            continue
        if end is not None and h.at >= end:
            break
        state = _after(h, state, rules)
        if state != changes[-1][1]:
            changes.append((h.at, state))
    ends = [at for at, _ in changes[1:]] + [end]
    return tuple(
        Span(at, until, condition, where)
        for (at, (condition, where)), until in zip(changes, ends, strict=True)
        if until is None or at < until
    )


def _after(
    h: Happened, state: tuple[Condition, Whereabouts], rules: Rules
) -> tuple[Condition, Whereabouts]:
    event, where = h.event, state[1]
    match event:
        case Stored():
            store = rules.site.stores.get(event.store)
            condition = store.condition if store else Condition.AMBIENT
            if condition in (Condition.CHILLED, Condition.FROZEN) and outside_band(
                event, rules.band(condition, rules.site.local_day(h.at))
            ):
                condition = Condition.AMBIENT
            return condition, where
        case Dispatched():
            return event.condition, Whereabouts.OFF_SITE
        case Received():
            return Condition.AMBIENT, _where_received(event, where, rules)
        case Collected():
            return Condition.AMBIENT, where
        case _:
            return state


def _where_received(event: Received, where: Whereabouts, rules: Rules) -> Whereabouts:
    party = rules.site.parties.get(event.party)
    if party is not None and party.kind == "transfer_station":
        return Whereabouts.TRANSFER_STATION
    if where is Whereabouts.TRANSFER_STATION:
        return Whereabouts.OFF_SITE
    return where


def deadlines(
    history: History, rules: Rules, text: CategoryRules, stretches: tuple[Span, ...]
) -> tuple[Deadline, ...]:
    """Give every limit of the category over every stretch in which it ran or is running.

    Args:
        stretches: The history's ``spans``.
    """
    return tuple(
        deadline
        for limit in text.limits
        for deadline in _of_limit(limit, history, stretches, rules)
    )


def _of_limit(
    limit: HoldingLimit, history: History, stretches: tuple[Span, ...], rules: Rules
) -> Iterator[Deadline]:
    clock_from = _clock_start(limit.clock, history)
    sealed = history.registered
    if clock_from is None or sealed is None or not isinstance(sealed.event, Registered):
        return
    if sealed.event.container_kind not in limit.kinds:
        return
    if limit.season != "any" and limit.season != _season(clock_from, rules.site):
        return
    if not stretches:
        return
    in_use = max(sealed.at - clock_from, timedelta())
    used = in_use if _runs(limit, stretches[0]) else timedelta()
    for from_at, until_at in _running(limit, stretches, clock_from):
        if limit.mixing == "per_condition":
            due_at = from_at + timedelta(hours=limit.hours or 24 * (limit.days or 0)) - used
            used += until_at - from_at if until_at is not None else timedelta()
        else:
            due_at = due(limit, clock_from, rules.site.zone)
        yield Deadline(limit, clock_from, due_at, from_at, until_at)


def _season(at: datetime, site: Site) -> str:
    return site.season_on(site.local_day(at))


def _running(
    limit: HoldingLimit, stretches: tuple[Span, ...], clock_from: datetime
) -> list[tuple[datetime, datetime | None]]:
    """Stretches under the limit's conditions since its clock started, adjoining ones joined."""
    joined: list[tuple[datetime, datetime | None]] = []
    for span in stretches:
        if not _runs(limit, span):
            continue
        if span.until_at is not None and span.until_at <= clock_from:
            continue
        from_at = max(span.from_at, clock_from)
        if joined and joined[-1][1] == from_at:
            joined[-1] = (joined[-1][0], span.until_at)
        else:
            joined.append((from_at, span.until_at))
    return joined


def _runs(limit: HoldingLimit, span: Span) -> bool:
    return span.condition in limit.conditions and span.whereabouts in limit.whereabouts


def _clock_start(clock: ClockStart, history: History) -> datetime | None:
    sealed = history.registered
    if sealed is None or not isinstance(sealed.event, Registered):
        return None
    if clock is ClockStart.SEALED:
        return sealed.at
    if clock is ClockStart.FIRST_ITEM:
        since = sealed.event.in_use_since
        return sealed.at if since is None else since - (sealed.event.occurred_at - sealed.at)
    kinds = {
        ClockStart.COLLECTED: Collected,
        ClockStart.DISPATCHED: Dispatched,
        ClockStart.RECEIVED: Received,
    }
    return next((h.at for h in history.happened if isinstance(h.event, kinds[clock])), None)


def due(limit: HoldingLimit, clock_from: datetime, zone: ZoneInfo) -> datetime:
    """Give the last allowed instant of a limit whose clock started at ``clock_from``.

    Hours and days are elapsed time; calendar days end with the local day; months keep the local
    day and hour, or the last day of a shorter month.
    """
    if limit.calendar_days is not None:
        day = clock_from.astimezone(zone).date() + timedelta(days=limit.calendar_days + 1)
        return datetime.combine(day, time(), zone).astimezone(clock_from.tzinfo)
    if limit.months is not None:
        return months_later(clock_from.astimezone(zone), limit.months).astimezone(clock_from.tzinfo)
    plain = clock_from + timedelta(hours=limit.hours or 0, days=limit.days or 0)
    if limit.weekend_hours and plain.astimezone(zone).weekday() >= SATURDAY:
        return clock_from + timedelta(hours=limit.weekend_hours)
    return plain


def months_later(local: DayT, months: int) -> DayT:
    """Give the same day and hour so many months on, or the last day of a shorter month."""
    year, before = divmod(local.year * 12 + local.month - 1 + months, 12)
    day = min(local.day, monthrange(year, before + 1)[1])
    return local.replace(year=year, month=before + 1, day=day)
