"""What a regime says, as types: categories, limits, routes, windows, each a dated, cited row.

A row is in force on a day when ``from <= day < until``. Nothing here reads a file: the loader in
``service/regimes`` does.
"""

from collections.abc import Iterable
from datetime import date
from typing import Annotated, Literal, Self, TypeVar

from pydantic import BeforeValidator, Field, model_validator

from service.custody.acts import Act, Outlet, Step, act
from service.custody.cited import CategoryRow as CategoryRow
from service.custody.cited import Exact as Exact
from service.custody.cited import Row as Row
from service.custody.cited import Strict as Strict
from service.custody.reckoning import LossRule as LossRule
from service.custody.reckoning import MaterialRule as MaterialRule
from service.custody.reckoning import ReturnRule as ReturnRule
from service.custody.words import (
    ClockStart,
    Condition,
    ContainerKind,
    Symbol,
    Whereabouts,
)

ActName = Annotated[Act, BeforeValidator(lambda name: act(str(name)))]
Stage = Annotated[tuple[ActName, ...], Field(min_length=1)]


class Source(Strict):
    """A published text that rows cite."""

    title: str
    verified: Literal["read", "memory", "policy"]
    """How the value was checked: ``read`` in an excerpt, from ``memory``, or a house ``policy``."""
    note: str = ""


class Category(Row):
    """A waste stream: what goes in, what never does, how it is marked."""

    id: str = Field(pattern=r"^[a-z0-9][a-z0-9-]*$")
    name: str
    colour: str
    """Colour name as the text gives it."""
    colour_hex: str = Field(pattern=r"^#[0-9A-F]{6}$")
    mark: str = Field(pattern=r"^[A-Z0-9]$")
    """Our own letter for labels and screens: colour is never the only sign."""
    pattern: Literal["plain", "diagonal", "dots", "bars", "cross", "grid"]
    symbol: Symbol = Symbol.NONE
    goes_in: tuple[str, ...] = Field(min_length=1)
    never_in: tuple[str, ...] = ()
    cautions: str = Field(min_length=1)
    codes: tuple[str, ...] = ()
    """List of Waste codes, as ``18 01 03*``."""
    un_number: str = ""


class ContainerRule(CategoryRow):
    """Which kinds of container a category may be put in, in the words of the text."""

    kinds: tuple[ContainerKind, ...] = Field(min_length=1)
    description: str


class HoldingLimit(CategoryRow):
    """How long untreated waste may be kept, and when that clock starts.

    Exactly one of ``hours``, ``days`` (of 24 h), ``calendar_days`` (to the end of that local day)
    and ``months`` is given.
    """

    id: str
    clock: ClockStart
    conditions: tuple[Condition, ...] = tuple(Condition)
    whereabouts: tuple[Whereabouts, ...] = tuple(Whereabouts)
    kinds: tuple[ContainerKind, ...] = tuple(ContainerKind)
    climate: Literal["any", "temperate", "warm"] = "any"
    season: Literal["any", "winter", "summer", "cool", "hot"] = "any"
    monthly_kg_min: Exact | None = None
    """The row holds for sites that make this much a month or more."""
    monthly_kg_below: Exact | None = None
    hours: int | None = Field(default=None, gt=0)
    days: int | None = Field(default=None, gt=0)
    calendar_days: int | None = Field(default=None, gt=0)
    months: int | None = Field(default=None, gt=0)
    weekend_hours: int | None = Field(default=None, gt=0)
    """Longer limit when the plain one would end on a Saturday or Sunday, site time."""
    mixing: Literal["strictest", "per_condition"] = "strictest"
    """``strictest``: all time since the clock's start counts against the limit of the present
    condition. ``per_condition``: only the time spent under the row's conditions counts."""

    @model_validator(mode="after")
    def _one_unit(self) -> Self:
        given = [u for u in (self.hours, self.days, self.calendar_days, self.months) if u]
        if len(given) != 1:
            raise ValueError("give exactly one of hours, days, calendar_days, months")
        if self.mixing == "per_condition" and not (self.hours or self.days):
            raise ValueError("mixing per_condition counts hours or days, not calendar units")
        if self.mixing == "per_condition" and self.weekend_hours:
            raise ValueError("weekend_hours goes with mixing strictest only")
        return self


