"""Judge the traces of a recorded cycle: by its machine, the regime of its day and what was seen."""

from collections.abc import Callable
from dataclasses import asdict
from typing import Any
from zoneinfo import ZoneInfo

from service.custody.acts import Step
from service.custody.cycle_events import TraceAttached
from service.custody.cycles import Cycle
from service.custody.proof import Judged
from service.custody.rules import GOOD_PRACTICE, Rules
from service.custody.site import Machine as Registered
from service.treatment.machines import Machine
from service.treatment.reasons import MissingRowError, Reason, Verdict
from service.treatment.steam import ATMOSPHERE_KPA
from service.treatment.sterilisation import MOIST
from service.treatment.verdict import Judgement, Told, judge_text

KEPT_MOST = 5_000
"""Judgements remembered with the rules, so that a cycle touched again is not judged anew."""

_BY_STEP = {
    Step.AUTOCLAVE: Machine.AUTOCLAVE,
    Step.HYDROCLAVE: Machine.HYDROCLAVE,
    Step.MICROWAVE: Machine.MICROWAVE,
    Step.DRY_HEAT: Machine.DRY_HEAT,
    Step.INCINERATE: Machine.INCINERATOR,
    Step.INCINERATE_1200: Machine.INCINERATOR_1200,
    Step.PLASMA: Machine.PLASMA,
    Step.PLASMA_1200: Machine.PLASMA_1200,
}

Bytes = Callable[[str], bytes | None]
"""Gives the bytes of a trace by their SHA-256 in hex, or None where they are not at hand."""


def kind_of(machine: Registered | None, step: Step) -> Machine | None:
    """Give as what a machine is judged that does this step; None where no trace can show it."""
    if machine is not None and machine.kind in set(map(str, Machine)):
        kind = Machine(machine.kind)
        if kind.step is step:
            return kind
    return _BY_STEP.get(step)


def told_of(cycle: Cycle, machine: Registered | None) -> Told:
    """Give what a trace is judged with besides itself.

    What people saw of the load unmakes a cycle whatever its trace: ``custody.cycles`` says so.
    """
    zone = machine.clock_zone if machine else None
    ambient = machine.ambient_kpa if machine else None
    residence = machine.residence_s if machine else None
    return Told(
        started=cycle.started_at,
        ambient_kpa=float(ambient) if ambient else ATMOSPHERE_KPA,
        zone=ZoneInfo(zone) if zone else None,
        residence_s=float(residence) if residence is not None else None,
    )


class TraceJudge:
    """Judges traces; what it found is remembered: the same bytes and rules give the same."""

    def __init__(self, bytes_of: Bytes) -> None:
        self._bytes_of = bytes_of

    def __call__(self, trace: TraceAttached, cycle: Cycle, rules: Rules) -> Judged:
        """Judge one trace of a cycle that was run."""
        assert cycle.run is not None and cycle.started_at is not None
        machine = rules.site.machines.get(cycle.run.machine)
        kind = kind_of(machine, cycle.run.step)
        if kind is None:
            step = cycle.run.step.value.replace("_", " ")
            return _unjudged(f"no text here says how a trace shows {step}", asked=False)
        day = rules.site.local_day(cycle.started_at)
        asked = any(r.step is kind.step and r.in_force(day) for r in rules.regime.window)
        content = self._bytes_of(trace.sha256)
        if content is None:
            return _unjudged("the bytes of its trace are not on record", asked=asked)
        told = told_of(cycle, machine)
        key = (trace.sha256, kind, day, told)
        if key not in rules.judged:
            if len(rules.judged) >= KEPT_MOST:
                rules.judged.clear()
            rules.judged[key] = _judged(content, kind, rules, told, day, asked)
        known: Judged = rules.judged[key]
        return known


def _judged(
    content: bytes, kind: Machine, rules: Rules, told: Told, day: Any, asked: bool
) -> Judged:
    try:
        text = content.decode("utf-8-sig")
        found = judge_text(text, kind, rules.regime, told, today=day, on=day)
    except UnicodeDecodeError as error:
        return _unjudged(f"the file is not UTF-8 text (byte {error.start})", asked=asked)
    except (MissingRowError, ArithmeticError, ValueError) as error:
        return _unjudged(f"it cannot be worked out: {error}", asked=asked)
    reason = _deciding(found)
    clause = f"{reason.clause} ({reason.source})" if reason and reason.clause else GOOD_PRACTICE
    return Judged(
        found.verdict.value, asked, reason.said if reason else "", clause, figures_of(found, kind)
    )


def _deciding(found: Judgement) -> Reason | None:
    """The reason that a person is told first: what failed, else what is not shown, else what is."""
    wanted = {Verdict.FAIL: False, Verdict.CANNOT_BE_JUDGED: None, Verdict.PASS: True}
    return next((r for r in found.reasons if r.met is wanted[found.verdict]), None)


def _unjudged(said: str, *, asked: bool) -> Judged:
    verdict = Verdict.CANNOT_BE_JUDGED
    found = Judgement(verdict, (Reason("trace", None, said),))
    return Judged(verdict.value, asked, said, GOOD_PRACTICE, figures_of(found, None))


def figures_of(found: Judgement, kind: Machine | None) -> dict[str, Any]:
    """Give a judgement as JSON has it; figures are cut to what any machine computes alike."""
    f = found.lethality
    told: dict[str, Any] = _plain(asdict(found))
    lethality = told.pop("lethality")
    return {
        **told,
        "machine": kind.value if kind else None,
        "f0_min": lethality["worst_min"] if f and f.reference.name == MOIST.name else None,
        "log_reduction": lethality["log_reduction"] if f else None,
        "lethality": lethality,
    }


def _plain(value: Any) -> Any:
    match value:
        case bool() | None | int() | str():
            return value
        case float():
            return float(f"{value:.6g}")
        case dict():
            return {str(k): _plain(v) for k, v in value.items()}
        case list() | tuple():
            return [_plain(v) for v in value]
        case _:
            return str(value)
