"""Control charts of the figures with their signals in words, and unusual drops.

A signal asks to look for what changed; a drop says that less came than the activity lets expect.
Neither says why, nor anything about a person.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from service.custody.activity import Counted as Told
from service.duties.access import Caller, demand
from service.duties.balance import Days
from service.duties.figures import Basis, Gathered, countable, gather, material_of, weeks_of
from service.statistics.charts import Chart, Counted, Reading, ewma, individuals, p_chart, u_chart
from service.statistics.drops import PERIODS_MIN, UNUSUAL, Change, change
from service.statistics.rates import Period
from service.statistics.signals import Signal, signals
from service.statistics.tails import student_beyond
from service.store import figures as queries
from service.store.store import Store

WEEKS_MIN = 8
"""Weeks, of which fewer give limits that mean little. Common practice, no source."""
BEFORE, NOW = 13, 2
"""Weeks that a drop is reckoned from, and over which it is looked for, where nothing is said."""
PER = {"occupied_bed_days": "occupied bed-day", "procedures": "procedure"}
LOOKED_AFTER = ("sharps", "plastics")


@dataclass(frozen=True, slots=True)
class Drawn:
    """A chart of one unit, and of one category where it is of waste, with what it signals."""

    unit: str
    category: str | None
    chart: Chart
    signals: tuple[Signal, ...]


@dataclass(frozen=True, slots=True)
class ChartsView:
    """Charts over the whole weeks of a period, and for what there are too few weeks."""

    first: date
    last: date
    charts: tuple[Drawn, ...]
    too_few: tuple[str, ...]


def charts(
    store: Store, caller: Caller, days: Days, unit: str | None = None, category: str | None = None
) -> ChartsView:
    """Draw kg and containers against activity, and wrong items, week by week.

    Of each unit and category: individuals and the mean that forgets (EWMA) of kg, containers as
    counts (u); of each unit the shares of wrong items (p).
    """
    demand(caller, "draw_charts")
    with store.viewing() as connection:
        zone = store.rules_in(connection, caller.facility).site.zone
        gathered = gather(connection, caller.facility, days, zone, caller.scope)
        between = days.between(zone)
        found = queries.inspections(connection, caller.facility, between, caller.scope)
    return charts_of(gathered, found, days, zone, (unit, category))


def charts_of(
    gathered: Gathered,
    found: Sequence[queries.Inspection],
    days: Days,
    zone: ZoneInfo,
    only: tuple[str | None, str | None] = (None, None),
) -> ChartsView:
    """Draw the charts of what was gathered."""
    whole = {w.first for w in days.weeks() if w.last - w.first == timedelta(days=6)}
    drawn: list[Drawn] = []
    few: list[str] = []
    for basis in ("occupied_bed_days", "procedures"):
        for rate in gathered.rates(basis).rates:
            if only[0] not in (None, rate.unit) or only[1] not in (None, rate.category):
                continue
            weeks = [w for w in weeks_of(rate) if w.first in whole]
            if len(weeks) < WEEKS_MIN:
                few.append(f"{rate.unit}, {rate.category}: {len(weeks)} whole weeks with activity")
                continue
            exposure = {w.first: w.exposure for w in weeks}
            kg = [Reading(w.first.isoformat(), w.rate_g / 1000) for w in weeks]
            of = _containers(gathered, rate.unit, rate.category, exposure)
            per = PER[basis]
            row = (
                individuals(kg, f"kg per {per}"),
                ewma(kg, f"kg per {per}"),
                u_chart(of, f"containers per {per}"),
            )
            drawn += [Drawn(rate.unit, rate.category, c, signals(c)) for c in row]
    if only[1] is None:
        drawn += _errors(found, whole, zone, only[0])
    return ChartsView(days.first, days.last, tuple(drawn), tuple(few))


def _containers(
    gathered: Gathered, unit: str, category: str, exposure: dict[date, float]
) -> list[Counted]:
    """Count containers on days whose activity is in the week's exposure."""
    told = {c.count.day for c in gathered.counts if c.count.unit == unit and _active(gathered, c)}
    number: Counter[date] = Counter()
    for made in gathered.made:
        if (made.unit, made.category) == (unit, category) and made.day in told:
            number[_monday(made.day)] += made.containers
    return [Counted(w.isoformat(), number[w], exposure[w]) for w in sorted(exposure)]


