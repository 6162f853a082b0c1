"""The balance of treatment: what went in, what a step takes, what came out, what is unexplained."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.custody.balance import permissible_error_g
from service.custody.rules import Rules
from service.duties.access import Caller, demand
from service.duties.balance import Days
from service.statistics.mass import NO_LOSS, Balance, ExpectedLoss, Weight, balance
from service.store import masses as queries
from service.store.masses import Cycle, Weighed
from service.store.store import Store


@dataclass(frozen=True, slots=True)
class StepBalance:
    """One step at one party.

    Attributes:
        balance: Of the cycles whose residue is on record and that were weighed; None: of none.
        loss: The range by which it is judged.
        open_cycles, open_g: Cycles without residue on record, and what went into them.
        unweighed: Containers, or residues, without a weight; their cycles are in no balance.
    """

    party: str
    step: str
    cycles: int
    containers: int
    balance: Balance | None
    loss: ExpectedLoss
    open_cycles: int
    open_g: int
    unweighed: int


@dataclass(frozen=True, slots=True)
class MassesView:
    """A period by party and step, each cycle that is not explained, and what is assumed."""

    days: Days
    steps: tuple[StepBalance, ...]
    unexplained: tuple["CycleBalance", ...]


@dataclass(frozen=True, slots=True)
class CycleBalance:
    """A cycle whose weights neither loss nor scales explain."""

    party: str
    step: str
    cycle: str
    balance: Balance


def masses(store: Store, caller: Caller, days: Days) -> MassesView:
    """Balance the treatment of a period, as far as the scope reaches."""
    demand(caller, "balance_masses")
    with store.viewing() as connection:
        rules = store.rules_in(connection, caller.facility)
        between = days.between(rules.site.zone)
        cycles = queries.cycles(connection, caller.facility, between, caller.scope)
    by_step: dict[tuple[str, str], list[Cycle]] = defaultdict(list)
    for cycle in cycles:
        by_step[cycle.party, cycle.step].append(cycle)
    steps, unexplained = [], []
    for (party, step), some in sorted(by_step.items()):
        loss = expected_loss(rules, step, days)
        steps.append(_step(some, loss, rules, days.last))
        for cycle in filter(_balanced, some):
            found = _balance([cycle], loss, rules, days.last)
            if found.unexplained_g:
                unexplained.append(CycleBalance(party, step, cycle.cycle, found))
    return MassesView(days, tuple(steps), tuple(unexplained))


def expected_loss(rules: Rules, step: str, days: Days) -> ExpectedLoss:
    """Give the range that the regime's rows have for a step; without one it takes nothing."""
    for row in rules.regime.loss:
        if row.step == step and row.in_force(days.last):
            source = rules.regime.source[row.source].title
            return ExpectedLoss(step, row.share_min, row.share_max, f"{row.clause}; {source}")
    return NO_LOSS


def _step(cycles: Sequence[Cycle], loss: ExpectedLoss, rules: Rules, day: date) -> StepBalance:
    whole = [cycle for cycle in cycles if _balanced(cycle)]
    without = [cycle for cycle in cycles if not cycle.came_out]
    weights = [w.weight_g for c in cycles for w in (*c.went_in.values(), *c.came_out.values())]
    return StepBalance(
        cycles[0].party,
        cycles[0].step,
        len(cycles),
        sum(len(cycle.went_in) for cycle in cycles),
        _balance(whole, loss, rules, day) if whole else None,
        loss,
        len(without),
        sum(w.weight_g or 0 for cycle in without for w in cycle.went_in.values()),
        weights.count(None),
    )


def _balanced(cycle: Cycle) -> bool:
    weights = (*cycle.went_in.values(), *cycle.came_out.values())
    return bool(cycle.came_out) and all(w.weight_g is not None for w in weights)


def _balance(cycles: Iterable[Cycle], loss: ExpectedLoss, rules: Rules, day: date) -> Balance:
    """Balance cycles together, each weighing with the error of the scale that gave it."""
    found = rules.in_service_factor(day)
    factor = found[0] if found else Decimal(1)
    went_in: list[Weight] = []
    came_out: list[Weight] = []
    for cycle in cycles:
        went_in += _weights(cycle.went_in.values(), "before", rules, factor)
        came_out += _weights(cycle.came_out.values(), "after", rules, factor)
    return balance(went_in, came_out, loss)


def _weights(some: Iterable[Weighed], side: str, rules: Rules, factor: Decimal) -> Iterator[Weight]:
    """Give weighings with their error; by a scale that is not in the set-up, as by the coarsest."""
    for weight_g, name in some:
        if weight_g is None:
            continue
        scale = rules.site.scales.get(name or "")
        errors = (
            permissible_error_g(weight_g, one) for one in ([scale] if scale else rules.site.scale)
        )
        by = scale.id if scale else f"unknown {side}"
        yield Weight(weight_g, factor * max(errors, default=Decimal()), by)
