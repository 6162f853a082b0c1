"""Figures of segregation: waste against activity, shares beside published ones, sorting errors.

A figure says what was recorded. It says of nobody what they did.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from service.access.caller import Scope
from service.custody.activity import Counted, holding
from service.custody.fields import EARLIEST
from service.custody.regime import Regime
from service.duties.access import Caller, demand
from service.duties.balance import Days
from service.statistics import rates as reckoned
from service.statistics.intervals import Interval
from service.statistics.published import PUBLISHED, Comparison, Measure, compare
from service.statistics.rates import Activity, ErrorRate, Made, UnitRate, error_rate
from service.store import figures as queries
from service.store.store import Store

Basis = Literal["occupied_bed_days", "procedures"]
OTHER = "other"
USUAL = timedelta(weeks=13)
_WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Gathered:
    """What figures are reckoned from.

    Attributes:
        made: What was sealed, by day.
        counts: Activity as it holds.
        bases: By what each unit that told any activity is measured.
    """

    made: tuple[Made, ...]
    counts: tuple[Counted, ...]
    bases: dict[str, Basis]

    def activity(self, basis: Basis) -> Iterable[Activity]:
        """Give the activity of the units that are measured by this."""
        for counted in self.counts:
            count = counted.count
            value = getattr(count, basis)
            if self.bases.get(count.unit) == basis and value is not None:
                yield Activity(count.day, count.unit, float(value))

    def rates(self, basis: Basis) -> reckoned.Rates:
        """Give the rates of the units that are measured by this."""
        made = [m for m in self.made if self.bases.get(m.unit) == basis]
        return reckoned.rates(made, self.activity(basis))


def gather(
    connection: Connection, facility: str, days: Days, zone: ZoneInfo, scope: Scope
) -> Gathered:
    """Read what figures of a period are reckoned from, as far as the scope reaches."""
    made = (
        Made(row.day, row.unit, row.category, row.weight_g, row.containers)
        for row in queries.sealed(connection, facility, days.between(zone), zone, scope)
    )
    counts = holding(queries.counts(connection, facility, days.first, days.last, scope))
    return Gathered(tuple(made), tuple(counts), _bases(counts))


def _bases(counts: Iterable[Counted]) -> dict[str, Basis]:
    """A unit with beds is measured by them, any other by its procedures; never by both mixed."""
    bases: dict[str, Basis] = {}
    for counted in counts:
        count = counted.count
        if count.occupied_bed_days:
            bases[count.unit] = "occupied_bed_days"
        elif count.procedures:
            bases.setdefault(count.unit, "procedures")
    return bases


def usual_period(
    store: Store, caller: Caller, now: datetime, first: date | None, last: date | None
) -> Days:
    """Give the period asked for: until today, and of the thirteen weeks before, if not said.

    Raises:
        PeriodError: it ends before it begins, or is too long.
    """
    until = last or store.rules(caller.facility).site.local_day(now)
    return Days(first or max(until - USUAL, EARLIEST.date() + _WEEK), until)


def activity(store: Store, caller: Caller, days: Days) -> list[Counted]:
    """Give the counts of a period that hold, by day and unit."""
    demand(caller, "list_activity")
    with store.viewing() as connection:
        facility, scope = caller.facility, caller.scope
        return holding(queries.counts(connection, facility, days.first, days.last, scope))


@dataclass(frozen=True, slots=True)
class WeekRate:
    """A week from Monday to Sunday; days without activity are left out on both sides."""

    first: date
    weight_g: int
    exposure: float

    @property
    def rate_g(self) -> float:
        """Grams per unit of activity."""
        return self.weight_g / self.exposure


@dataclass(frozen=True, slots=True)
class RateLine:
    """One category of one unit; ``rate_g`` is grams per occupied bed-day or procedure."""

    unit: str
    category: str
    per: Basis
    weight_g: int
    exposure: float
    rate_g: float
    interval: Interval | None
    containers: int
    unweighed: int
    weeks: tuple[WeekRate, ...]


@dataclass(frozen=True, slots=True)
class Gap:
    """A day on which a unit made waste and no activity is told; it is in no rate."""

    unit: str
    day: date


@dataclass(frozen=True, slots=True)
class RatesView:
    """Rates of a period, what is left out of them, and counts that contradict each other."""

    first: date
    last: date
    rates: tuple[RateLine, ...]
    without_activity: tuple[Gap, ...]
    conflicts: tuple[Counted, ...]


def rates(store: Store, caller: Caller, days: Days) -> RatesView:
    """Give grams per occupied bed-day or procedure by unit and category, over weeks."""
    demand(caller, "read_rates")
    with store.viewing() as connection:
        zone = store.rules_in(connection, caller.facility).site.zone
        return rates_of(gather(connection, caller.facility, days, zone, caller.scope), days)


def rates_of(gathered: Gathered, days: Days) -> RatesView:
    """Reckon the rates of what was gathered."""
    lines: list[RateLine] = []
    gaps = {(m.unit, m.day) for m in gathered.made if m.unit not in gathered.bases}
    for basis in ("occupied_bed_days", "procedures"):
        found = gathered.rates(basis)
        gaps |= set(found.without_activity)
        lines += [_line(rate, basis) for rate in found.rates]
    return RatesView(
        days.first,
        days.last,
        tuple(sorted(lines, key=lambda line: (line.unit, line.category))),
        tuple(Gap(unit, day) for unit, day in sorted(gaps)),
        tuple(c for c in gathered.counts if c.others),
    )


def _line(rate: UnitRate, basis: Basis) -> RateLine:
    level = rate.level
    return RateLine(
        rate.unit,
        rate.category,
        basis,
        level.amount,
        level.exposure,
        level.rate,
        level.interval(),
        rate.containers,
        rate.unweighed,
        weeks_of(rate),
    )


def weeks_of(rate: UnitRate) -> tuple[WeekRate, ...]:
    """Add the days of a rate up to weeks."""
    grams: Counter[date] = Counter()
    exposure: dict[date, float] = defaultdict(float)
    for period in rate.days:
        day = date.fromisoformat(period.label)
        monday = day - timedelta(days=day.weekday())
        grams[monday] += period.amount
        exposure[monday] += period.exposure
    return tuple(WeekRate(monday, grams[monday], exposure[monday]) for monday in sorted(exposure))


@dataclass(frozen=True, slots=True)
class Share:
    """A category's part in the weight of all that was sealed."""

    category: str
    material: str
    containers: int
    weight_g: int
    share: float


