"""Pass, fail or cannot be judged: a cycle's trace held against the regime of the day, with reasons.

F0 never decides: the texts prescribe temperature, pressure and time, and 3 min at 134 °C are not
60 min at 121 °C to them though the spores would not know. It is told beside the verdict.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, tzinfo

import numpy as np

from service.custody.regime import Regime, TreatmentWindow
from service.treatment.chambers import chamber
from service.treatment.machines import Machine
from service.treatment.pieces import Marks, Stay
from service.treatment.plausible import another_cycle, implausible
from service.treatment.problems import Problem, Remark, TraceError
from service.treatment.reasons import Measure, Reason, Verdict, cited, conclude, house_limit
from service.treatment.steam import ATMOSPHERE_KPA
from service.treatment.steam_checks import air_left_in, probes_apart
from service.treatment.sterilisation import DRY, MOIST, Reference, lethality_min, log_reduction
from service.treatment.trace import Trace, read_trace
from service.treatment.windows import Dwell, Site, dwell


@dataclass(frozen=True)
class Told:
    """What people say of a cycle, besides its trace.

    Attributes:
        started: when it started.
        ambient_kpa: pressure of the air at the site.
        zone: zone of the logger's clock, where its times carry none.
        load_wet: the load came out wet; None if nobody looked.
        indicator_turned: the chemical indicator turned; None if none was read.
        residence_s: time of the gas in the last chamber, reckoned from volume and flow.
        reference: to what lethality is referred; None for the usual one of the process.
    """

    started: datetime | None = None
    ambient_kpa: float = ATMOSPHERE_KPA
    zone: tzinfo | None = None
    load_wet: bool | None = None
    indicator_turned: bool | None = None
    residence_s: float | None = None
    reference: Reference | None = None


@dataclass(frozen=True)
class Lethality:
    """Lethality of a trace; the worst probe is what counts.

    Attributes:
        reference: what it is referred to.
        worst_min: F of the coldest probe, minutes.
        by_probe_min: F of each, by name.
        log_reduction: powers of ten by which spores of the reference's D are fewer.
    """

    reference: Reference
    worst_min: float
    by_probe_min: dict[str, float]
    log_reduction: float


@dataclass(frozen=True)
class Judgement:
    """What a cycle's evidence shows, and why.

    Attributes:
        verdict: the conclusion.
        reasons: what decided it: of windows that are alternatives only the one met, or the
            nearest to it; ``windows`` has all.
        remarks: what a person should know besides.
        windows: each window of the regime with its dwell.
        lethality: None where the trace cannot be read, or the process has none.
        day: whose rows it was judged by; None where the trace was not.
    """

    verdict: Verdict
    reasons: tuple[Reason, ...]
    remarks: tuple[Remark, ...] = ()
    windows: tuple[Dwell, ...] = ()
    lethality: Lethality | None = None
    day: date | None = None


_NOTHING_TOLD = Told()


def judge_text(
    text: str,
    machine: Machine,
    regime: Regime,
    told: Told = _NOTHING_TOLD,
    *,
    today: date,
    on: date | None = None,
) -> Judgement:
    """Judge the text of a logger's file; one that cannot be read cannot be judged.

    The rows are those of the day ``on``, else of the day on which the trace starts (in the zone
    told, or else in its own), else, where the file has no clock times, of ``today``.

    Raises:
        MissingRowError: the regime lacks good practice.
    """
    try:
        trace = read_trace(text, zone=told.zone, ambient_kpa=told.ambient_kpa)
    except TraceError as error:
        return _unjudged(error.problems)
    if on is None and trace.start is None:
        said = f"The file has no clock times: judged by the rows in force on {today}."
        trace = replace(trace, remarks=(*trace.remarks, Remark("trace.day", said)))
    start = trace.start.astimezone(told.zone) if trace.start and told.zone else trace.start
    return judge(trace, machine, regime, on or (start.date() if start else today), told)


def judge(
    trace: Trace, machine: Machine, regime: Regime, day: date, told: Told = _NOTHING_TOLD
) -> Judgement:
    """Judge a trace by the rows of the regime in force on a day.

    Raises:
        MissingRowError: the regime lacks good practice.
    """
    wrong = implausible(trace, machine, told.ambient_kpa)
    wrong += another_cycle(trace, told.started, regime, day)
    if wrong:
        return _unjudged(wrong, trace.remarks)
    counted, gaps = _counted(trace, regime, day)
    pulse_kpa = float(house_limit(regime, "vacuum-pulse", day).value)
    site = Site(counted, told.ambient_kpa, pulse_kpa)
    rows = _rows(regime, machine, day)
    windows = [
        chamber(trace, regime, row, site, told.residence_s)
        if machine.burns
        else dwell(trace, regime, row, site)
        for row in rows
    ]
    remarks = [*trace.remarks, *gaps, *_machine_remarks(machine)]
    reasons = _all_of(windows) if machine.burns else _one_of(windows)
    if not rows:
        reasons = [Reason("window", None, _no_window(regime, machine))]
    if machine.by_steam:
        air, superheated = air_left_in(trace, rows, site, regime, day)
        reasons += air
        remarks += superheated
    if not machine.burns:
        remarks += probes_apart(trace, _longest(windows), regime, day)
    reasons += _observed(told, regime, day)
    return Judgement(
        conclude(reasons),
        tuple(reasons),
        tuple(remarks),
        tuple(windows),
        lethality(trace, counted, machine, told.reference),
        day,
    )


def lethality(
    trace: Trace, counted: Marks, machine: Machine, reference: Reference | None = None
) -> Lethality | None:
    """Give the lethality of each probe and the worst; None for what is not told in such figures."""
    usual = MOIST if machine.by_steam else DRY if machine is Machine.DRY_HEAT else None
    if usual is None:
        return None
    used = reference or usual
    by_probe = {
        probe: lethality_min(trace.time_s, line, counted, used)
        for probe, line in trace.temperatures_c.items()
    }
    worst = min(by_probe.values())
    return Lethality(used, worst, by_probe, log_reduction(worst, used.d_min))


def _counted(trace: Trace, regime: Regime, day: date) -> tuple[Marks, list[Remark]]:
    """Give the pieces that count: whole ones, and no longer than a straight line may be."""
    length = np.diff(trace.time_s)
    usual = float(np.median(length[length > 0])) if (length > 0).any() else 0.0
    longest_s = min(
        float(house_limit(regime, "trace-gap", day).value),
        float(house_limit(regime, "trace-gap-usual", day).value) * usual,
    )
    counted = trace.linked & (length <= longest_s)
    if counted.all():
        return counted, []
    lost = length[~counted]
    told = (
        f"Gaps: {len(lost)}, {lost.sum() / 60:.1f} min in all, the longest {lost.max():g} s; "
        f"readings are usually {usual:g} s apart. No part of a gap counts."
    )
    return counted, [Remark("trace.gaps", told)]


def _rows(regime: Regime, machine: Machine, day: date) -> list[TreatmentWindow]:
    """Give the windows that speak of such a machine on that day."""
    rows = [row for row in regime.window if row.in_force(day) and row.step == machine.step]
    return [row for row in rows if machine.burns or row.machine in {"", machine.row_kind}]


def _one_of(windows: Sequence[Dwell]) -> list[Reason]:
    """Windows for one machine are alternatives: the first that was met, or the nearest to it."""
    met = [window for window in windows if window.met]
    unknown = [window for window in windows if window.met is None]
    open_ = met[:1] or unknown or windows
    nearest = max(open_, key=lambda w: w.dwell_min / (w.asked_min or 1), default=None)
    return list(nearest.reasons) if nearest else []


def _all_of(windows: Sequence[Dwell]) -> list[Reason]:
    """Each chamber must meet its own."""
    return [reason for window in windows for reason in window.reasons]


def _observed(told: Told, regime: Regime, day: date) -> list[Reason]:
    """Say what people saw that unmakes a cycle, whatever its trace."""
    row = house_limit(regime, "wet-loads", day)
    reasons = []
    if told.load_wet:
        said = "the load came out wet: it counts as untreated"
        reasons.append(cited(regime, row, "load.wet", False, said, Measure(1, 0, "loads")))
    if told.indicator_turned is False:
        said = "the chemical indicator did not turn: the load counts as untreated"
        reasons.append(Reason("indicator", False, said, source="Good custody practice"))
    return reasons


def _longest(windows: Sequence[Dwell]) -> Stay | None:
    best = max(windows, key=lambda window: window.dwell_min, default=None)
    if best is None or best.from_s is None or best.until_s is None:
        return None
    return Stay(best.from_s, best.until_s)


def _machine_remarks(machine: Machine) -> list[Remark]:
    if machine is not Machine.AUTOCLAVE:
        return []
    return [Remark("machine.kind", "The kind of autoclave is not told: judged as gravity flow.")]


def _no_window(regime: Regime, machine: Machine) -> str:
    step = machine.step.value.replace("_", " ")
    return (
        f"{regime.title} gives no temperature and time for {step} on that day: no trace can show "
        "it; follow the licence and its validation"
    )


def _unjudged(problems: Sequence[Problem], remarks: Sequence[Remark] = ()) -> Judgement:
    reasons = tuple(Reason("trace", None, str(problem)) for problem in problems)
    return Judgement(Verdict.CANNOT_BE_JUDGED, reasons, tuple(remarks))
