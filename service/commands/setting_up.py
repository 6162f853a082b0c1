"""Set up a facility, let devices in and out, and derive the projections anew."""

from datetime import timedelta
from pathlib import Path
from typing import Annotated

import typer
from rich.progress import Progress

from service.commands.frame import FacilityOption, app, now, open_facility, open_store
from service.custody.words import Role
from service.duties import administrator, lookup, officer
from service.duties.access import Caller
from service.duties.setup_file import SetupError, read_site
from service.store.store import Store
from service.terminal import FOUND_WRONG, console, stop


@app.command()
def setup(file: Annotated[Path, typer.Argument(help="Set-up file of the site, TOML.")]) -> None:
    """Set up a facility from a file and print a token, or change it and judge anew.

    Stop the service first (SQLite).
    """
    try:
        site = read_site(file)
        store = open_store()
        version = officer.set_up(store, site, now())
    except (SetupError, lookup.NotFoundError) as error:
        stop(str(error))
    caller = Caller(site.id, "command line", Role.ADMINISTRATOR)
    typer.echo(f"{site.name}: set-up {version} is in force, regime {site.regime}.")
    if version == 1:
        token = administrator.admit_program(
            store, caller, "administrator", Role.ADMINISTRATOR, now(), timedelta(days=90)
        )
        typer.echo(f"Token of the administrator, shown this once, valid 90 days:\n{token}")
    else:
        _rebuild(store, caller)


@app.command()
def admit(
    name: Annotated[str, typer.Argument(help="Name of the device or program.")],
    role: Annotated[Role, typer.Option(help="What it may do.")],
    days: Annotated[int, typer.Option(min=1, max=3650, help="Days the token is valid.")] = 90,
    facility: FacilityOption = None,
) -> None:
    """Let a device or program in: prints its token, once."""
    store, caller = open_facility(facility)
    try:
        typer.echo(
            administrator.admit_program(store, caller, name, role, now(), timedelta(days=days))
        )
    except ValueError as error:
        stop(str(error))


@app.command()
def revoke(
    name: Annotated[str, typer.Argument(help="Name of the device or program.")],
    facility: FacilityOption = None,
) -> None:
    """End every token of a device or program at once."""
    store, caller = open_facility(facility)
    ended = administrator.revoke_client(store, caller, name, now())
    if not ended:
        stop(f"'{name}' holds no valid token", FOUND_WRONG)
    typer.echo(f"{ended} token(s) of '{name}' ended.")


@app.command()
def rebuild(facility: FacilityOption = None) -> None:
    """Derive containers, deadlines and violations anew from the record.

    Stop the service first (SQLite).
    """
    _rebuild(*open_facility(facility))


def _rebuild(store: Store, caller: Caller) -> None:
    with Progress(console=console, transient=True) as bar:
        task = bar.add_task("rebuilding", total=None)
        for done, whole in officer.rebuild(store, caller):
            bar.update(task, completed=done, total=whole)
    typer.echo("What is on record is judged by the set-up and the rules in force.")
