"""Returns to authorities: which are due when, and each filled as far as the record goes.

A return is made out and signed by people; what the record does not hold is named, never made up.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from sqlalchemy import Connection

from service.custody.events import Spilled
from service.custody.history import Happened
from service.custody.reckoning import Figure, ReturnRule
from service.custody.rules import Rules
from service.custody.site import Machine
from service.duties.access import Caller, demand
from service.duties.lookup import NotFoundError
from service.manifests.quarter import Quarter, QuarterError, due_after
from service.manifests.returned import Filled, Return, Said, workbook
from service.store import returns as queries
from service.store.store import Store

LATELY = timedelta(days=60)
"""How long a return that was due is still shown; whether it was sent is not in the record."""
NOTES = (
    "Filled from the record as it stands; whoever signs the return answers for it.",
    "Weights are of containers sealed in the period; steps and outlets are theirs as they stand.",
)


@dataclass(frozen=True, slots=True)
class Due:
    """A return for a period that has ended; ``days_left`` below nought: the day is past."""

    rule: ReturnRule
    period: str
    due_on: date | None
    days_left: int | None


@dataclass(frozen=True, slots=True)
class _Span:
    """A period with its days, both included."""

    name: str
    first: date
    last: date


def due(store: Store, caller: Caller, now: datetime) -> list[Due]:
    """Give the returns of the periods that ended last, the next due first; of events none."""
    demand(caller, "list_returns")
    rules = store.rules(caller.facility)
    today = rules.site.local_day(now)
    found = []
    for rule in rules.regime.returns:
        if rule.period == "event" or not rule.in_force(today):
            continue
        span = _ended(rule, today)
        due_on = due_after(rule, span.last)
        left = None if due_on is None else (due_on - today).days
        if left is None or left >= -LATELY.days:
            found.append(Due(rule, span.name, due_on, left))
    return sorted(found, key=lambda d: (d.due_on or date.max, d.rule.id))


def at_once(store: Store, caller: Caller, now: datetime) -> list[ReturnRule]:
    """Give the reports that an event calls for, with the hours there are for each."""
    demand(caller, "list_returns")
    rules = store.rules(caller.facility)
    today = rules.site.local_day(now)
    return [r for r in rules.regime.returns if r.period == "event" and r.in_force(today)]


def _ended(rule: ReturnRule, today: date) -> _Span:
    """Give the last period that ended before a day."""
    if rule.period == "year":
        return _span(rule, str(today.year - 1))
    before = today.replace(day=1) - timedelta(days=1)
    if rule.period == "month":
        return _span(rule, f"{before:%Y-%m}")
    number = today.year * 4 + (today.month - 1) // 3 - 1
    return _span(rule, f"{number // 4}-Q{number % 4 + 1}")


def _span(rule: ReturnRule, name: str) -> _Span:
    """Read a period as it is written for a return.

    Raises:
        QuarterError: it is written otherwise.
    """
    try:
        if rule.period == "quarter":
            quarter = Quarter.parse(name)
            return _Span(str(quarter), quarter.first_day, quarter.last_day)
        if rule.period == "year" and len(name) == 4:
            return _Span(name, date.fromisoformat(f"{name}-01-01"), date(int(name), 12, 31))
        if rule.period == "month" and len(name) == 7:
            first = date.fromisoformat(f"{name}-01")
            after = (first + timedelta(days=31)).replace(day=1)
            return _Span(name, first, after - timedelta(days=1))
        if rule.period == "event" and len(name) == 10:
            day = date.fromisoformat(name)
            return _Span(name, day, day)
    except (ValueError, OverflowError) as error:
        raise QuarterError(str(error)) from error
    asked = {"year": "2026", "quarter": "2026-Q3", "month": "2026-07", "event": "2026-07-31"}
    raise QuarterError(f"the period of this return is written as {asked[rule.period]}")


def fill(store: Store, caller: Caller, return_id: str, period: str) -> Return:
    """Fill a return for a period; for a report of an event the period is its day.

    Raises:
        NotFoundError: the regime has no such return.
        QuarterError: the period is written otherwise.
    """
    demand(caller, "fill_return")
    with store.viewing() as connection:
        rules = store.rules_in(connection, caller.facility)
        rows = [r for r in rules.regime.returns if r.id == return_id]
        if not rows:
            known = ", ".join(dict.fromkeys(r.id for r in rules.regime.returns)) or "none"
            raise NotFoundError(
                f"{rules.regime.id} has no return '{return_id}'; there are: {known}"
            )
        span = _span(rows[0], period)
        rule = next((r for r in rows if r.in_force(span.last)), rows[0])
        ground = _Ground(connection, caller.facility, rules, span)
        fields = tuple(
            Filled(f.name, None if f.from_record is None else tuple(ground.say(f.from_record)))
            for f in rule.field
        )
    return Return(
        rule.id,
        rule.title,
        span.name,
        span.first,
        span.last,
        due_after(rule, span.last),
        rule.to,
        rule.clause,
        rules.regime.source[rule.source].title,
        rule.verified,
        rule.confidence,
        fields,
        NOTES,
    )


def paper(store: Store, caller: Caller, return_id: str, period: str, now: datetime) -> bytes:
    """Give the same as a workbook; errors as above."""
    return workbook(fill(store, caller, return_id, period), now)


@dataclass
class _Ground:
    """Answers for one period, each asked of the record once it is wanted."""

    connection: Connection
    facility: str
    rules: Rules
    span: _Span

    @property
    def _between(self) -> tuple[datetime, datetime]:
        zone = self.rules.site.zone
        ends = (self.span.first, self.span.last + timedelta(days=1))
        first, after = (datetime.combine(d, time(), zone).astimezone(UTC) for d in ends)
        return first, after

    def say(self, figure: Figure) -> Iterable[Said]:
        """Give the lines of a field."""
        return getattr(self, f"_{figure}")()  # type: ignore[no-any-return]

    def _facility(self) -> Iterable[Said]:
        contact = self.rules.site.contact
        yield Said("name", self.rules.site.name)
        yield Said("address", contact.address)
        yield Said("contact", f"{contact.name}, {contact.telephone}")

    def _regime(self) -> Iterable[Said]:
        yield Said("regime", self.rules.regime.title)

    def _period(self) -> Iterable[Said]:
        yield Said("from, to", f"{self.span.first} to {self.span.last}")

    def _kg_by_category(self) -> Iterable[Said]:
        names = {c.id: c.name for c in self.rules.regime.category}
        for row in queries.by_category(self.connection, self.facility, self._between):
            yield Said(f"{row.name}: {names.get(row.name, row.name)}", _kg(row))

    def _kg_by_colour(self) -> Iterable[Said]:
        colours = {c.id: c.colour for c in self.rules.regime.category}
        sums: Counter[str] = Counter()
        for row in queries.by_category(self.connection, self.facility, self._between):
            sums[colours.get(row.name, row.name)] += row.weight_g
        for colour, weight_g in sorted(sums.items()):
            yield Said(colour, f"{weight_g / 1000:.3f} kg")

    def _kg_treated_by_step(self) -> Iterable[Said]:
        sums: Counter[str] = Counter()
        for row in queries.by_steps(self.connection, self.facility, self._between):
            for step in dict.fromkeys(row.name.split()):
                sums[step] += row.weight_g
        for step, weight_g in sorted(sums.items()):
            yield Said(step.replace("_", " "), f"{weight_g / 1000:.3f} kg")

    def _kg_by_outlet(self) -> Iterable[Said]:
        for row in queries.by_outlet(self.connection, self.facility, self._between):
            yield Said(row.name.replace("_", " "), _kg(row))

    def _consignees(self) -> Iterable[Said]:
        parties = self.rules.site.parties
        for row in queries.by_consignee(self.connection, self.facility, self._between):
            name = parties[row.name].name if row.name in parties else row.name
            yield Said(name, f"sent {_kg(row)}")

    def _stores(self) -> Iterable[Said]:
        for store in self.rules.site.store:
            room = "capacity not told" if store.capacity_kg is None else f"{store.capacity_kg} kg"
            yield Said(store.name, f"{store.condition.value}, {room}")

    def _machines(self) -> Iterable[Said]:
        """How many of each kind, and what a load of all of them together may weigh."""
        kinds: dict[str, list[Machine]] = defaultdict(list)
        for machine in self.rules.site.machine:
            kinds[machine.kind].append(machine)
        for kind, some in sorted(kinds.items()):
            told = [m.capacity_kg for m in some if m.capacity_kg is not None]
            room = f"{sum(told)} kg a load in all" if told else "capacity not told"
            untold = f", of {len(some) - len(told)} not told" if 0 < len(told) < len(some) else ""
            yield Said(kind.replace("_", " "), f"{len(some)}, {room}{untold}")

    def _incidents(self) -> Iterable[Said]:
        zone = self.rules.site.zone
        for happened, event in self._spills():
            told = f"{event.action_taken}; people exposed: {event.people_exposed}"
            place = f" at {event.place}" if event.place else ""
            yield Said(f"{happened.at.astimezone(zone):%Y-%m-%d %H:%M}{place}", told)

    def _people_exposed(self) -> Iterable[Said]:
        spills = list(self._spills())
        exposed = sum(event.people_exposed for _, event in spills)
        yield Said(f"{len(spills)} spills and injuries on record", str(exposed))

    def _spills(self) -> Iterable[tuple[Happened, Spilled]]:
        for happened in queries.incidents(self.connection, self.facility, self._between):
            if isinstance(happened.event, Spilled):
                yield happened, happened.event


def _kg(row: queries.Sum) -> str:
    unweighed = row.containers - row.weighed
    more = f", and {unweighed} not weighed" if unweighed else ""
    return f"{row.weight_g / 1000:.3f} kg in {row.containers} containers{more}"
