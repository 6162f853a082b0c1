"""Print labels and import lists kept elsewhere."""

import json
from pathlib import Path
from typing import Annotated
from uuid import uuid4

import typer
from rich.progress import Progress

from labels.stock import STOCKS
from service.commands.files import FOLDER, demand_folder, ready, write
from service.commands.frame import FacilityOption, JsonOption, app, now, open_facility, settings
from service.custody.identifiers import typed
from service.duties import importing, lookup, ward
from service.terminal import FOUND_WRONG, INTERRUPTED, console, lines, stop


@app.command()
def labels(
    out: Annotated[Path, typer.Option(help=f"PDF file to write. {FOLDER}")],
    count: Annotated[
        int, typer.Option(min=1, max=ward.LABELS_MAX, help="How many blank ones.")
    ] = 40,
    stock: Annotated[str, typer.Option(help=f"One of: {', '.join(STOCKS)}.")] = "a4-8",
    containers: Annotated[
        list[str] | None, typer.Option("--container", help="Print this registered one, filled.")
    ] = None,
    facility: FacilityOption = None,
) -> None:
    """Print labels: blank and pre-numbered, or filled for containers that are registered.

    Blank ones are recorded: stop the service first (SQLite), or ask it for them.
    """
    ready(out)
    store, caller = open_facility(facility)
    url = settings().label_url
    try:
        if containers:
            ids = [typed(container) for container in containers]
            pdf, shortened = ward.filled_labels(store, caller, ids, stock, url, now())
            if shortened:
                fields = ", ".join(shortened).replace("_", " ")
                console.print(f"{stock} has no room to print in full: {fields}", highlight=False)
        else:
            asked = ward.BlankLabels(uuid4(), count, stock, url, "command line")
            pdf = ward.blank_labels(store, caller, asked, now())[1]
    except (ValueError, lookup.NotFoundError) as error:
        stop(str(error))
    write(out, pdf)


@app.command(name="import")
def import_(
    file: Annotated[Path, typer.Argument(help="CSV or JSON Lines file of events.")],
    mapping: Annotated[Path | None, typer.Option(help="Mapping of its headers, TOML.")] = None,
    keeper: Annotated[str, typer.Option(help="Who kept the list.")] = "unknown",
    rejects: Annotated[Path | None, typer.Option(help=f"Where refused lines go. {FOLDER}")] = None,
    facility: FacilityOption = None,
    as_json: JsonOption = False,
) -> None:
    """Import events from a list kept elsewhere; may be run again at any time.

    Stop the service first (SQLite).
    """
    suffix = ".csv" if file.suffix.lower() == ".csv" else file.suffix
    rejects = rejects or file.with_name(f"{file.stem}-rejects{suffix}")
    demand_folder(rejects)
    store, caller = open_facility(facility)
    store.database.claim()  # before the report is begun: where another writes there is none
    try:
        with Progress(console=console, transient=True) as bar:
            task = bar.add_task("importing", total=None)
            report = importing.import_file(
                store,
                caller,
                file,
                importing.read_mapping(mapping) if mapping else importing.plain(keeper),
                now(),
                rejects=rejects,
                progress=lambda done, whole: bar.update(task, completed=done, total=whole),
            )
    except (importing.MappingError, importing.UnreadableListError) as error:
        stop(str(error))
    except KeyboardInterrupt:
        stop("stopped: what was recorded is kept; run the same import again", INTERRUPTED)
    counted = ("lines", "recorded", "repeated", "refused", "violations")
    figures: dict[str, object] = {name: getattr(report, name) for name in counted}
    figures |= {"report": str(report.file)}
    figures |= {"rejects": str(report.rejects) if report.rejects else None}
    typer.echo(json.dumps(figures) if as_json else lines(figures))
    raise typer.Exit(FOUND_WRONG if report.refused else 0)
