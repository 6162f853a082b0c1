"""Plan pick-ups from the record, at the terminal."""

import json
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Annotated, Any

import typer
from rich.table import Table

from service.commands.frame import FacilityOption, JsonOption, app, now, open_facility
from service.duties import planning
from service.duties.planning import Asked, PlanError, PlanView
from service.terminal import FOUND_WRONG, console, stop

DaysOption = Annotated[list[str] | None, typer.Option(help="A day; may be repeated.")]


@app.command()
def plan(
    days: Annotated[int, typer.Option(help="How far to look ahead.")] = planning.DAYS,
    load_kg: Annotated[str | None, typer.Option(help="What a vehicle takes.")] = None,
    onward_h: Annotated[str | None, typer.Option(help="Hours from pick-up to treatment.")] = None,
    broken: Annotated[
        list[str] | None, typer.Option(help="What if this vehicle stands still; may be repeated.")
    ] = None,
    holiday: DaysOption = None,
    plant_closed: DaysOption = None,
    as_json: JsonOption = False,
    facility: FacilityOption = None,
) -> None:
    """Plan the fewest pick-ups that keep every holding limit; exit 1 if one cannot be kept.

    Local codes, the carrier's authorisation and licensed practice come first.
    """
    asked = Asked(
        days,
        _number(load_kg, "load-kg"),
        _number(onward_h, "onward-h"),
        tuple(broken or ()),
        _days(holiday),
        _days(plant_closed),
    )
    store, caller = open_facility(facility)
    try:
        view = planning.plan(store, caller, asked, now())
    except PlanError as error:
        stop(str(error))
    if as_json:
        typer.echo(json.dumps(_told(view), indent=2))
    else:
        _print(view)
    if view.left:
        raise typer.Exit(FOUND_WRONG)


def _number(text: str | None, name: str) -> Decimal | None:
    if text is None:
        return None
    try:
        value = Decimal(text)
    except InvalidOperation:
        stop(f"--{name}: '{text}' is no number")
    if not (value.is_finite() and 0 <= value <= 100_000):
        stop(f"--{name}: '{text}' is out of bounds")
    return value


def _days(texts: list[str] | None) -> tuple[date, ...]:
    try:
        return tuple(date.fromisoformat(text) for text in texts or ())
    except ValueError:
        stop("a day is written as 2026-07-31")


def _told(view: PlanView) -> dict[str, Any]:
    table = view.timetable
    return {
        "from_at": view.situation.from_at.isoformat(),
        "until_at": view.situation.until_at.isoformat(),
        "stores": [
            {
                "store": s.store.id,
                "containers": s.containers,
                "weight_g": s.weight_g,
                "expected": s.expected,
                "first_break": s.first_break and s.first_break.at.isoformat(),
                "latest_safe": s.latest_safe and s.latest_safe.until_at.isoformat(),
            }
            for s in view.stores
        ],
        "loads": [
            {
                "at": load.at.isoformat(),
                "weight_g": load.weight_g,
                "containers": [w.container for w in load.containers if not w.expected],
                "expected": sum(w.expected for w in load.containers),
            }
            for load in table.loads
        ],
        "at_least": table.at_least,
        "proved_least": table.proved_least,
        "missed": len(table.missed),
        "breaks_if_nobody_collects": len(view.uncollected),
        "breaks_left": len(view.left),
        "further_loads": view.what_if.further_loads,
        "assumed": list(view.assumed),
    }


def _print(view: PlanView) -> None:
    zone = view.situation.from_at.astimezone().tzinfo

    def told(at: datetime | None) -> str:
        return f"{at.astimezone(zone):%a %d %b %H:%M %Z}" if at else "–"

    stores = Table("store", "stands", "kg", "to come", "breaks first", "latest safe pick-up")
    for s in view.stores:
        first, safe = s.first_break, s.latest_safe
        why = f"{told(first.at)} ({first.kind})" if first else "–"
        stores.add_row(
            s.store.id,
            str(s.containers),
            f"{s.weight_g / 1000:.1f}",
            str(s.expected),
            why,
            told(safe.until_at if safe else None),
        )
    loads = Table("pick-up", "containers", "kg", title="The fewest pick-ups found")
    for load in view.timetable.loads:
        loads.add_row(told(load.at), str(len(load.containers)), f"{load.weight_g / 1000:.1f}")
    console.print(stores)
    console.print(loads)
    sure = "proved least" if view.timetable.proved_least else f"{view.timetable.at_least} at least"
    console.print(
        f"{len(view.timetable.loads)} loads, {sure}. Broken if nobody collects: "
        f"{len(view.uncollected)}; with this plan: {len(view.left)}."
    )
    for one in view.assumed:
        console.print(one)
