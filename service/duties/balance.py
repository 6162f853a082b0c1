"""The balance of what left against what arrived, and what was made, week by week."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from service.custody.events import Received
from service.custody.history import History
from service.custody.journeys import journeys
from service.custody.rules import Rules
from service.custody.violations import judge
from service.duties.access import Caller, demand
from service.manifests.consignments import Consignment, Sending, consignments, sendings
from service.manifests.tally import Period
from service.store import carriage as queries
from service.store.carriage import Carriage as Carriage
from service.store.store import Store

ROWS = 20
WEEKS_MAX = 105
_WEEK = timedelta(days=7)
_ARRIVED_WITH = timedelta(days=7)
"""How long after the last of a consignment arrived a receipt may still say what came with it."""


class PeriodError(ValueError):
    """A period that cannot be shown; the message says why."""


@dataclass(frozen=True, slots=True)
class Days:
    """A period in days of the facility's own calendar, both included.

    Raises:
        PeriodError: it ends before it begins, or is too long to be shown week by week.
    """

    first: date
    last: date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise PeriodError("the period ends before it begins")
        if self.last - self.first > WEEKS_MAX * _WEEK:
            raise PeriodError("the period is longer than two years")

    def between(self, zone: ZoneInfo) -> tuple[datetime, datetime]:
        """Give the first instant, and the first after it, in UTC."""
        return _midnight(self.first, zone), _midnight(self.last + timedelta(days=1), zone)

    def weeks(self) -> Iterator["Days"]:
        """Give its weeks from Monday to Sunday; the first and the last may be cut short."""
        first = self.first
        while first <= self.last:
            last = min(self.last, first + timedelta(days=6 - first.weekday()))
            yield Days(first, last)
            first = last + timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Line:
    """A consignment in the balance.

    Attributes:
        missing: Containers that are flagged as missing and not found since.
        extra: Containers that its receipt names and that never left with it.
        unlike: Containers whose two weights differ by more than both scales may err.
        unweighed: Containers that arrived and were not weighed there.
    """

    figures: Consignment
    missing: tuple[str, ...]
    extra: tuple[str, ...]
    unlike: tuple[str, ...]
    unweighed: tuple[str, ...]

    @property
    def under_way(self) -> int:
        """How many have not arrived, nor are missing."""
        done = self.figures.received + self.figures.refused + self.figures.missing
        return self.figures.sent - done


@dataclass(frozen=True, slots=True)
class Week:
    """What was sealed in a week: (containers, grams) by unit and by category."""

    days: Days
    by_unit: dict[str, tuple[int, int]]
    by_category: dict[str, tuple[int, int]]


@dataclass(frozen=True, slots=True)
class BalanceView:
    """A page of consignments, the totals of all in the period, and what was made in it."""

    totals: Carriage
    lines: Sequence[Line]
    weeks: Sequence[Week]
    page: int
    pages: int


def balance(store: Store, caller: Caller, days: Days, page: int, now: datetime) -> BalanceView:
    """Reckon the balance of what left in a period, the latest first; a page too far is the last."""
    demand(caller, "list_consignments")
    facility, scope = caller.facility, caller.scope
    with store.viewing() as connection:
        rules = store.rules_in(connection, facility)
        between = days.between(rules.site.zone)
        totals = queries.carriage(connection, facility, between, now, scope)
        pages = max(1, -(-totals.consignments // ROWS))
        page = min(max(1, page), pages)
        cargo = queries.left_in(connection, facility, between, (page - 1) * ROWS, ROWS, scope)
        known = queries.folded(connection, facility, set().union(*cargo.values()))
        period = Period(datetime.min.replace(tzinfo=UTC), now + timedelta.resolution, now)
        sent = _sent(known.values(), rules, period, cargo)
        named = _named(sent, now)
        strangers: dict[str, History] = {}
        if named and scope.whole:
            others = queries.named_in_receipts(connection, facility, cargo.keys(), named)
            strangers = queries.folded(connection, facility, others)
        weeks = [
            _week(week, queries.sealed_by_unit_and_category(
                connection, facility, week.between(rules.site.zone), scope
            ))
            for week in days.weeks()
        ]  # fmt: skip
    extra = _extra(strangers.values(), cargo)
    by_id = {c.id: c for c in consignments(sent, period)}
    lines = [
        _line(by_id[id_], [s for s in sent if s.consignment == id_], extra.get(id_, ()))
        for id_ in cargo
        if id_ in by_id
    ]
    return BalanceView(totals, lines, weeks, page, pages)


def _sent(
    known: Collection[History], rules: Rules, period: Period, wanted: Collection[str]
) -> list[Sending]:
    return [
        sending
        for history in known
        for sending in sendings(history, rules, judge(history, rules), period)
        if sending.consignment in wanted
    ]


def _named(sent: Sequence[Sending], now: datetime) -> tuple[datetime, datetime] | None:
    """When receipts of these consignments may have been written."""
    if not sent:
        return None
    ends = [s.received_at or now for s in sent]
    return min(s.left_at for s in sent), max(ends) + _ARRIVED_WITH


def _extra(known: Collection[History], cargo: dict[str, set[str]]) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for history in known:
        went = {journey.departure.consignment for journey in journeys(history)}
        came = (h.event for h in history.happened if isinstance(h.event, Received))
        for id_ in dict.fromkeys(event.consignment for event in came if event.consignment):
            if id_ in cargo and id_ not in went:
                found.setdefault(id_, []).append(history.container)
    return {id_: tuple(sorted(containers)) for id_, containers in found.items()}


def _line(figures: Consignment, sent: Sequence[Sending], extra: tuple[str, ...]) -> Line:
    missing = tuple(s.container for s in sent if s.outcome == "missing")
    unlike = tuple(s.container for s in sent if s.compared and s.compared.disagree)
    unweighed = tuple(s.container for s in sent if s.outcome == "received" and s.received_g is None)
    return Line(figures, missing, extra, unlike, unweighed)


def _week(days: Days, rows: Sequence[tuple[str, str, int, int]]) -> Week:
    week = Week(days, {}, {})
    for unit, category, containers, grams in rows:
        for group, name in ((week.by_unit, unit), (week.by_category, category)):
            had = group.get(name, (0, 0))
            group[name] = had[0] + containers, had[1] + grams
    return week


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(), zone).astimezone(UTC)
