"""The quarter's figures: one set, computed once, from which every paper and file is written.

Pure: ``now`` is an argument, and the same entries, rules and moment give the same figures for ever.
Containers are read one by one; of many, their lines lie in files without a name (see ``kept``).
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence, Set
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, timedelta
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
from service.manifests.kept import Pile, Rows, kept
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
from service.manifests.tally import Amount, Period, Sums

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
        proofs: What the cycles prove that anything in the figures went through; of what each
            trace shows, the F0 alone.
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
    sendings: Rows[Sending]
    treatments: Rows[Treatment]
    proofs: Rows[Proof]
    cycles: Rows[Proof]
    open: Rows[OpenContainer]
    violations: Rows[Flagged]
    counts: tuple[CodeCount, ...]
    amendments: tuple[Amendment, ...]
    incidents: tuple[Incident, ...]
    returns: tuple[ReturnDue, ...]
    keep: tuple[tuple[RetentionRule, date], ...]
    lines: Rows[ContainerLine]

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
    read = _Reading(rules, period)
    for history in histories:
        read.take(history)
    sums = _Sums(period, {c for e in amendments for c in e.event.named()})
    lines = kept(sums.passing(read.lines))
    sent, proved, flags = kept(read.sendings), kept(read.proofs), kept(read.violations)
    return QuarterFigures(
        site=rules.site,
        regime=rules.regime,
        quarter=quarter,
        now=now,
        by_category=sums.by_category.by_key(),
        by_unit=sums.by_unit.by_key(),
        by_category_and_unit=sums.by_both.by_key(),
        balance=sums.balance(),
        routes=sums.routes.by_key(),
        steps=sums.by_step(),
        acts=dict(sorted(read.acts.items())),
        consignments=consignments(sent, period),
        sendings=sent,
        treatments=kept(sums.treatments),
        proofs=proved,
        cycles=kept(p for p in proved if p.started_at and period.holds(p.started_at)),
        open=kept(read.open),
        violations=flags,
        counts=counts(flags),
        amendments=amendments_of(amendments, period, sums.listed),
        incidents=incidents_of([*incidents, *amendments], period),
        returns=quarter.due_on(rules.regime),
        keep=keep(rules, quarter.last_day),
        lines=lines,
    )


def _passed(quarter: Quarter, rules: Rules, now: datetime) -> Period:
    zone = rules.site.zone
    return Period(quarter.start(zone), min(quarter.end(zone), now + timedelta.resolution), now)


class _Reading:
    """Containers read one by one; what the quarter needs of them lies in order, each kind apart."""

    def __init__(self, rules: Rules, period: Period) -> None:
        self._rules, self._period, self._grounds = rules, period, Grounds(rules)
        self._cycles: set[str] = set()
        self.acts: Counter[str] = Counter()
        self.lines: Pile[ContainerLine] = Pile(_order)
        self.open: Pile[OpenContainer] = Pile(_order)
        self.sendings: Pile[Sending] = Pile(_sending_order)
        self.violations: Pile[Flagged] = Pile(_violation_order)
        self.proofs: Pile[Proof] = Pile(_proof_order)

    def take(self, history: History) -> None:
        """Read one container; the quarter may have nothing to do with it."""
        rules, period = self._rules, self._period
        history = as_of(history, period.now + timedelta.resolution)
        path = read(history, period)
        if path is None:
            return
        judged = judge(history, rules)
        noted = [v for v in judged if concerns(v, period)]
        held = path.stay.open_before(period.until)
        if not (held or path.acts or noted or period.holds(path.stay.gone_at)):
            return
        of = line(path, rules, period, tuple(dict.fromkeys(v.code.value for v in noted)))
        self.lines.add(of)
        self.acts.update(path.acts)
        if held:
            self.open.add(open_container(of, path, rules, period.until))
        if of.dispatched_at:
            for sending in sendings(history, rules, judged, period):
                self.sendings.add(sending)
        for v in noted:
            ground = self._grounds.of(v.clause)
            self.violations.add(flagged(v, of.stream.id, of.unit, period, ground))
        for cycle, proof in history.proofs.items():
            if cycle not in self._cycles:  # each once, whatever was in it
                self._cycles.add(cycle)
                self.proofs.add(_told(proof))


class _Sums:
    """All that is added up over the lines, as they pass in their order."""

    def __init__(self, period: Period, wanted: Set[str]) -> None:
        self._period, self._wanted = period, wanted
        self._balance: Sums[str] = Sums()
        self._steps: Sums[Step] = Sums()
        self._cycles: set[tuple[Step, str, str]] = set()
        self.by_category: Sums[Stream] = Sums()
        self.by_unit: Sums[str] = Sums()
        self.by_both: Sums[tuple[Stream, str]] = Sums()
        self.routes: Sums[tuple[Stream, str, Outlet]] = Sums()
        self.treatments: Pile[Treatment] = Pile(lambda t: (t.at, t.container))
        self.listed: set[str] = set()
        """Of the containers that are asked for those that have a line."""

    def passing(self, lines: Iterable[ContainerLine]) -> Iterator[ContainerLine]:
        """Add up what passes."""
        for x in lines:
            self._add(x)
            yield x

    def _add(self, x: ContainerLine) -> None:
        period, stay, grams = self._period, x.stay, x.grams
        if x.generated:
            self.by_category.add(x.stream, grams)
            self.by_unit.add(x.unit, grams)
            self.by_both.add((x.stream, x.unit), grams)
        if stay.open_before(period.start):
            self._balance.add("held_before", grams)
        if period.holds(stay.entered_at):
            self._balance.add("sealed" if x.sealed_at else "unregistered", grams)
        if period.holds(stay.gone_at):
            self._balance.add("disposed", grams)
            if x.outlet:
                self.routes.add((x.stream, x.route, x.outlet), grams)
        if x.open_at_end:
            self._balance.add("held_after", grams)
        for t in x.treatments:
            if period.holds(t.at):
                self._steps.add(t.step, t.grams)
                self._cycles.add((t.step, t.party, t.cycle))
                self.treatments.add(t)
        if x.container in self._wanted:
            self.listed.add(x.container)

    def balance(self) -> Balance:
        """What was held, came and went."""
        return Balance(**{f.name: self._balance.of(f.name) for f in fields(Balance)})

    def by_step(self) -> dict[Step, tuple[Amount, int]]:
        """Treatments, and in how many cycles."""
        cycles = Counter(step for step, _, _ in self._cycles)
        return {step: (done, cycles[step]) for step, done in self._steps.by_key().items()}


def keep(rules: Rules, day: date) -> tuple[tuple[RetentionRule, date], ...]:
    """Give the rules by which a record of that day is kept, each with the day until which."""
    return tuple(
        (row, until)
        for row in rules.regime.retention
        if row.in_force(day) and (until := keep_until(day, row))
    )


def _order(x: ContainerLine | OpenContainer) -> tuple[Stream, datetime, str]:
    return x.stream, x.sealed_at or datetime.max.replace(tzinfo=UTC), x.container


def _sending_order(s: Sending) -> tuple[datetime, str, str]:
    return s.left_at, s.consignment, s.container


def _violation_order(f: Flagged) -> tuple[int, datetime, str, tuple[UUID, ...]]:
    v = f.violation
    return _CODE_ORDER[v.code], v.opened_at, v.container, v.evidence


def _told(proof: Proof) -> Proof:
    """A proof without what nobody is told here: a trace's whole judgement is 15 kB."""
    judged = {sha256: {"f0_min": found.get("f0_min")} for sha256, found in proof.judged.items()}
    return proof._replace(judged=judged)


def _proof_order(p: Proof) -> tuple[str, str]:
    return str(p.started_at), p.cycle
