"""Write what goes out of the house: the manifest of a quarter."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from service.commands.frame import FacilityOption, app, now, open_facility
from service.duties import officer
from service.terminal import console, ready, stop, write


class Form(StrEnum):
    """The forms a manifest can be written in."""

    ZIP = "zip"
    PDF = "pdf"
    XLSX = "xlsx"
    CSV = "csv"


@app.command()
def manifest(
    quarter: Annotated[str, typer.Argument(help="Such as 2026-Q3.")],
    out: Annotated[Path, typer.Option(help="File to write: .zip, .pdf, .xlsx or .csv.")],
    facility: FacilityOption = None,
) -> None:
    """Write the manifest of a quarter."""
    ready(out)
    store, caller = open_facility(facility)
    try:
        form = Form(out.suffix.lower().removeprefix("."))
        with console.status("reckoning"):
            paper = officer.paper(store, caller, quarter, form.value, now())
    except ValueError as error:
        stop(
            str(error)
            if out.suffix in {f".{f}" for f in Form}
            else f"'{out.name}' must end in .zip, .pdf, .xlsx or .csv"
        )
    write(out, paper)