@dataclass(frozen=True, slots=True)
class SharesView:
    """Shares by category, published figures beside those that can be set beside them, and why
    others cannot."""

    first: date
    last: date
    weight_g: int
    unweighed: int
    shares: tuple[Share, ...]
    comparisons: tuple[Comparison, ...]
    not_compared: tuple[str, ...]


def shares(store: Store, caller: Caller, days: Days) -> SharesView:
    """Give each category's share of the weight sealed in a period, beside published shares."""
    demand(caller, "compare_shares")
    with store.viewing() as connection:
        rules = store.rules_in(connection, caller.facility)
        gathered = gather(connection, caller.facility, days, rules.site.zone, caller.scope)
    return shares_of(gathered, rules.regime, days)


def shares_of(gathered: Gathered, regime: Regime, days: Days) -> SharesView:
    """Reckon the shares of what was gathered."""
    grams: Counter[str] = Counter()
    containers: Counter[str] = Counter()
    for made in gathered.made:
        grams[made.category] += made.weight_g or 0
        containers[made.category] += made.containers
    whole = sum(grams.values())
    material = {c: material_of(regime, c, days.last) for c in containers}
    found = tuple(
        Share(c, material[c], containers[c], grams[c], grams[c] / whole if whole else 0.0)
        for c in sorted(containers, key=lambda c: (-grams[c], c))
    )
    comparisons, reasons = _compared(gathered, grams, material, whole)
    unweighed = sum(m.containers for m in gathered.made if m.weight_g is None)
    return SharesView(
        days.first, days.last, whole, unweighed, found, tuple(comparisons), tuple(reasons)
    )


