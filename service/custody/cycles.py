"""Fold the entries of a treatment cycle, and say what it proves: pure, in any order of arrival.

What a trace shows is worked out elsewhere (``service.treatment``) and handed in as a value.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import NamedTuple
from uuid import UUID

from service.custody.cycle_events import (
    OF_CYCLE,
    CycleRun,
    IndicatorRead,
    LoadObserved,
    SporeTested,
    TraceAttached,
)
from service.custody.events import Amended, Entry, Happening
from service.custody.history import Happened, effective
from service.custody.holding import months_later
from service.custody.proof import (
    Around,
    Duty,
    Finding,
    Judged,
    Other,
    Outcome,
    Proof,
    Register,
    SporeTest,
)
from service.custody.regime import Limit
from service.custody.rules import GOOD_PRACTICE, Rules
from service.custody.site import Inspection, Machine
from service.custody.verdict import Code


class Subjects(NamedTuple):
    """The cycles, machines and traces that an entry speaks of, by any telling of it."""

    cycles: frozenset[str]
    machines: frozenset[str]
    traces: frozenset[str]


def subjects(entry: Entry, original: Entry | None) -> Subjects:
    """Give the cycles an entry bears on, and the machines whose spore tests it tells of."""
    told: list[Happening | None] = [entry.event]
    if isinstance(entry.event, Amended):
        told = [entry.event.corrected, original.event if original else None]
    return Subjects(
        frozenset(e.cycle for e in told if isinstance(e, OF_CYCLE)),
        frozenset(e.machine for e in told if isinstance(e, SporeTested)),
        frozenset(e.sha256 for e in told if isinstance(e, TraceAttached)),
    )


@dataclass(frozen=True, slots=True)
class Cycle:
    """A cycle as its entries tell it, each kind in order of time.

    Attributes:
        runs: More than one is a number given twice.
    """

    id: str
    runs: tuple[Happened, ...]
    traces: tuple[Happened, ...]
    indicators: tuple[Happened, ...]
    observed: tuple[Happened, ...]

    @property
    def run(self) -> CycleRun | None:
        """The run as first told."""
        event = self.runs[0].event if self.runs else None
        return event if isinstance(event, CycleRun) else None

    @property
    def ended_at(self) -> datetime | None:
        """When it ended, a wrong device clock put right."""
        return self.runs[0].at if self.runs else None

    @property
    def started_at(self) -> datetime | None:
        """When it started, by the same clock as its end."""
        if self.run is None or self.ended_at is None:
            return None
        return self.ended_at - (self.run.occurred_at - self.run.started_at)


JudgeTrace = Callable[[TraceAttached, Cycle, Rules], Judged]
"""Judges one trace of a cycle; a bound method of who holds the bytes."""


def fold_cycle(cycle: str, entries: Iterable[Entry]) -> Cycle:
    """Give a cycle from its entries in any order; others do no harm."""
    return _of_happened(cycle, effective(entries))


def _of_happened(cycle: str, happened: Iterable[Happened]) -> Cycle:
    held = [h for h in happened if isinstance(h.event, OF_CYCLE) and h.event.cycle == cycle]

    def of(kind: type) -> tuple[Happened, ...]:
        return tuple(h for h in held if type(h.event) is kind)

    return Cycle(cycle, of(CycleRun), of(TraceAttached), of(IndicatorRead), of(LoadObserved))


def fold_register(machine: str, entries: Iterable[Entry]) -> list[SporeTest]:
    """Give the spore tests of a machine in order, from entries in any order."""
    return [
        SporeTest(h.at, h.event.id, h.event.grew)
        for h in effective(entries)
        if isinstance(h.event, SporeTested) and h.event.machine == machine
    ]


def prove(cycle: Cycle, around: Around, rules: Rules, judge: JudgeTrace) -> Proof:
    """Say what a cycle proves, what is wrong with it, and what is still asked of it."""
    run, started_at, ended_at = cycle.run, cycle.started_at, cycle.ended_at
    if run is None or started_at is None or ended_at is None:
        return Proof(
            cycle.id, None, None, None, None, None, None, "no_trace", "", "", None, (), (), (), {}
        )
    machine = rules.site.machines.get(run.machine)
    case = _Case(cycle, run, started_at, ended_at, machine, rules)
    judged = {
        h.event.sha256: judge(h.event, cycle, rules)
        for h in cycle.traces
        if isinstance(h.event, TraceAttached)
    }
    outcome, because, clause, shown_at, seen = _outcome(cycle, judged)
    failed_at = max(ended_at, *(h.at for h in seen)) if outcome == "fail" else None
    return Proof(
        cycle.id,
        run.id,
        run.machine,
        run.step.value,
        run.party,
        started_at,
        ended_at,
        outcome,
        because,
        clause,
        failed_at,
        (run.id, *(h.event.id for h in seen)),
        tuple(case.findings(around)),
        tuple(case.duties(judged, shown_at)),
        {sha: j.figures for sha, j in judged.items()},
    )


def _outcome(
    cycle: Cycle, judged: dict[str, Judged]
) -> tuple[Outcome, str, str, datetime | None, list[Happened]]:
    """What the evidence comes to: a failure of any piece outweighs all that passes."""
    for h in (*cycle.indicators, *cycle.observed):
        if said := _unmakes(h.event):
            return "fail", said, GOOD_PRACTICE, None, [h]
    told = [(h, judged[h.event.sha256]) for h in cycle.traces if isinstance(h.event, TraceAttached)]
    order: tuple[Outcome, ...] = ("fail", "pass", "cannot_be_judged")
    for outcome in order:
        for h, one in told:
            if one.outcome == outcome:
                shown_at = h.at if outcome == "pass" or not one.asked else None
                return outcome, one.because, one.clause, shown_at, [h]
    return "no_trace", "", "", None, []


def _unmakes(event: Happening) -> str:
    """Say why what somebody saw makes the load count as untreated, whatever the trace."""
    if isinstance(event, IndicatorRead) and not event.turned:
        return "a chemical indicator did not turn"
    if isinstance(event, LoadObserved) and event.wet:
        return "the load came out wet"
    if isinstance(event, LoadObserved) and event.seal_broken:
        return "the seal of the chamber gave way"
    return ""


@dataclass(frozen=True, slots=True)
class _Case:
    """A cycle that was run, with what its checks need."""

    cycle: Cycle
    run: CycleRun
    started_at: datetime
    ended_at: datetime
    machine: Machine | None
    rules: Rules

    @property
    def day(self) -> date:
        return self.rules.site.local_day(self.started_at)

    def asked(self, limit_id: str) -> Limit | None:
        return self.rules.limit(limit_id, self.run.step, self.day)

    def finding(self, code: Code, said: str, row: Limit | None, *evidence: UUID) -> Finding:
        clause = self.rules.cite(row) if row else GOOD_PRACTICE
        return Finding(code.value, self.started_at, said, clause, (self.run.id, *evidence))

    def findings(self, around: Around) -> Iterator[Finding]:
        """What is wrong with the cycle, whatever comes later."""
        for again in self.cycle.runs[1:]:
            said = f"the number {self.cycle.id} was given to two cycles"
            yield self.finding(Code.CYCLE_CONFLICT, said, None, again.event.id)
        row = self.asked("one-cycle-at-a-time")
        for other in around.others if row else ():
            said = f"{self.run.machine} ran {other.cycle} at the same time"
            yield self.finding(Code.CYCLE_CONFLICT, said, row, other.event)
        yield from self._spores(around)
        if self.machine is None:
            said = f"no machine '{self.run.machine}' is in the register of machines"
            yield self.finding(Code.MACHINE_NOT_FIT, said, None)
            return
        yield from self._fit(self.machine)
        yield from self._capacity(self.machine)

    def _fit(self, machine: Machine) -> Iterator[Finding]:
        if self.run.step not in machine.does:
            said = f"{machine.id} does no {self.run.step.value.replace('_', ' ')}"
            yield self.finding(Code.MACHINE_NOT_FIT, said, None)
        if machine.party != self.run.party:
            said = f"{machine.id} is of {machine.party}, not of {self.run.party}"
            yield self.finding(Code.MACHINE_NOT_FIT, said, None)
        row = self.asked("machine-for-waste-only")
        if row and not machine.waste_only:
            said = f"{machine.id} is not kept for waste alone"
            yield self.finding(Code.MACHINE_NOT_FIT, said, row)
        for limit_id, what, checks in (
            ("validation-interval", "validated", machine.validation),
            ("calibration-interval", "calibrated", machine.calibration),
        ):
            row = self.asked(limit_id)
            if row and not any(_holds(check, row, self.day) for check in checks):
                said = f"{machine.id} was not {what} on the day"
                yield self.finding(Code.MACHINE_NOT_FIT, said, row)

    def _capacity(self, machine: Machine) -> Iterator[Finding]:
        row = self.asked("machine-capacity")
        if row is None:
            return
        for load, most, unit in (
            (self.run.load_g, machine.capacity_kg and machine.capacity_kg * 1000, "g"),
            (self.run.load_l, machine.capacity_l, "l"),
        ):
            if load is not None and most is not None and load > most * row.value / 100:
                said = f"a load of {load:,} {unit} in {machine.id}, which takes {most:,f} {unit}"
                yield self.finding(Code.CYCLE_OVERLOADED, said, row)

    def _spores(self, around: Around) -> Iterator[Finding]:
        row = self.asked("spore-test-interval")
        if row is None:
            return
        days = int(row.value)
        if self.machine is not None and self.machine.spore_test_days:
            days = min(days, self.machine.spore_test_days)
        last, following = around.before, around.after
        name = self.run.machine
        if last is None:
            said = f"no spore test of {name} is on record before this cycle"
            yield self.finding(Code.TREATMENT_UNPROVED, said, row)
        elif last.grew:
            said = f"the spore test of {name} before this cycle grew"
            yield self.finding(Code.TREATMENT_UNPROVED, said, row, last.event)
        elif self.started_at - last.at > timedelta(days=days):
            told = self.rules.local(last.at)
            said = f"the last spore test of {name} was {told}: more than {days} days before"
            yield self.finding(Code.TREATMENT_UNPROVED, said, row, last.event)
        if following is not None and following.grew:
            said = f"the spore test of {name} after this cycle grew"
            found = self.finding(Code.TREATMENT_UNPROVED, said, row, following.event)
            yield found._replace(opened_at=max(self.ended_at, following.at))

    def duties(self, judged: dict[str, Judged], shown_at: datetime | None) -> Iterator[Duty]:
        """The evidence that the regime asks for with every cycle."""
        within = self.asked("trace-within")
        due_at = self.ended_at + timedelta(hours=int(within.value) if within else 0)
        if within is not None:
            said = "no sensor trace shows the cycle"
            if judged and shown_at is None:
                said = f"its trace cannot be judged: {next(iter(judged.values())).because}"
            traced = (h.event.id for h in self.cycle.traces)
            yield Duty(
                Code.TREATMENT_UNPROVED.value, due_at, shown_at, said,
                self.rules.cite(within), (self.run.id, *traced),
            )  # fmt: skip
        row = self.asked("chemical-indicators") or self.asked("indicator-in-each-load")
        if row is not None:
            wanted, read = max(1, int(row.value)), self.cycle.indicators
            said = f"{len(read)} chemical indicators were read, {wanted} are asked for"
            yield Duty(
                Code.TREATMENT_NO_INDICATOR.value, due_at,
                read[wanted - 1].at if len(read) >= wanted else None, said,
                self.rules.cite(row), (self.run.id, *(h.event.id for h in read)),
            )  # fmt: skip


def _holds(check: Inspection, row: Limit, day: date) -> bool:
    """Whether an inspection still holds: until its own end, and no longer than the row lets it."""
    longest = months_later(check.on, int(row.value)) if row.unit == "months" else check.until
    return check.on <= day <= min(check.until, longest)


def proofs(entries: Iterable[Entry], rules: Rules, judge: JudgeTrace) -> dict[str, Proof]:
    """Give what every cycle among the entries proves; the store works the same out row by row."""
    held = [e for e in entries if isinstance(e.event, (*OF_CYCLE, SporeTested, Amended))]
    told = [h for h in effective(held) if isinstance(h.event, (*OF_CYCLE, SporeTested))]
    if not told:
        return {}
    by_cycle: dict[str, list[Happened]] = {}
    tests: dict[str, list[SporeTest]] = {}
    for h in told:
        if isinstance(h.event, SporeTested):
            test = SporeTest(h.at, h.event.id, h.event.grew)
            tests.setdefault(h.event.machine, []).append(test)
        elif isinstance(h.event, OF_CYCLE):
            by_cycle.setdefault(h.event.cycle, []).append(h)
    folded = [_of_happened(name, mine) for name, mine in by_cycle.items()]
    runs: dict[str, list[Other]] = {}
    for c in folded:
        if c.run is not None and c.started_at and c.ended_at:
            ran = Other(c.id, c.started_at, c.ended_at, c.run.id)
            runs.setdefault(c.run.machine, []).append(ran)
    registers = {machine: Register(tests.get(machine, ()), ran) for machine, ran in runs.items()}
    return {c.id: prove(c, _around(c, registers), rules, judge) for c in folded}


def _around(cycle: Cycle, registers: dict[str, Register]) -> Around:
    if cycle.run is None or cycle.started_at is None or cycle.ended_at is None:
        return Around()
    return registers[cycle.run.machine].around(cycle.id, cycle.started_at, cycle.ended_at)
