"""The regime and the site together, with the rows that hold for one category on one day."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any, TypeVar

from service.custody.acts import Step
from service.custody.regime import (
    Category,
    ContainerRule,
    Denial,
    HoldingLimit,
    Limit,
    NoticeRule,
    PackingRule,
    Regime,
    Route,
    Row,
    StoreBand,
    covering,
)
from service.custody.site import Site
from service.custody.words import Condition, ContainerKind

GOOD_PRACTICE = "good custody practice"

FoundT = TypeVar("FoundT")


@dataclass(frozen=True, slots=True)
class CategoryRules:
    """The rows in force on a day that speak of one category, and of this site."""

    category: Category
    day: date
    limits: tuple[HoldingLimit, ...]
    notices: tuple[NoticeRule, ...]
    routes: tuple[Route, ...]
    denials: tuple[Denial, ...]
    containers: tuple[ContainerRule, ...]
    packing: Mapping[tuple[str, ContainerKind], PackingRule]
    walked: dict[Any, Any] = field(default_factory=dict, repr=False, compare=False)
    """What sequences of acts came to under this text, kept by ``routes``."""

    def packing_rule(self, rule: str, kind: ContainerKind) -> PackingRule | None:
        """Give the first packing row of that name that covers the kind, unless it exempts it."""
        found = self.packing.get((rule, kind))
        return None if found is None or found.exempt else found


@dataclass(frozen=True)
class Rules:
    """What a history is judged by."""

    regime: Regime
    site: Site
    judged: dict[Any, Any] = field(default_factory=dict, repr=False, compare=False)
    """What traces came to by these rules, kept by who judges them."""
    _by_category: dict[tuple[str, date], CategoryRules] = field(
        default_factory=dict, repr=False, compare=False
    )
    _found: dict[tuple[object, ...], Any] = field(default_factory=dict, repr=False, compare=False)

    def on(self, category_id: str, day: date) -> CategoryRules | None:
        """Give the rows for the category on that day, or None if the regime has no such one."""
        key = (category_id, day)
        found = self._by_category.get(key) or self._gather(category_id, day)
        if found is not None:  # names that are none of ours are not kept: there is no end of them
            self._by_category[key] = found
        return found

    def _gather(self, category_id: str, day: date) -> CategoryRules | None:
        regime, site = self.regime, self.site
        category = regime.category_on(category_id, day)
        if category is None:
            return None
        facts = set(site.facts)
        return CategoryRules(
            category=category,
            day=day,
            limits=tuple(
                row
                for row in covering(regime.holding, category_id, day)
                if row.climate in ("any", site.climate)
                and (row.monthly_kg_min is None or site.monthly_kg >= row.monthly_kg_min)
                and (row.monthly_kg_below is None or site.monthly_kg < row.monthly_kg_below)
            ),
            notices=covering(regime.notice, category_id, day),
            routes=tuple(
                r
                for r in covering(regime.route, category_id, day)
                if facts.issuperset(r.only_where)
            ),
            denials=tuple(
                d
                for d in covering(regime.denied, category_id, day)
                if not (d.unless_where and facts.issuperset(d.unless_where))
            ),
            containers=covering(regime.container, category_id, day),
            packing={
                (row.rule, kind): row
                for row in reversed(covering(regime.packing, category_id, day))
                for kind in row.kinds
            },
        )

    def hours(self, rule: str, kind: str, day: date) -> tuple[int, Row] | None:
        """Give the hours of a time rule for an event kind on that day, with its row."""
        return self._once(
            (rule, kind, day),
            lambda: (
                (row.hours, row)
                for row in self.regime.time
                if row.rule == rule and row.in_force(day) and (not row.kinds or kind in row.kinds)
            ),
        )

    @cached_property
    def recorded_soon(self) -> timedelta:
        """A delay so short that no rule, of whatever kind and day, calls it late."""
        rows = (r for r in self.regime.time if r.rule in ("record_within", "import_within"))
        return timedelta(hours=min((r.hours for r in rows), default=0))

    def may(self, party_id: str, activity: str, category_id: str, day: date) -> bool | None:
        """Say whether a party was authorised; None if the set-up does not know the party."""
        party = self.site.parties.get(party_id)
        if party is None:
            return None
        return self._once(
            ("may", party_id, activity, category_id, day),
            lambda: iter((party.may(activity, category_id, day),)),
        )

    def band(self, condition: Condition, day: date) -> StoreBand | None:
        """Give the temperature band of a storage condition on that day."""
        return self._once(
            ("band", condition, day),
            lambda: (
                row
                for row in self.regime.store_band
                if row.condition is condition and row.in_force(day)
            ),
        )

    def in_service_factor(self, day: date) -> tuple[Decimal, Row] | None:
        """Give by how much a scale in service may err more than at its verification."""
        return self._once(
            ("in_service_factor", day),
            lambda: (
                (row.factor, row)
                for row in self.regime.weight
                if row.rule == "in_service_factor" and row.factor is not None and row.in_force(day)
            ),
        )

    def weight_g_max(self, kind: ContainerKind, day: date) -> int | None:
        """Give the greatest weight that a container of that kind can have, in grams."""
        return self._once(
            ("weight_max", kind, day),
            lambda: (
                row.weight_g_max
                for row in self.regime.weight
                if row.rule == "weight_max" and kind in row.kinds and row.in_force(day)
            ),
        )

    def limit(self, limit_id: str, step: Step, day: date) -> Limit | None:
        """Give a number that the text sets for a treatment step on that day, or None."""
        return self._once(
            ("limit", limit_id, step, day),
            lambda: (
                row
                for row in self.regime.limit
                if row.id == limit_id and step in row.steps and row.in_force(day)
            ),
        )

    def _once(
        self, key: tuple[object, ...], rows: Callable[[], Iterable[FoundT | None]]
    ) -> FoundT | None:
        """Give the first of the rows, or None; looked for once and remembered."""
        if key not in self._found:
            self._found[key] = next(iter(rows()), None)
        found: FoundT | None = self._found[key]
        return found

    def local(self, at: datetime) -> str:
        """Write an instant in site time, for sentences."""
        return f"{at.astimezone(self.site.zone):%Y-%m-%d %H:%M}"

    def cite(self, row: Row) -> str:
        """Write the row's clause with the title of its source."""
        source = self.regime.source.get(row.source)
        return f"{row.clause} ({source.title})" if source else row.clause