class NoticeRule(CategoryRow):
    """What a notice to the authority changes: the overrun stays, and is shown as notified."""

    effect: Literal["notified_overrun"]


class StoreBand(Row):
    """The temperatures at which a store counts as chilled or frozen."""

    condition: Condition
    temperature_c_min: Exact | None = None
    temperature_c_max: Exact | None = None


class Route(CategoryRow):
    """One permitted sequence of sets of acts, the last a set of outlets."""

    id: str
    stages: tuple[Stage, ...] = Field(min_length=1)
    only_where: tuple[str, ...] = ()
    """Facts that the site must have declared for this route to be open to it."""

    @model_validator(mode="after")
    def _ends_in_outlets(self) -> Self:
        *before, last = self.stages
        if not all(isinstance(a, Outlet) for a in last):
            raise ValueError("the route never ends: its last stage must name outlets only")
        if any(isinstance(a, Outlet) for stage in before for a in stage):
            raise ValueError("an outlet stands before the last stage")
        return self


class Denial(CategoryRow):
    """An act that the text denies: for a category, after some step, or without one."""

    acts: tuple[ActName, ...] = ()
    dispatch: bool = False
    """Leaving the site is the denied act."""
    after: tuple[Step, ...] = ()
    """Denied only once one of these steps was done."""
    unless_after: tuple[Step, ...] = ()
    """Not denied once one of these steps was done."""
    unless_where: tuple[str, ...] = ()
    """Not denied at a site that declared all these facts."""
    reason: str
    severity: Literal["late", "wrong", "unsafe"] = "unsafe"

    @model_validator(mode="after")
    def _denies_something(self) -> Self:
        if not self.acts and not self.dispatch:
            raise ValueError("the row denies nothing: name acts, or dispatch = true")
        return self


class PackingRule(CategoryRow):
    """How a container must be when it is sealed or leaves."""

    rule: Literal["fill_max", "closed", "double_bagged", "hub_cut", "sealed_transport"]
    fill_fraction_max: Exact | None = Field(default=None, gt=0, le=1)
    kinds: tuple[ContainerKind, ...] = tuple(ContainerKind)
    exempt: bool = False
    """These categories are free of a rule that a wider row, here or in a parent, asks of all."""

    @model_validator(mode="after")
    def _fill_has_figure(self) -> Self:
        needs_figure = self.rule == "fill_max" and not self.exempt
        if needs_figure != (self.fill_fraction_max is not None):
            raise ValueError("fill_fraction_max goes with rule fill_max, and only with it")
        return self


class TimeRule(Row):
    """A span of time good custody or the text asks for."""

    rule: Literal[
        "holding_near", "transit_max", "record_within", "import_within", "collect_from_ward_within"
    ]
    kinds: tuple[str, ...] = ()
    """Event kinds the rule is about; empty means all."""
    hours: int = Field(gt=0)


class WeightRule(Row):
    """How two weighings are compared, and what a container of a kind can weigh at most."""

    rule: Literal["in_service_factor", "weight_max"]
    kinds: tuple[ContainerKind, ...] = ()
    factor: Exact | None = None
    weight_g_max: int | None = Field(default=None, gt=0)


class TreatmentWindow(Row):
    """Conditions that a treatment cycle must meet all together.

    Rows of one step and one ``machine`` are alternatives; each chamber named must meet its own.
    Pressures are above the atmosphere, as a gauge shows them.
    """

    step: Step
    machine: str = ""
    """``gravity`` or ``vacuum``; ``primary_chamber`` or ``secondary_chamber``; empty for all."""
    temperature_c_min: Exact | None = None
    temperature_c_above: Exact | None = None
    """At this temperature the window is not met yet."""
    temperature_c_max: Exact | None = None
    pressure_psi_min: Exact | None = None
    pressure_kpa_min: Exact | None = None
    minutes_min: Exact | None = None
    cycle_minutes_min: Exact | None = None
    vacuum_pulses_min: int | None = None
    seconds_residence_min: Exact | None = None


