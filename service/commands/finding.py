"""Say what is late, wrong, unsafe or lost, and which regimes there are to judge by."""

import json
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table

from service.commands.frame import FacilityOption, JsonOption, app, now, open_facility
from service.custody.verdict import Code
from service.custody.words import Severity
from service.duties import lookup
from service.regimes.page import page
from service.terminal import FOUND_WRONG, moment, stop, text


@app.command()
def violations(
    at: Annotated[str | None, typer.Option(help="As it stood then, ISO time with zone.")] = None,
    code: Annotated[Code | None, typer.Option(help="Only this code.")] = None,
    severity: Annotated[Severity | None, typer.Option(help="Only this severity.")] = None,
    everything: Annotated[bool, typer.Option("--all", help="Closed ones too.")] = False,
    limit: Annotated[int, typer.Option(min=1, max=lookup.PAGE_MAX, help="How many at most.")] = 200,
    facility: FacilityOption = None,
    as_json: JsonOption = False,
) -> None:
    """List what is late, wrong, unsafe or lost, and what to do next; exit 1 if anything is."""
    store, caller = open_facility(facility)
    then = moment(at) if at else now()
    asked = lookup.ViolationFilter(
        at=then, code=code, severity=severity, standing=not everything, limit=limit
    )
    found = [v for _, v in lookup.violations(store, caller, asked)]
    if as_json:
        typer.echo(json.dumps([v._asdict() for v in found], default=text))
    else:
        local = store.rules(caller.facility).local
        for v in found:
            typer.echo(f"{local(v.opened_at)}  {v.severity:6}  {v.code:23}  {v.container}")
            typer.echo(f"    {v.message}\n    {v.clause}\n    Next: {v.next_action}")
        first = "the first " if len(found) == limit else ""
        typer.echo(f"{first}{len(found)} violation(s) at {local(then)}", err=True)
    raise typer.Exit(FOUND_WRONG if found else 0)


@app.command()
def regimes(
    regime_id: Annotated[str | None, typer.Argument(help="Show this one whole.")] = None,
    as_json: JsonOption = False,
) -> None:
    """List the regimes that come with the service, or show one."""
    if regime_id is None:
        known = [lookup.regime(i) for i in lookup.regime_ids()]
        if as_json:
            typer.echo(json.dumps([{"id": r.id, "title": r.title} for r in known]))
        else:
            table = Table("id", "title", "jurisdiction")
            for r in known:
                table.add_row(r.id, r.title, r.jurisdiction)
            Console().print(table)
        return
    try:
        found = lookup.regime(regime_id)
    except lookup.NotFoundError as error:
        stop(str(error))
    typer.echo(found.model_dump_json(by_alias=True) if as_json else page(found))
