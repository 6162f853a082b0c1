"""Figures of segregation as they go out; no figure is worked out here."""

from datetime import date
from typing import Literal, Self
from uuid import UUID

from service.api.views import Moment, View
from service.custody.activity import Counted
from service.duties.figures import Basis, ErrorsView, RatesView, SharesView
from service.duties.signals import ChartsView, Drawn, DropsView
from service.statistics.charts import Chart, Kind


class CountView(View):
    """A count of activity that holds; ``others`` are counts of that unit and day that differ."""

    id: UUID
    unit: str
    day: date
    occupied_bed_days: float | None
    procedures: int | None
    source: str
    counted_at: Moment
    seq: int
    others: list[UUID]

    @classmethod
    def of(cls, counted: Counted) -> Self:
        """Show a count."""
        count = counted.count
        beds = count.occupied_bed_days
        return cls(
            id=count.id,
            unit=count.unit,
            day=count.day,
            occupied_bed_days=None if beds is None else float(beds),
            procedures=count.procedures,
            source=count.source,
            counted_at=count.occurred_at,
            seq=counted.number,
            others=list(counted.others),
        )


class ActivityList(View):
    """Counts of a period, by day and unit."""

    first: date
    last: date
    counts: list[CountView]


class IntervalView(View):
    """Values that do not sit ill with what was seen."""

    low: float
    high: float
    confidence: float
    method: str


class WeekView(View):
    """A week from Monday."""

    first: date
    weight_g: int
    exposure: float
    rate_g: float


class RateView(View):
    """One category of one unit; ``rate_g`` is grams per unit of activity."""

    unit: str
    category: str
    per: Basis
    weight_g: int
    exposure: float
    rate_g: float
    interval: IntervalView | None
    containers: int
    unweighed: int
    weeks: list[WeekView]


class GapView(View):
    """A day of a unit with waste and without activity: it is in no rate."""

    unit: str
    day: date


class RatesAnswer(View):
    """Rates of a period."""

    first: date
    last: date
    rates: list[RateView]
    without_activity: list[GapView]
    conflicts: list[CountView]

    @classmethod
    def of(cls, view: RatesView) -> Self:
        """Show rates."""
        return cls(
            first=view.first,
            last=view.last,
            rates=[RateView.model_validate(rate) for rate in view.rates],
            without_activity=[GapView.model_validate(gap) for gap in view.without_activity],
            conflicts=[CountView.of(counted) for counted in view.conflicts],
        )


class ShareView(View):
    """A category's part in the weight of all that was sealed."""

    category: str
    material: str
    containers: int
    weight_g: int
    share: float


class ComparisonView(View):
    """A figure beside a published one, which is no target and no limit."""

    published: str
    measure: str
    low: float
    high: float
    where: str
    source: str
    section: str
    year: int | None
    verified: Literal["read", "memory"]
    value: float
    place: Literal["below", "within", "above"]
    said: str


class SharesAnswer(View):
    """Shares of a period."""

    first: date
    last: date
    weight_g: int
    unweighed: int
    shares: list[ShareView]
    comparisons: list[ComparisonView]
    not_compared: list[str]

    @classmethod
    def of(cls, view: SharesView) -> Self:
        """Show shares."""
        return cls(
            first=view.first,
            last=view.last,
            weight_g=view.weight_g,
            unweighed=view.unweighed,
            shares=[ShareView.model_validate(share) for share in view.shares],
            comparisons=[
                ComparisonView(
                    published=c.published.id,
                    measure=c.published.measure,
                    low=c.published.low,
                    high=c.published.high,
                    where=c.published.where,
                    source=c.published.source,
                    section=c.published.section,
                    year=c.published.year,
                    verified=c.published.verified,
                    value=c.value,
                    place=c.place,
                    said=c.said,
                )
                for c in view.comparisons
            ],
            not_compared=list(view.not_compared),
        )


class PointView(View):
    """A week on a chart, with its own limits."""

    label: str
    value: float
    centre: float
    lower: float | None
    upper: float


class SignalView(View):
    """A pattern that a steady process seldom makes: look for what changed."""

    rule: str
    side: Literal["above", "below"]
    first: str
    last: str
    said: str
    source: str


class DrawnView(View):
    """A control chart; ``category`` is null where it is of sorting errors."""

    unit: str
    category: str | None
    kind: Kind
    measure: str
    points: list[PointView]
    signals: list[SignalView]

    @classmethod
    def of(cls, drawn: Drawn) -> Self:
        """Show a chart."""
        chart = drawn.chart
        return cls(
            unit=drawn.unit,
            category=drawn.category,
            kind=chart.kind,
            measure=chart.measure,
            points=_points(chart),
            signals=[
                SignalView(
                    rule=s.rule.id,
                    side=s.side,
                    first=chart.points[s.first].label,
                    last=chart.points[s.last].label,
                    said=s.said,
                    source=s.rule.source,
                )
                for s in drawn.signals
            ],
        )


def _points(chart: Chart) -> list[PointView]:
    return [
        PointView(label=p.label, value=p.value, centre=p.centre, lower=p.lower, upper=p.upper)
        for p in chart.points
    ]


class ChartsAnswer(View):
    """Charts of whole weeks, and what there were too few weeks for."""

    first: date
    last: date
    charts: list[DrawnView]
    too_few: list[str]

    @classmethod
    def of(cls, view: ChartsView) -> Self:
        """Show charts."""
        drawn = [DrawnView.of(each) for each in view.charts]
        return cls(first=view.first, last=view.last, charts=drawn, too_few=list(view.too_few))


class ErrorRateView(View):
    """Wrong items among items seen in a unit's containers."""

    unit: str
    wrong: int
    seen: int
    share: float
    interval: IntervalView


class ErrorsAnswer(View):
    """Sorting errors of a period; ``uncounted`` and ``mixed`` inspections are in no rate."""

    first: date
    last: date
    rates: list[ErrorRateView]
    uncounted: int
    mixed: int

    @classmethod
    def of(cls, view: ErrorsView) -> Self:
        """Show errors."""
        return cls.model_validate(view)


class DropView(View):
    """What came against what was to be expected; it says nothing about any person."""

    unit: str
    category: str
    material: str
    expected_g: float
    seen_g: int
    standard_errors: float | None
    unusual_drop: bool
    said: str


class DropsAnswer(View):
    """Changes of sharps and plastics; ``by_chance`` unusual ones come where nothing changed."""

    first: date
    last: date
    before_weeks: int
    changes: list[DropView]
    by_chance: float
    too_few: list[str]

    @classmethod
    def of(cls, view: DropsView) -> Self:
        """Show drops."""
        return cls(
            first=view.first,
            last=view.last,
            before_weeks=view.before_weeks,
            changes=[
                DropView(
                    unit=d.unit,
                    category=d.category,
                    material=d.material,
                    expected_g=d.change.expected,
                    seen_g=d.change.seen,
                    standard_errors=d.change.standard_errors,
                    unusual_drop=d.change.unusual_drop,
                    said=d.change.said,
                )
                for d in view.changes
            ],
            by_chance=view.by_chance,
            too_few=list(view.too_few),
        )
