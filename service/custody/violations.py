"""The list of checks, and the judgement of a history by all of them: a pure function.

The same history, rules and moment give the same violations for ever.
"""

from collections.abc import Callable
from datetime import datetime

from service.custody.checks import chain, holding, packing, record, route, transport, treatment
from service.custody.history import History
from service.custody.rules import Rules
from service.custody.verdict import Case, Violation, Violations

CHECKS: tuple[Callable[[Case], Violations], ...] = (
    holding.near,
    holding.exceeded,
    holding.warm_store,
    route.route,
    packing.wrong_container,
    packing.overfilled,
    packing.left_open,
    packing.not_double,
    packing.hub_uncut,
    transport.unsealed,
    transport.seal_changed,
    transport.overdue,
    transport.not_authorised,
    chain.never_registered,
    chain.gap,
    chain.missing,
    chain.two_places,
    record.not_genuine,
    record.weight_mismatch,
    record.wrong_item,
    record.recorded_late,
    treatment.failed,
    treatment.shown,
    treatment.of_the_cycle,
    treatment.no_run,
    treatment.two_at_once,
)
"""Every rule; adding one is a function and a line here."""


def judge(history: History, rules: Rules) -> tuple[Violation, ...]:
    """Give every violation the history shows or will show if nothing more happens.

    A container that only carried others (a cart, an outer bag) has no history of its own and is
    not judged. Violations are ordered by opening, code and evidence.
    """
    return judge_case(Case(history, rules))


def judge_case(case: Case) -> tuple[Violation, ...]:
    """Judge as ``judge`` does; who also asks how the container stands pays for one case only."""
    if case.history.carries and case.history.registered is None:
        return ()
    found = (violation for check in CHECKS for violation in check(case))
    return tuple(sorted(found, key=lambda v: (v.opened_at, v.code, v.evidence)))


def assess(history: History, rules: Rules, now: datetime) -> tuple[Violation, ...]:
    """Give the violations that had opened by ``now``; ``open_at(now)`` tells which still stand."""
    return tuple(v for v in judge(history, rules) if v.opened_at <= now)
