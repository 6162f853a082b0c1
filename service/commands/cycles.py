"""Record a plant's cycles at a desk, and see what each proves: the same as the door ``/v1/cycles``.

The same command again records the same events, and so changes nothing.
"""

import json
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any
from uuid import NAMESPACE_OID, uuid5

import typer

from service.commands.frame import FacilityOption, JsonOption, app, now, open_facility, settings
from service.custody.acts import Step
from service.custody.site import Machine
from service.duties import cycles
from service.duties.access import Caller
from service.duties.cycles import TooLargeError
from service.duties.lookup import NotFoundError
from service.duties.record import Outcome, Told, record_events
from service.store.store import Store
from service.terminal import FOUND_WRONG, lines, moment, stop, text

cycle = typer.Typer(
    no_args_is_help=True, help="Cycles of treatment machines: runs, their evidence, their verdict."
)
app.add_typer(cycle, name="cycle")

NumberArgument = Annotated[str, typer.Argument(metavar="NUMBER", help="Number of the cycle.")]
ActorOption = Annotated[str, typer.Option(help="Who did it, as the record knows them.")]
LotOption = Annotated[str | None, typer.Option(help="Lot of the indicator.")]
AtOption = Annotated[str | None, typer.Option(help="When, ISO time with zone; now if left out.")]
_SAID = {
    "pass": "PASS",
    "fail": "FAIL",
    "cannot_be_judged": "CANNOT BE JUDGED",
    "no_trace": "NO TRACE YET",
}
_TYPES = {".json": "application/json"}


@cycle.command()
def run(
    machine: Annotated[str, typer.Option(help="Id of the machine in the register.")],
    started: Annotated[str, typer.Option(help="When it started, ISO time with zone.")],
    ended: Annotated[str, typer.Option(help="When it ended, ISO time with zone.")],
    actor: ActorOption,
    number: Annotated[
        str | None, typer.Option(help="Number of the cycle; one is made if none is given.")
    ] = None,
    step: Annotated[
        Step | None, typer.Option(help="What it did, where the machine does several things.")
    ] = None,
    containers: Annotated[
        list[str] | None, typer.Option("--container", help="What was in it; may be repeated.")
    ] = None,
    load_g: Annotated[int | None, typer.Option(min=0, help="Weight of the load, grams.")] = None,
    program: Annotated[str | None, typer.Option(help="Program of the machine.")] = None,
    trace: Annotated[
        Path | None, typer.Option(help="Logger's file, CSV or JSON, to be attached.")
    ] = None,
    as_json: JsonOption = False,
    facility: FacilityOption = None,
) -> None:
    """Record a run with its load and its trace; exit 1 unless it passes.

    By trained operators only: pressure vessels and fire. Stop the service first (SQLite).
    """
    content = _content(trace) if trace else b""
    store, caller = open_facility(facility)
    held = _machine(store, caller, machine)
    told: dict[str, Any] = {
        "occurred_at": moment(ended).isoformat(),
        "started_at": moment(started).isoformat(),
        "actor": actor,
        "machine": held.id,
        "party": held.party,
        "step": _step(held, step).value,
        "cycle": number,
        "program": program,
        "load_g": load_g,
        "containers": containers or [],
    }
    name, outcomes = cycles.run_cycle(store, caller, _identified(told), Told(now()))
    _recorded(outcomes)
    if trace:
        _attach(store, caller, name, trace, content)
    _show(store, caller, name, as_json)


@cycle.command(name="trace")
def trace_(
    number: NumberArgument,
    file: Annotated[Path, typer.Argument(help="Logger's file, CSV or JSON.")],
    as_json: JsonOption = False,
    facility: FacilityOption = None,
) -> None:
    """Attach a logger's file to a cycle that was recorded; exit 1 unless it passes.

    Stop the service first (SQLite).
    """
    content = _content(file)
    store, caller = open_facility(facility)
    _attach(store, caller, number, file, content)
    _show(store, caller, number, as_json)


@cycle.command()
def indicator(
    number: NumberArgument,
    turned: Annotated[bool, typer.Option("--turned/--not-turned", help="Whether it turned.")],
    actor: ActorOption,
    at: AtOption = None,
    lot: LotOption = None,
    position: Annotated[str | None, typer.Option(help="Where in the load it lay.")] = None,
    as_json: JsonOption = False,
    facility: FacilityOption = None,
) -> None:
    """Record that a chemical indicator of a cycle was read; exit 1 unless the cycle passes.

    Stop the service first (SQLite).
    """
    store, caller = open_facility(facility)
    told = {
        "kind": "indicator_read",
        "occurred_at": _when(at).isoformat(),
        "actor": actor,
        "cycle": number,
        "turned": turned,
        "lot": lot,
        "position": position,
    }
    _recorded(record_events(store, caller, [_identified(told)], Told(now())))
    _show(store, caller, number, as_json)


