"""Write what goes out of the house: the manifest of a quarter, and the record as others read it."""

from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from service.commands.files import FOLDER, ready, write, written
from service.commands.frame import (
    FacilityOption,
    app,
    keeping_of,
    now,
    open_facility,
    settings,
)
from service.duties import evidence, exchange, officer
from service.manifests.quarter import QuarterError
from service.terminal import FOUND_WRONG, console, moment, stop

FORMS: dict[str, officer.Form] = {".pdf": "pdf", ".xlsx": "xlsx", ".csv": "csv"}


@app.command()
def manifest(
    quarter: Annotated[str, typer.Argument(help="Such as 2026-Q3.")],
    out: Annotated[
        Path, typer.Option(help=f"File to write: .zip (all, with proofs) or one paper. {FOLDER}")
    ],
    facility: FacilityOption = None,
) -> None:
    """Write the manifest of a quarter: a .zip that proves itself, or one .pdf, .xlsx or .csv."""
    ending = out.suffix.lower()
    if ending != ".zip" and ending not in FORMS:
        stop(f"'{out.name}' must end in .zip, .pdf, .xlsx or .csv")
    ready(out)
    store, caller = open_facility(facility)
    try:
        with console.status("reckoning"):
            if ending == ".zip":
                with written(out) as file:
                    evidence.bundle(keeping_of(store), caller, quarter, now(), file)
                return
            paper = officer.paper(store, caller, quarter, FORMS[ending], now())
    except evidence.ForkError as error:
        stop(str(error), FOUND_WRONG)
    except (QuarterError, evidence.KeyringError, evidence.BundleError) as error:
        stop(str(error))
    write(out, paper)


@app.command()
def epcis(
    from_: Annotated[str, typer.Option("--from", help="The first instant, ISO time with zone.")],
    until: Annotated[str, typer.Option(help="The first instant after the period.")],
    out: Annotated[Path, typer.Option(help=f"JSON-LD file to write. {FOLDER}")],
    facility: FacilityOption = None,
) -> None:
    """Write what happened in a period as GS1 EPCIS 2.0 events."""
    period = moment(from_), moment(until)
    ready(out)
    store, caller = open_facility(facility)
    try:
        parts = exchange.epcis(store, caller, period, now(), settings().label_url)
        with closing(parts), console.status("writing"), written(out) as file:
            for part in parts:
                file.write(part)
    except exchange.PeriodError as error:
        stop(str(error))