class Limit(Row):
    """A single number of the text, with its unit; cycles of ``steps`` are held against it."""

    id: str
    subject: str
    steps: tuple[Step, ...] = ()
    bound: Literal["min", "max", "equals"]
    value: Exact
    unit: str
    basis: str = ""
    oxygen_percent: Exact | None = Field(default=None, ge=0, lt=21)
    """Oxygen in dry gas to which a value of flue gas is referred."""


class Mix(Row):
    """Parts by weight of an encapsulation or inertisation mix."""

    step: Step
    parts: dict[str, int] = Field(min_length=2)


class RetentionRule(Row):
    """How long a record must be kept."""

    who: str
    years: int | None = None
    months: int | None = None


class LabelRule(CategoryRow):
    """What the text wants on a label."""

    lines: tuple[str, ...] = Field(min_length=1)


class PaperRule(Row):
    """What the text wants on a paper that is no label: a form, a note, a register."""

    paper: str
    lines: tuple[str, ...] = Field(min_length=1)


class Caution(CategoryRow):
    """A warning shown before the act."""

    text: str
    severity: Literal["late", "wrong", "unsafe"] = "unsafe"


class Regime(Strict):
    """One body of rules with its amendments by date, as the loader gives it.

    A regime that adds to others (``adds_to``) holds their rows too once assembled: its own come
    first.
    """

    id: str = Field(pattern=r"^[a-z0-9][a-z0-9-]*$")
    title: str
    jurisdiction: str
    status: str
    """The statement shown with every use: where values come from, and that local codes prevail."""
    adds_to: tuple[str, ...] = ()
    site_facts: dict[str, str] = Field(default_factory=dict)
    """Facts a site may declare, with the question that is asked."""
    source: dict[str, Source] = Field(min_length=1)
    category: tuple[Category, ...] = ()
    container: tuple[ContainerRule, ...] = ()
    holding: tuple[HoldingLimit, ...] = ()
    notice: tuple[NoticeRule, ...] = ()
    store_band: tuple[StoreBand, ...] = ()
    route: tuple[Route, ...] = ()
    denied: tuple[Denial, ...] = ()
    packing: tuple[PackingRule, ...] = ()
    time: tuple[TimeRule, ...] = ()
    weight: tuple[WeightRule, ...] = ()
    window: tuple[TreatmentWindow, ...] = ()
    limit: tuple[Limit, ...] = ()
    mix: tuple[Mix, ...] = ()
    returns: tuple[ReturnRule, ...] = ()
    material: tuple[MaterialRule, ...] = ()
    loss: tuple[LossRule, ...] = ()
    retention: tuple[RetentionRule, ...] = ()
    label: tuple[LabelRule, ...] = ()
    paper: tuple[PaperRule, ...] = ()
    caution: tuple[Caution, ...] = ()

    def category_on(self, category_id: str, day: date) -> Category | None:
        """Give the category as the text has it on that day, or None."""
        return first_in_force((c for c in self.category if c.id == category_id), day)

    def categories_on(self, day: date) -> tuple[Category, ...]:
        """Give all categories in force on that day, in the file's order."""
        return tuple(c for c in self.category if c.in_force(day))


RowT = TypeVar("RowT", bound=Row)
CategoryRowT = TypeVar("CategoryRowT", bound=CategoryRow)


def first_in_force(rows: Iterable[RowT], day: date) -> RowT | None:
    """Give the first of the rows that is in force on that day, or None."""
    return next((row for row in rows if row.in_force(day)), None)


def covering(rows: Iterable[CategoryRowT], category_id: str, day: date) -> tuple[CategoryRowT, ...]:
    """Give the rows in force on that day that speak of the category."""
    return tuple(row for row in rows if row.in_force(day) and row.covers(category_id))
