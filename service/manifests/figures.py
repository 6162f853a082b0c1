"""The quarter's figures: one set, computed once, from which every paper and file is written.

Pure: ``now`` is an argument, and the same entries, rules and moment give the same figures for ever.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from operator import itemgetter
from typing import Any, TypeVar
from uuid import UUID

from service.custody.acts import Outlet, Step
from service.custody.events import Entry
from service.custody.history import History
from service.custody.proof import Proof
from service.custody.regime import Regime, RetentionRule
from service.custody.rules import Rules
from service.custody.site import Site
from service.custody.verdict import CATALOGUE, Code
from service.custody.violations import judge
from service.manifests.consignments import Consignment, Sending, consignments, sendings
from service.manifests.flagged import CodeCount, Flagged, Grounds, concerns, counts, flagged
from service.manifests.lines import (
    ContainerLine,
    OpenContainer,
    Stream,
    Treatment,
    as_of,
    line,
    open_container,
    read,
)
from service.manifests.notes import Amendment, Incident, amendments_of, incidents_of
from service.manifests.quarter import Quarter, ReturnDue, keep_until
from service.manifests.tally import Amount, Period, amount, amounts

KeyT = TypeVar("KeyT", bound=Any)

_CODE_ORDER: dict[Code, int] = {code: number for number, code in enumerate(CATALOGUE)}


@dataclass(frozen=True, slots=True)
class Balance:
    """Held at the start + sealed + came without a registration - disposed of = held at the end."""

    held_before: Amount
    sealed: Amount
    unregistered: Amount
    disposed: Amount
    held_after: Amount


@dataclass(frozen=True, slots=True)
class QuarterFigures:
    """All that a quarter's manifest says.

    Weights are whole grams at the source. Times are UTC; papers show them in the site's zone.

    Attributes:
        now: The moment of the reckoning.
        by_category, by_unit, by_category_and_unit: What was sealed in the quarter; each adds up
            to ``made``.
        routes: What was disposed of in the quarter by category, steps taken and outlet.
        steps: Treatments in the quarter with the number of cycles; a container counts once a step.
        acts: How often each kind of act reached a container in the quarter.
        proofs: What the cycles prove that anything in the figures went through.
        cycles: Those of them that ran in the quarter, by their start.
        open: What was held at the quarter's end.
    """

    site: Site
    regime: Regime
    quarter: Quarter
    now: datetime
    by_category: dict[Stream, Amount]
    by_unit: dict[str, Amount]
    by_category_and_unit: dict[tuple[Stream, str], Amount]
    balance: Balance
    routes: dict[tuple[Stream, str, Outlet], Amount]
    steps: dict[Step, tuple[Amount, int]]
    acts: dict[str, int]
    consignments: tuple[Consignment, ...]
    sendings: tuple[Sending, ...]
    treatments: tuple[Treatment, ...]
    proofs: tuple[Proof, ...]
    cycles: tuple[Proof, ...]
    open: tuple[OpenContainer, ...]
    violations: tuple[Flagged, ...]
    counts: tuple[CodeCount, ...]
    amendments: tuple[Amendment, ...]
    incidents: tuple[Incident, ...]
    returns: tuple[ReturnDue, ...]
    keep: tuple[tuple[RetentionRule, date], ...]
    lines: tuple[ContainerLine, ...]

    @property
    def start(self) -> datetime:
        """The first instant of the quarter."""
        return self.quarter.start(self.site.zone)

    @property
    def end(self) -> datetime:
        """The first instant after the quarter."""
        return self.quarter.end(self.site.zone)

    @property
    def finished(self) -> bool:
        """Whether the quarter was over at the moment of the reckoning."""
        return self.now >= self.end

    @property
    def made(self) -> Amount:
        """What was sealed in the quarter."""
        return self.balance.sealed

    def name(self, id_: str) -> str:
        """Give the name of a unit, store or party, or what was written if it is none of them."""
        site = self.site
        for named in (site.units, site.stores, site.parties):
            if id_ in named:
                return named[id_].name
        return id_


@dataclass(frozen=True, slots=True)
class _Read:
    """One container as the quarter needs it."""

    line: ContainerLine
    acts: Counter[str]
    open: OpenContainer | None
    sendings: tuple[Sending, ...]
    violations: tuple[Flagged, ...]
    cycles: tuple[Proof, ...]

    @property
    def grams(self) -> int | None:
        return self.line.grams


def figures(
    histories: Iterable[History],
    rules: Rules,
    quarter: Quarter,
    *,
    now: datetime,
    amendments: Sequence[Entry] = (),
    incidents: Iterable[Entry] = (),
) -> QuarterFigures:
    """Reckon a quarter.

    Args:
        histories: Every container held at any time in the quarter, folded; others do no harm.
        rules: The assembled regime and the site.
        quarter: Which quarter, in the site's own time.
        now: The moment of the reckoning; nothing later counts.
        amendments: ``amended`` entries of the site, from the quarter's start on.
        incidents: ``spilled`` and ``notified`` entries of the site.
    """
    period = _passed(quarter, rules, now)
    found = _read_all(histories, rules, period)
    lines = tuple(r.line for r in found)
    made = [x for x in lines if x.generated]
    treatments = [t for x in lines for t in x.treatments if period.holds(t.at)]
    sent = sorted((s for r in found for s in r.sendings), key=_sending_order)
    violations = sorted((f for r in found for f in r.violations), key=_violation_order)
    return QuarterFigures(
        site=rules.site,
        regime=rules.regime,
        quarter=quarter,
        now=now,
        by_category=_sorted(amounts(made, lambda x: x.stream)),
        by_unit=_sorted(amounts(made, lambda x: x.unit)),
        by_category_and_unit=_sorted(amounts(made, lambda x: (x.stream, x.unit))),
        balance=_balance(found, period),
        routes=_routes(lines, period),
        steps=_steps(treatments),
        acts=dict(sorted(sum((r.acts for r in found), Counter[str]()).items())),
        consignments=consignments(sent, period),
        sendings=tuple(sent),
        treatments=tuple(sorted(treatments, key=lambda t: (t.at, t.container))),
        proofs=(proved := _proofs(found)),
        cycles=tuple(p for p in proved if p.started_at and period.holds(p.started_at)),
        open=tuple(r.open for r in found if r.open),
        violations=tuple(violations),
        counts=counts(violations),
        amendments=amendments_of(amendments, period, {x.container for x in lines}),
        incidents=incidents_of([*incidents, *amendments], period),
        returns=quarter.due_on(rules.regime),
        keep=keep(rules, quarter.last_day),
        lines=lines,
    )


def _passed(quarter: Quarter, rules: Rules, now: datetime) -> Period:
    zone = rules.site.zone
    return Period(quarter.start(zone), min(quarter.end(zone), now + timedelta.resolution), now)


def _read_all(histories: Iterable[History], rules: Rules, period: Period) -> list[_Read]:
    """Read every container, in the order of the annex."""
    grounds = Grounds(rules)
    found = (_read(h, rules, period, grounds) for h in histories)
    return sorted(filter(None, found), key=lambda r: _order(r.line))


def _read(history: History, rules: Rules, period: Period, grounds: Grounds) -> _Read | None:
    """Read one container; None where the quarter has nothing to do with it."""
    history = as_of(history, period.now + timedelta.resolution)
    path = read(history, period)
    if path is None:
        return None
    judged = judge(history, rules)
    noted = [v for v in judged if concerns(v, period)]
    held = path.stay.open_before(period.until)
    if not (held or path.acts or noted or period.holds(path.stay.gone_at)):
        return None
    of = line(path, rules, period, tuple(dict.fromkeys(v.code.value for v in noted)))
    return _Read(
        of,
        path.acts,
        open_container(of, path, rules, period.until) if held else None,
        tuple(sendings(history, rules, judged, period)) if of.dispatched_at else (),
        tuple(flagged(v, of.stream.id, of.unit, period, grounds.of(v.clause)) for v in noted),
        tuple(history.proofs.values()),
    )


def _balance(found: Sequence[_Read], period: Period) -> Balance:
    came = [r for r in found if period.holds(r.line.stay.entered_at)]
    return Balance(
        held_before=amount(r for r in found if r.line.stay.open_before(period.start)),
        sealed=amount(r for r in came if r.line.sealed_at),
        unregistered=amount(r for r in came if not r.line.sealed_at),
        disposed=amount(r for r in found if period.holds(r.line.stay.gone_at)),
        held_after=amount(r for r in found if r.open),
    )


def _routes(
    lines: Sequence[ContainerLine], period: Period
) -> dict[tuple[Stream, str, Outlet], Amount]:
    gone = ((x, x.outlet) for x in lines if x.outlet and period.holds(x.stay.gone_at))
    groups: dict[tuple[Stream, str, Outlet], list[ContainerLine]] = {}
    for x, outlet in gone:
        groups.setdefault((x.stream, x.route, outlet), []).append(x)
    return _sorted({key: amount(group) for key, group in groups.items()})


def _proofs(found: Iterable[_Read]) -> tuple[Proof, ...]:
    """Each once, whatever was in it."""
    proved = {p.cycle: p for r in found for p in r.cycles}
    return tuple(sorted(proved.values(), key=lambda p: (str(p.started_at), p.cycle)))


def _steps(treatments: Sequence[Treatment]) -> dict[Step, tuple[Amount, int]]:
    cycles = Counter(step for step, _, _ in {(t.step, t.party, t.cycle) for t in treatments})
    done = _sorted(amounts(treatments, lambda t: t.step))
    return {step: (done[step], cycles[step]) for step in done}


def keep(rules: Rules, day: date) -> tuple[tuple[RetentionRule, date], ...]:
    """Give the rules by which a record of that day is kept, each with the day until which."""
    return tuple(
        (row, until)
        for row in rules.regime.retention
        if row.in_force(day) and (until := keep_until(day, row))
    )


def _order(x: ContainerLine) -> tuple[Stream, datetime, str]:
    return x.stream, x.sealed_at or datetime.max.replace(tzinfo=UTC), x.container


def _sending_order(s: Sending) -> tuple[datetime, str, str]:
    return s.left_at, s.consignment, s.container


def _violation_order(f: Flagged) -> tuple[int, datetime, str, tuple[UUID, ...]]:
    v = f.violation
    return _CODE_ORDER[v.code], v.opened_at, v.container, v.evidence


def _sorted(groups: dict[KeyT, Amount]) -> dict[KeyT, Amount]:
    return dict(sorted(groups.items(), key=itemgetter(0)))
