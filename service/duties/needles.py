"""The balance of needles: used, cut at the hub, ended in a pit or in cement.

A difference says that counts do not agree. It says nothing about any person: a counter skips, a
box is emptied between two counts, a day is told late.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from service.custody.counted import NeedlesCounted
from service.custody.history import effective
from service.duties.access import Caller, demand
from service.duties.balance import Days
from service.statistics.mass import Balance, Weight, balance
from service.store.queries import with_amendments
from service.store.store import Store

KIND = NeedlesCounted.model_fields["kind"].default


@dataclass(frozen=True, slots=True)
class NeedlesLine:
    """One unit, or the facility: what was counted before a stage, and after it.

    Attributes:
        unit: None for the facility: needles cut against those that ended.
        balance: In needles for grams; None where one of the two was never counted.
    """

    unit: str | None
    before: int
    after: int
    counts: int
    balance: Balance | None


@dataclass(frozen=True, slots=True)
class NeedlesView:
    """A period: units first, then the facility where the scope reaches all of it."""

    days: Days
    lines: tuple[NeedlesLine, ...]


def needles(store: Store, caller: Caller, days: Days) -> NeedlesView:
    """Balance the needles of a period, by the time at which they were first told to be counted."""
    demand(caller, "balance_needles")
    scope = caller.scope
    with store.viewing() as connection:
        zone = store.rules_in(connection, caller.facility).site.zone
        told = with_amendments(connection, caller.facility, [KIND], *days.between(zone))
    held = [h.event for h in effective(told.values()) if isinstance(h.event, NeedlesCounted)]
    by_unit: dict[str, list[NeedlesCounted]] = defaultdict(list)
    for event in held:
        if event.unit is not None and (scope.whole or event.unit in scope.units):
            by_unit[event.unit].append(event)
    lines = [_line(unit, some, "used", "cut") for unit, some in sorted(by_unit.items())]
    if scope.whole and held:
        lines.append(_line(None, held, "cut", "ended"))
    return NeedlesView(days, tuple(lines))


def _line(unit: str | None, some: Iterable[NeedlesCounted], first: str, then: str) -> NeedlesLine:
    """Balance two stages: one counter errs alike each time, so its errors add up."""
    stages: dict[str, list[Weight]] = {first: [], then: []}
    for event in some:
        if event.stage in stages:
            by = f"{event.unit}: {event.source}"
            stages[event.stage].append(Weight(event.needles, Decimal(event.plus_minus), by))
    before, after = stages[first], stages[then]
    return NeedlesLine(
        unit,
        sum(w.weight_g for w in before),
        sum(w.weight_g for w in after),
        len(before) + len(after),
        balance(before, after) if before and after else None,
    )
