"""Let people in: add, change, shut out, and give what they prove by."""

import json
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console
from rich.table import Table

from labels.badge import badge_card
from service.access.lifetimes import ACTIVATION
from service.access.people import Person
from service.commands.files import FOLDER, ready, write
from service.commands.frame import FacilityOption, JsonOption, app, now, open_facility
from service.commands.reaching import (
    PartiesOption,
    UnitsOption,
    UntilOption,
    reach,
    scope_of,
    until_of,
)
from service.custody.words import Role
from service.duties import administrator
from service.duties.administrator import NewPerson
from service.duties.lookup import NotFoundError
from service.terminal import console, stop

people = typer.Typer(no_args_is_help=True, help="Who may sign in, with what role and reach.")
app.add_typer(people, name="people")

PersonArgument = Annotated[str, typer.Argument(metavar="ID", help="Id of the person.")]
_REFUSED = (ValueError, NotFoundError)
_HOURS = int(ACTIVATION.total_seconds()) // 3_600


@people.command(name="list")
def list_(facility: FacilityOption = None, as_json: JsonOption = False) -> None:
    """List everybody, those who were shut out too."""
    store, caller = open_facility(facility)
    found = administrator.people(store, caller)
    if as_json:
        typer.echo(json.dumps([_json(person) for person in found], ensure_ascii=False))
        return
    local, at = store.rules(caller.facility).local, now()
    table = Table("id", "name", "role", "reach", "until", "")
    for person in found:
        until = local(person.valid_until) if person.valid_until else ""
        state = "" if person.may_enter(at) else "shut out" if person.disabled_at else "ended"
        table.add_row(person.id, person.name, person.role, reach(person.scope), until, state)
    Console().print(table)


@people.command()
def add(
    name: Annotated[str, typer.Option(help="Name, as the officers know them.")],
    role: Annotated[Role, typer.Option(help="What they may do.")],
    id_: Annotated[
        str | None, typer.Option("--id", help="Id in the record; one is made if none is given.")
    ] = None,
    units: UnitsOption = None,
    parties: PartiesOption = None,
    until: UntilOption = None,
    facility: FacilityOption = None,
) -> None:
    """Add somebody: prints their id, and once the code by which they set a password."""
    store, caller = open_facility(facility)
    end = until_of(store, caller, until) if until else None
    new = NewPerson(name, role, scope_of(units, parties), id_, end)
    try:
        person, code = administrator.add_person(store, caller, new, now())
    except ValueError as error:
        stop(str(error))
    typer.echo(f"{person.name} is '{person.id}'.")
    tell_code(person.id, code)


@people.command()
def change(
    person: PersonArgument,
    name: Annotated[str | None, typer.Option(help="Another name.")] = None,
    role: Annotated[Role | None, typer.Option(help="Another role.")] = None,
    units: UnitsOption = None,
    parties: PartiesOption = None,
    whole: Annotated[bool, typer.Option("--whole", help="The whole facility.")] = False,
    until: UntilOption = None,
    no_end: Annotated[bool, typer.Option("--no-end", help="Without an end.")] = False,
    facility: FacilityOption = None,
) -> None:
    """Change name, role, reach or end; any but that of the name ends their sessions."""
    if whole and (units or parties):
        stop("give --whole, or the units and parties")
    if until and no_end:
        stop("give --until or --no-end")
    store, caller = open_facility(facility)
    asked: dict[str, Any] = {}
    asked |= {} if name is None else {"name": name}
    asked |= {} if role is None else {"role": role}
    asked |= {"scope": scope_of(units, parties)} if whole or units or parties else {}
    asked |= (
        {"valid_until": until_of(store, caller, until) if until else None}
        if (until or no_end)
        else {}
    )
    if not asked:
        stop("say what is to be changed: --name, --role, --unit, --party, --whole, --until, ...")
    try:
        changed = administrator.change_person(store, caller, person, now(), **asked)
    except _REFUSED as error:
        stop(str(error))
    typer.echo(f"'{changed.id}' is {changed.role} for {reach(changed.scope)}.")


@people.command()
def disable(
    person: PersonArgument,
    undo: Annotated[bool, typer.Option("--undo", help="Let them in again.")] = False,
    facility: FacilityOption = None,
) -> None:
    """Shut somebody out at once, with all their sessions."""
    store, caller = open_facility(facility)
    try:
        administrator.change_person(store, caller, person, now(), disabled=not undo)
    except _REFUSED as error:
        stop(str(error))
    typer.echo(f"'{person}' {'may come in again' if undo else 'is shut out'}.")


@people.command()
def activation(person: PersonArgument, facility: FacilityOption = None) -> None:
    """Have somebody set a new password: prints a code once; the old password ends."""
    store, caller = open_facility(facility)
    try:
        code = administrator.issue_activation(store, caller, person, now())
    except _REFUSED as error:
        stop(str(error))
    tell_code(person, code)


@people.command()
def badge(
    person: PersonArgument,
    out: Annotated[Path | None, typer.Option(help=f"PDF file to write. {FOLDER}")] = None,
    revoke: Annotated[bool, typer.Option("--revoke", help="End badge and PIN.")] = False,
    facility: FacilityOption = None,
) -> None:
    """Print a badge and a first PIN, or end them; the badge and PIN so far end at once."""
    if revoke == (out is not None):
        stop("give --out FILE.pdf for a new badge, or --revoke")
    if out is not None:
        ready(out)
    store, caller = open_facility(facility)
    try:
        if out is None:
            administrator.revoke_badge(store, caller, person, now())
            typer.echo(f"'{person}' has no badge any more.")
            return
        whose = administrator.person(store, caller, person, now()).person
        made = administrator.issue_badge(store, caller, person, now())
    except _REFUSED as error:
        stop(str(error))
    name = store.rules(caller.facility).site.name
    write(out, badge_card(made.code, whose.id, whose.role, name), private=True)
    typer.echo(f"First PIN of '{person}', shown this once: {made.first_pin}")
    console.print("They choose another when they first sign in. Destroy the file once printed.")


@people.command()
def end_sessions(person: PersonArgument, facility: FacilityOption = None) -> None:
    """Sign somebody out everywhere; they may sign in again."""
    store, caller = open_facility(facility)
    try:
        ended = administrator.end_sessions(store, caller, person, now())
    except _REFUSED as error:
        stop(str(error))
    typer.echo(f"{ended} session(s) of '{person}' ended.")


@people.command()
def reset_second_factor(person: PersonArgument, facility: FacilityOption = None) -> None:
    """End somebody's second factor, as when a telephone was lost; they set a new one."""
    store, caller = open_facility(facility)
    try:
        administrator.reset_second_factor(store, caller, person, now())
    except _REFUSED as error:
        stop(str(error))
    typer.echo(f"'{person}' has no second factor any more.")


def tell_code(person: str, code: str) -> None:
    """Show the code of an activation, this once."""
    typer.echo(f"Code by which '{person}' sets a password, shown this once, valid {_HOURS} hours:")
    typer.echo(code)


def _json(person: Person) -> dict[str, Any]:
    def at(when: datetime | None) -> str | None:
        return when.isoformat() if when else None

    return {
        "id": person.id,
        "name": person.name,
        "role": person.role,
        "units": sorted(person.scope.units),
        "parties": sorted(person.scope.parties),
        "valid_until": at(person.valid_until),
        "disabled_at": at(person.disabled_at),
    }
