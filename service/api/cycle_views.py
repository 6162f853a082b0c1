"""Cycles of machines and what they prove, as they go out."""

from datetime import date
from typing import Any, Literal, Self

from service.api.views import EventOutcome, Moment, View
from service.custody.cycle_events import IndicatorRead, LoadObserved
from service.custody.proof import Proof
from service.custody.untied import Untied
from service.duties.cycles import Attached, CycleView

Verdict = Literal["pass", "fail", "cannot_be_judged", "no_trace"]


class CycleSummary(View):
    """A cycle of a machine with its verdict; `because` is the condition that decided it."""

    cycle: str
    machine: str | None
    step: str | None
    party: str | None
    started_at: Moment | None
    ended_at: Moment | None
    verdict: Verdict
    because: str
    clause: str
    failed_at: Moment | None
    findings: list[str]

    @classmethod
    def said(cls, proof: Proof) -> dict[str, Any]:
        """Give what a summary says of a proof."""
        return {
            "verdict": proof.outcome,
            "findings": [f"{f.code}: {f.message}" for f in proof.findings],
            **{k: getattr(proof, k) for k in _SAME},
        }

    @classmethod
    def of(cls, proof: Proof) -> Self:
        """Show a cycle."""
        return cls(**cls.said(proof))


_SAME = (
    "cycle", "machine", "step", "party", "started_at", "ended_at", "because", "clause", "failed_at",
)  # fmt: skip


class UntiedView(View):
    """Evidence that belongs to no cycle on record, and why; it is tied when the run comes."""

    event: str
    kind: str
    at: Moment
    cycle: str | None
    machine: str | None
    because: str

    @classmethod
    def of(cls, one: Untied) -> Self:
        """Show it."""
        return cls(
            event=str(one.event),
            kind=one.kind,
            at=one.at,
            cycle=one.cycle,
            machine=one.machine,
            because=one.because,
        )


class UntiedAnswer(View):
    """All such evidence of a period, the latest first."""

    first: date
    last: date
    untied: list[UntiedView]


class Chart(View):
    """The lines of a trace; `lethality_min` is F of the coldest probe up to each point."""

    minutes: list[float]
    temperature_c: dict[str, list[float]]
    pressure_kpa: list[float] | None
    lethality_min: list[float] | None


class TraceView(View):
    """A trace with its judgement: `reasons` and `windows` each have figure, what is asked, clause.

    `judgement` is what `custody judge --json` gives of the same file.
    """

    sha256: str
    attached_at: Moment
    f0_min: float | None
    log_reduction: float | None
    judgement: dict[str, Any]
    chart: Chart | None

    @classmethod
    def of(cls, one: Attached) -> Self:
        """Show a trace."""
        return cls(
            sha256=one.sha256,
            attached_at=one.happened.at,
            f0_min=one.figures.get("f0_min"),
            log_reduction=one.figures.get("log_reduction"),
            judgement=one.figures,
            chart=Chart.model_validate(one.curves) if one.curves else None,
        )


class IndicatorView(View):
    """A chemical indicator that was read."""

    read_at: Moment
    turned: bool
    lot: str | None
    position: str | None


class ObservedView(View):
    """How the load came out."""

    seen_at: Moment
    wet: bool
    seal_broken: bool


class CycleDetail(CycleSummary):
    """A cycle with its load and all its evidence."""

    program: str | None
    operator: str | None
    load_g: int | None
    residue_g: int | None
    load: list[str]
    traces: list[TraceView]
    indicators: list[IndicatorView]
    observed: list[ObservedView]

    @classmethod
    def of_view(cls, view: CycleView) -> Self:
        """Show a cycle with its evidence."""
        run = view.cycle.run
        return cls(
            **cls.said(view.proof),
            program=run.program if run else None,
            operator=(run.operator or run.actor) if run else None,
            load_g=run.load_g if run else None,
            residue_g=run.residue_g if run else None,
            load=list(view.load),
            traces=[TraceView.of(one) for one in view.traces],
            indicators=[
                IndicatorView(
                    read_at=h.at, turned=h.event.turned, lot=h.event.lot, position=h.event.position
                )
                for h in view.cycle.indicators
                if isinstance(h.event, IndicatorRead)
            ],
            observed=[
                ObservedView(seen_at=h.at, wet=h.event.wet, seal_broken=h.event.seal_broken)
                for h in view.cycle.observed
                if isinstance(h.event, LoadObserved)
            ],
        )


class CyclesPage(View):
    """Cycles by number."""

    cycles: list[CycleSummary]
    next: str | None


class CycleRecorded(View):
    """The number that the cycle has, and what became of its events: the run, then the load."""

    cycle: str
    outcomes: list[EventOutcome]


class TraceKept(View):
    """What became of a trace, and what the cycle proves now."""

    outcome: EventOutcome
    cycle: CycleDetail