@cycle.command()
def spores(
    machine: Annotated[str, typer.Argument(metavar="MACHINE", help="Id of the machine.")],
    grew: Annotated[bool, typer.Option("--grew/--no-growth", help="Whether spores grew.")],
    ran: Annotated[str, typer.Option(help="When the machine ran with it, ISO time with zone.")],
    actor: ActorOption,
    number: Annotated[str | None, typer.Option(help="Number of the cycle it was in.")] = None,
    read: Annotated[str | None, typer.Option(help="When it was read, ISO time with zone.")] = None,
    lot: LotOption = None,
    facility: FacilityOption = None,
) -> None:
    """Record the result of a spore test of a machine; exit 1 if spores grew.

    Stop the service first (SQLite).
    """
    store, caller = open_facility(facility)
    told = {
        "kind": "spore_tested",
        "occurred_at": moment(ran).isoformat(),
        "actor": actor,
        "machine": _machine(store, caller, machine).id,
        "grew": grew,
        "cycle": number,
        "read_at": moment(read).isoformat() if read else None,
        "lot": lot,
    }
    _recorded(record_events(store, caller, [_identified(told)], Told(now())))
    raise typer.Exit(FOUND_WRONG if grew else 0)


@cycle.command()
def show(
    number: NumberArgument, as_json: JsonOption = False, facility: FacilityOption = None
) -> None:
    """Show what a cycle proves, and what is wrong with it; exit 1 unless it passes."""
    store, caller = open_facility(facility)
    _show(store, caller, number, as_json)


def _content(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        stop(f"{file} cannot be read: {error.strerror}")


def _when(at: str | None) -> datetime:
    return moment(at) if at else now()


def _machine(store: Store, caller: Caller, name: str) -> Machine:
    held = {m.id: m for m in cycles.machines(store, caller)}
    if name not in held:
        stop(f"no machine '{name}' is in the register; there are: {', '.join(held) or 'none'}")
    return held[name]


def _step(machine: Machine, told: Step | None) -> Step:
    if told is not None:
        return told
    if len(machine.does) != 1:
        known = ", ".join(sorted(step.value for step in machine.does)) or "none"
        stop(f"say by --step what {machine.id} did; it does: {known}")
    return next(iter(machine.does))


def _identified(told: dict[str, Any]) -> dict[str, Any]:
    """Leave out what was not told, and give an id that follows from the rest."""
    said = {name: value for name, value in told.items() if value is not None}
    return said | {"id": str(uuid5(NAMESPACE_OID, json.dumps(said, sort_keys=True)))}


def _recorded(outcomes: Iterable[Outcome]) -> None:
    for outcome in outcomes:
        if outcome.outcome == "refused":
            stop(outcome.reason)


def _attach(store: Store, caller: Caller, number: str, file: Path, content: bytes) -> None:
    kind = _TYPES.get(file.suffix.lower(), "text/csv")
    most = settings().trace_bytes_max
    try:
        told = Told(now())
        _recorded([cycles.attach_trace(store, caller, number, content, kind, told, most)])
    except (NotFoundError, TooLargeError, ValueError) as error:
        stop(f"{file}: {error}")


def _show(store: Store, caller: Caller, number: str, as_json: bool) -> None:
    """Print a cycle with its verdict, and end by it."""
    try:
        view = cycles.cycle(store, caller, number)
    except NotFoundError as error:
        stop(str(error))
    proof = view.proof
    if as_json:
        typer.echo(json.dumps(_figures(view), ensure_ascii=False, default=text))
    else:
        local = view.rules.local
        span = (
            f"{local(proof.started_at)} to {local(proof.ended_at)}"
            if proof.started_at and proof.ended_at
            else None
        )
        figures: dict[str, object] = {
            "cycle": proof.cycle,
            "machine": proof.machine,
            "ran": span,
            "load": f"{len(view.load)} containers",
            "verdict": _SAID[proof.outcome],
            "because": proof.because or None,
            "clause": proof.clause or None,
        }
        typer.echo(lines(figures))
        for finding in proof.findings:
            typer.echo(f"wrong: {finding.message} ({finding.clause})")
        for duty in proof.duties:
            if duty.shown_at is None:
                typer.echo(f"due {local(duty.due_at)}: {duty.message} ({duty.clause})")
    raise typer.Exit(0 if proof.outcome == "pass" else FOUND_WRONG)


def _figures(view: cycles.CycleView) -> dict[str, Any]:
    proof = view.proof
    return {
        **{k: v for k, v in proof._asdict().items() if k not in ("findings", "duties")},
        "findings": [one._asdict() for one in proof.findings],
        "duties": [one._asdict() for one in proof.duties],
        "load": view.load,
    }