def _active(gathered: Gathered, counted: Told) -> bool:
    basis: Basis = gathered.bases[counted.count.unit]
    return bool(getattr(counted.count, basis))


def _errors(
    found: Sequence[queries.Inspection], whole: set[date], zone: ZoneInfo, only: str | None
) -> list[Drawn]:
    seen: dict[str, Counter[date]] = defaultdict(Counter)
    wrong: dict[str, Counter[date]] = defaultdict(Counter)
    for i in found:
        monday = _monday(i.at.astimezone(zone).date())
        if i.unit and only in (None, i.unit) and countable(i) and monday in whole:
            seen[i.unit][monday] += i.seen or 0
            wrong[i.unit][monday] += i.wrong or 0
    drawn = []
    for unit, weeks in sorted(seen.items()):
        if len(weeks) >= WEEKS_MIN:
            row = [Counted(w.isoformat(), wrong[unit][w], weeks[w]) for w in sorted(weeks)]
            chart = p_chart(row, "wrong items per item seen")
            drawn.append(Drawn(unit, None, chart, signals(chart)))
    return drawn


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


@dataclass(frozen=True, slots=True)
class Drop:
    """What came of sharps or plastics of a unit against what was to be expected."""

    unit: str
    category: str
    material: str
    change: Change


@dataclass(frozen=True, slots=True)
class DropsView:
    """Changes in the last weeks, the largest drop first.

    Attributes:
        first: The first day that is looked at; before it lie ``before_weeks``.
        by_chance: How many of the looks would show an unusual drop though nothing changed.
        too_few: What could not be looked at, for too few days with activity.
    """

    first: date
    last: date
    before_weeks: int
    changes: tuple[Drop, ...]
    by_chance: float
    too_few: tuple[str, ...]


def drops(
    store: Store, caller: Caller, last: date, weeks: int = NOW, before: int = BEFORE
) -> DropsView:
    """Compare what came of sharps and plastics in the last weeks with the weeks before.

    ``last`` is a day of the last week looked at; that week counts once it is over, so the looks
    end with the last Sunday up to that day.
    """
    demand(caller, "find_drops")
    sunday = last - timedelta(days=(last.weekday() + 1) % 7)
    first = sunday - timedelta(days=7 * weeks - 1)
    days = Days(first - timedelta(days=7 * before), sunday)
    with store.viewing() as connection:
        rules = store.rules_in(connection, caller.facility)
        gathered = gather(connection, caller.facility, days, rules.site.zone, caller.scope)
    found: list[Drop] = []
    few: list[str] = []
    for basis in ("occupied_bed_days", "procedures"):
        for rate in gathered.rates(basis).rates:
            material = material_of(rules.regime, rate.category, sunday)
            if material not in LOOKED_AFTER:
                continue
            usual, now = _parted(rate.days, first)
            what = f"{material} ({rate.category}) of {rate.unit}"
            if len(usual) < PERIODS_MIN or not now:
                few.append(f"{what}: {len(usual)} days with activity before, {len(now)} now")
                continue
            found.append(Drop(rate.unit, rate.category, material, change(usual, now, what)))
    found.sort(key=lambda d: (d.change.standard_errors or 0.0, d.unit, d.category))
    chance = len(found) * student_beyond(UNUSUAL, PERIODS_MIN - 1)
    return DropsView(first, sunday, before, tuple(found), chance, tuple(few))


def _parted(days: Sequence[Period], first: date) -> tuple[list[Period], list[Period]]:
    written = first.isoformat()
    before = [d for d in days if d.label < written]
    return before, [d for d in days if d.label >= written]
