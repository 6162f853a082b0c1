"""Judge a logger's file of one treatment cycle, apart from any record."""

import json
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Annotated, Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import typer

from service.commands.frame import JsonOption, app, now
from service.duties import lookup
from service.terminal import FOUND_WRONG, moment, read_text, stop
from service.treatment.machines import Machine
from service.treatment.reasons import Verdict
from service.treatment.steam import ATMOSPHERE_KPA
from service.treatment.sterilisation import DRY, MOIST, Reference
from service.treatment.verdict import Judgement, Told, judge_text

_WORDS = {
    Verdict.PASS: "PASS",
    Verdict.FAIL: "FAIL",
    Verdict.CANNOT_BE_JUDGED: "CANNOT BE JUDGED",
}
_MET = {True: "met", False: "NOT MET", None: "not shown"}
CAUTION = (
    "A trace shows what its sensors saw. Validation, calibration, the licence and local codes "
    "come first; pressure vessels by trained operators only."
)


@app.command()
def judge(
    trace: Annotated[Path, typer.Argument(help="Logger's file, CSV or JSON.")],
    machine: Annotated[Machine, typer.Option(help="Kind of machine.")],
    regime: Annotated[str, typer.Option(help="Id of the regime to judge by.")],
    on: Annotated[
        str | None, typer.Option(help="Day of the cycle, 2026-07-01; else the trace's, or today.")
    ] = None,
    zone: Annotated[
        str | None, typer.Option(help="Zone of clock times without one, as Asia/Kolkata.")
    ] = None,
    started: Annotated[
        str | None, typer.Option(help="When the cycle started, to find a wrong zone.")
    ] = None,
    ambient_kpa: Annotated[
        float, typer.Option(min=40, max=110, help="Pressure of the air at the site, kPa.")
    ] = ATMOSPHERE_KPA,
    reference_c: Annotated[
        float | None, typer.Option(help="Reference temperature of lethality, °C.")
    ] = None,
    z: Annotated[float | None, typer.Option(help="z of lethality, K.")] = None,
    d_value: Annotated[
        float | None, typer.Option(help="D at the reference temperature, minutes.")
    ] = None,
    residence_s: Annotated[
        float | None, typer.Option(min=0, help="Time of the gas in the chamber, s.")
    ] = None,
    load_wet: Annotated[
        bool | None, typer.Option("--wet/--dry", help="The load came out wet, or dry.")
    ] = None,
    indicator: Annotated[
        bool | None,
        typer.Option("--turned/--not-turned", help="The chemical indicator turned, or not."),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Judge a sensor trace by a regime: pass, fail or unknown; exit 1 unless it passes."""
    told = Told(
        started=moment(started) if started else None,
        ambient_kpa=ambient_kpa,
        zone=_zone(zone),
        load_wet=load_wet,
        indicator_turned=indicator,
        residence_s=residence_s,
        reference=_reference(machine, reference_c, z, d_value),
    )
    try:
        rules = lookup.regime(regime)
    except lookup.NotFoundError as error:
        stop(str(error))
    text = read_text(trace)
    found = judge_text(text, machine, rules, told, today=now().date(), on=_day(on))
    if as_json:
        typer.echo(json.dumps(_figures(found, machine, regime), ensure_ascii=False, default=str))
    else:
        _tell(found, machine, rules.title)
    raise typer.Exit(0 if found.verdict is Verdict.PASS else FOUND_WRONG)


def _zone(name: str | None) -> ZoneInfo | None:
    try:
        return ZoneInfo(name) if name else None
    except (ZoneInfoNotFoundError, ValueError, OSError):
        stop(f"there is no zone '{name}'; write it as Asia/Kolkata")


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        stop(f"'{text}' is no day; write it as 2026-07-01")


def _reference(
    machine: Machine, temperature_c: float | None, z: float | None, d_min: float | None
) -> Reference | None:
    """Give the usual reference of the process with what was asked for in its place."""
    usual = DRY if machine is Machine.DRY_HEAT else MOIST
    if temperature_c is z is d_min is None:
        return None
    try:
        return Reference(
            usual.name,
            usual.temperature_c if temperature_c is None else temperature_c,
            usual.z_k if z is None else z,
            usual.d_min if d_min is None else d_min,
        )
    except ValueError as error:
        stop(str(error))


def _figures(found: Judgement, machine: Machine, regime: str) -> dict[str, Any]:
    """Give the judgement for a script; ``f0_min`` is None where the process has no F0."""
    told = asdict(found)
    lethality = found.lethality
    f0 = lethality if lethality and lethality.reference.name == MOIST.name else None
    return {
        "verdict": told.pop("verdict"),
        "machine": machine.value,
        "regime": regime,
        "f0_min": f0.worst_min if f0 else None,
        "log_reduction": lethality.log_reduction if lethality else None,
        "reference_c": lethality.reference.temperature_c if lethality else None,
        "z_k": lethality.reference.z_k if lethality else None,
        "d_min": lethality.reference.d_min if lethality else None,
        **told,
        "caution": CAUTION,
    }


def _tell(found: Judgement, machine: Machine, title: str) -> None:
    """Say the judgement to a person."""
    typer.echo(f"{_WORDS[found.verdict]}  ({machine.value.replace('_', ' ')}, {title})")
    for reason in found.reasons:
        typer.echo(f"  {_MET[reason.met]:9}  {reason.said}")
        if reason.clause:
            typer.echo(f"             {reason.clause}; {reason.source} ({reason.verified})")
    if found.lethality:
        f = found.lethality
        typer.echo(
            f"{f.reference.name} {f.worst_min:.2f} min at the worst probe (reference "
            f"{f.reference.temperature_c:g} °C, z {f.reference.z_k:g} K); log reduction "
            f"{f.log_reduction:.1f} for D {f.reference.d_min:g} min"
        )
    for window in found.windows:
        typer.echo(f"  {_MET[window.met]:9}  {window.window}: dwell {window.dwell_min:.2f} min")
    for remark in found.remarks:
        typer.echo(f"Note: {remark.said}")
    typer.echo(CAUTION, err=True)
