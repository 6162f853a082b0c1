"""Returns to authorities, at the terminal: what is due, and one filled as a file."""

import json
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer
from rich.table import Table

from service.commands.files import FOLDER, ready, write
from service.commands.frame import FacilityOption, app, now, open_facility
from service.duties import returns as duty
from service.duties.lookup import NotFoundError
from service.manifests.quarter import QuarterError
from service.terminal import console, stop


@app.command()
def returns(
    return_id: Annotated[
        str | None, typer.Argument(help="Such as form-iv; without one, what is due is listed.")
    ] = None,
    period: Annotated[
        str | None, typer.Argument(help="Such as 2026, 2026-Q3, 2026-07; of an event its day.")
    ] = None,
    out: Annotated[Path | None, typer.Option(help=f"File to write, .xlsx or .json. {FOLDER}")] = (
        None
    ),
    facility: FacilityOption = None,
) -> None:
    """List the returns that are due, or fill one from the record."""
    store, caller = open_facility(facility)
    if return_id is None:
        table = Table("return", "period", "due", "days left", "to")
        for one in duty.due(store, caller, now()):
            left = "–" if one.days_left is None else str(one.days_left)
            table.add_row(one.rule.id, one.period, str(one.due_on or "–"), left, one.rule.to)
        for rule in duty.at_once(store, caller, now()):
            table.add_row(rule.id, "an event", f"within {rule.due_hours} h", "–", rule.to)
        console.print(table)
        return
    if period is None or out is None or out.suffix.lower() not in (".xlsx", ".json"):
        stop("a return is filled for a period, into a file: --out NAME.xlsx or NAME.json")
    ready(out)
    try:
        if out.suffix.lower() == ".xlsx":
            write(out, duty.paper(store, caller, return_id, period, now()))
        else:
            told = json.dumps(asdict(duty.fill(store, caller, return_id, period)), default=str)
            write(out, told.encode())
    except (NotFoundError, QuarterError) as error:
        stop(str(error))