def material_of(regime: Regime, category: str, day: date) -> str:
    """Give what a category is made of by the regime's own rows, or ``other``."""
    rows = (row for row in regime.material if row.in_force(day) and row.covers(category))
    return next((row.material for row in rows), OTHER)


_SHARE_OF = {
    Measure.SHARPS_SHARE: "sharps",
    Measure.INFECTIOUS_SHARE: "infectious",
    Measure.CHEMICAL_SHARE: "chemical",
    Measure.GENERAL_SHARE: "general",
}


def _compared(
    gathered: Gathered, grams: Counter[str], material: dict[str, str], whole: int
) -> tuple[list[Comparison], list[str]]:
    """Set beside published figures what is of the same thing; a share of another whole is not."""
    by: Counter[str] = Counter()
    for category, weight_g in grams.items():
        by[material[category]] += weight_g
    values: dict[Measure, float] = {}
    reasons = []
    hazardous_g = whole - by["general"]
    if by["general"]:
        values = {measure: by[name] / whole for measure, name in _SHARE_OF.items()}
        values[Measure.HAZARDOUS_SHARE] = hazardous_g / whole
    elif whole:
        reasons.append(
            "Published shares are of all waste. No general waste is in this record, so no share "
            "of it can be set beside them."
        )
    beds = sum(a.exposure for a in gathered.activity("occupied_bed_days"))
    if beds:
        told = {count.count.day for count in gathered.counts if count.count.occupied_bed_days}
        of_told = [m for m in gathered.made if m.day in told]
        kg = sum(m.weight_g or 0 for m in of_told if material[m.category] != "general") / 1000
        values[Measure.HAZARDOUS_KG] = values[Measure.BIOMEDICAL_KG] = kg / beds
        if by["general"]:
            values[Measure.ALL_KG] = sum(m.weight_g or 0 for m in of_told) / 1000 / beds
    else:
        reasons.append("No occupied bed-days are told, so no rate can be set beside published.")
    return [compare(p, values[p.measure]) for p in PUBLISHED if p.measure in values], reasons


@dataclass(frozen=True, slots=True)
class ErrorsView:
    """What inspections found by unit.

    Attributes:
        uncounted: Inspections that do not say how many items were looked at.
        mixed: Inspections of containers of several units; they are in no unit's rate.
    """

    first: date
    last: date
    rates: tuple[ErrorRate, ...]
    uncounted: int
    mixed: int


def sorting_errors(store: Store, caller: Caller, days: Days) -> ErrorsView:
    """Give wrong items per item seen by unit, with the interval of each."""
    demand(caller, "read_sorting_errors")
    with store.viewing() as connection:
        zone = store.rules_in(connection, caller.facility).site.zone
        between = days.between(zone)
        found = queries.inspections(connection, caller.facility, between, caller.scope)
    return errors_of(found, days)


def errors_of(inspections: Sequence[queries.Inspection], days: Days) -> ErrorsView:
    """Reckon error rates; what is told as wrong beyond what was seen is taken as uncounted."""
    seen: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    uncounted = mixed = 0
    for i in inspections:
        if not countable(i):
            uncounted += 1
        elif i.unit is None:
            mixed += 1
        else:
            seen[i.unit] += i.seen or 0
            wrong[i.unit] += i.wrong or 0
    by_unit = tuple(error_rate(unit, wrong[unit], seen[unit]) for unit in sorted(seen))
    return ErrorsView(days.first, days.last, by_unit, uncounted, mixed)


def countable(inspection: queries.Inspection) -> bool:
    """Say whether an inspection gives a share: something was seen, and no more was wrong."""
    return bool(inspection.seen) and (inspection.wrong or 0) <= (inspection.seen or 0)
