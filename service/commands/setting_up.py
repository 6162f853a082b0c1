"""Set up a facility with its first administrator, and derive the projections anew."""

import sys
from pathlib import Path
from typing import Annotated

import typer
from rich.progress import Progress

from service.commands.asking import ask_file
from service.commands.frame import COMMAND_LINE, FacilityOption, app, now, open_facility, open_store
from service.commands.people import tell_code
from service.custody.words import Role
from service.duties import administrator, lookup, officer
from service.duties.access import Caller
from service.duties.administrator import NewPerson
from service.duties.setup_file import SetupError, read_site
from service.store.store import Store
from service.terminal import console, stop


@app.command()
def setup(
    file: Annotated[
        Path | None, typer.Argument(help="Set-up file of the site, TOML; asked for if left out.")
    ] = None,
    administrator_id: Annotated[
        str | None, typer.Option("--administrator", help="Id of an administrator to add.")
    ] = None,
    name: Annotated[str | None, typer.Option(help="Name of that administrator.")] = None,
) -> None:
    """Set up a facility from a file or by questions, or change it and judge anew.

    Adds the first administrator, and prints the code by which they set a password. Stop the
    service first (SQLite).
    """
    if (administrator_id is None) != (name is None):
        stop("give --administrator and --name together")
    asked = file is None
    path = file or ask_file()
    try:
        site = read_site(path)
        caller = Caller(site.id, COMMAND_LINE, Role.ADMINISTRATOR)
        store = open_store()
        version = officer.set_up(store, caller, site, now())
    except (SetupError, lookup.NotFoundError) as error:
        stop(f"{error}; correct {path} and run 'custody setup {path}'" if asked else str(error))
    typer.echo(f"{site.name}: set-up {version} is in force, regime {site.regime}.")
    if version > 1:
        _rebuild(store, caller)
    if administrator_id is None and version == 1 and (asked or sys.stdin.isatty()):
        administrator_id = typer.prompt("Id of the first administrator, such as p-head")
        name = typer.prompt("Name of the first administrator")
    if administrator_id is not None and name is not None:
        _add(store, caller, administrator_id, name)
    elif version == 1:
        typer.echo(
            "Nobody can sign in yet: add the first with "
            "'custody people add --role administrator --name NAME'."
        )


def _add(store: Store, caller: Caller, administrator_id: str, name: str) -> None:
    new = NewPerson(name, Role.ADMINISTRATOR, id=administrator_id)
    try:
        person, code = administrator.add_person(store, caller, new, now())
    except ValueError as error:
        stop(f"nobody was added: {error}; add somebody with 'custody people add'")
    tell_code(person.id, code)


@app.command()
def rebuild(facility: FacilityOption = None) -> None:
    """Derive containers, deadlines and violations anew from the record.

    Stop the service first (SQLite).
    """
    _rebuild(*open_facility(facility))


def _rebuild(store: Store, caller: Caller) -> None:
    with Progress(console=console, transient=True) as bar:
        task = bar.add_task("rebuilding", total=None)
        for done, whole in officer.rebuild(store, caller, now()):
            bar.update(task, completed=done, total=whole)
    typer.echo("What is on record is judged by the set-up and the rules in force.")
