"""Let devices and programs in and out, read the access log, and change the key of labels."""

import json
from datetime import timedelta
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table

from service.access.entries import AccessKind
from service.access.lifetimes import ACTIVATION
from service.commands.frame import FacilityOption, JsonOption, app, now, open_facility
from service.commands.reaching import PartiesOption, UnitsOption, reach, scope_of
from service.custody.words import Role
from service.duties import administrator, officer
from service.duties.lookup import PAGE_MAX
from service.terminal import FOUND_WRONG, stop

device = typer.Typer(no_args_is_help=True, help="Devices that many share, and programs.")
label_key = typer.Typer(no_args_is_help=True, help="The key that shows a label is ours.")
app.add_typer(device, name="device")
app.add_typer(label_key, name="label-key")

NameArgument = Annotated[str, typer.Argument(help="Name of the device or program.")]


@device.command()
def invite(
    name: Annotated[str, typer.Argument(help="Name of the device, such as 'ward tablet 3'.")],
    role: Annotated[Role, typer.Option(help="What it may do while nobody is signed in.")],
    units: UnitsOption = None,
    parties: PartiesOption = None,
    facility: FacilityOption = None,
) -> None:
    """Invite a shared device: prints once the code that is typed on it within a day."""
    store, caller = open_facility(facility)
    scope = scope_of(units, parties)
    try:
        code = administrator.invite_device(store, caller, name, role, scope, now())
    except ValueError as error:
        stop(str(error))
    hours = int(ACTIVATION.total_seconds()) // 3_600
    typer.echo(f"Code that enrols '{name}', shown this once, valid {hours} hours:\n{code}")


@device.command(name="list")
def list_(facility: FacilityOption = None, as_json: JsonOption = False) -> None:
    """List the devices and programs that were ever let in, and codes not used yet."""
    store, caller = open_facility(facility)
    found = administrator.clients(store, caller)
    if as_json:
        told = [
            {
                "name": each.name,
                "kind": each.kind,
                "role": each.role,
                "units": sorted(each.scope.units),
                "parties": sorted(each.scope.parties),
                "created_at": each.created_at.isoformat(),
                "expires_at": each.expires_at.isoformat(),
                "revoked_at": each.revoked_at and each.revoked_at.isoformat(),
            }
            for each in found
        ]
        typer.echo(json.dumps(told, ensure_ascii=False))
        return
    local, at = store.rules(caller.facility).local, now()
    table = Table("name", "kind", "role", "reach", "until", "")
    for each in found:
        state = "ended" if each.revoked_at else "expired" if each.expires_at <= at else ""
        until = local(each.expires_at)
        table.add_row(each.name, each.kind, each.role, reach(each.scope), until, state)
    Console().print(table)


@app.command()
def admit(
    name: Annotated[str, typer.Argument(help="Name of the program.")],
    role: Annotated[Role, typer.Option(help="What it may do.")],
    days: Annotated[int, typer.Option(min=1, max=3650, help="Days the token is valid.")] = 90,
    units: UnitsOption = None,
    parties: PartiesOption = None,
    facility: FacilityOption = None,
) -> None:
    """Let a program in: prints its token, once."""
    store, caller = open_facility(facility)
    valid, scope = timedelta(days=days), scope_of(units, parties)
    try:
        typer.echo(administrator.admit_program(store, caller, name, role, now(), valid, scope))
    except ValueError as error:
        stop(str(error))


@app.command()
def revoke(name: NameArgument, facility: FacilityOption = None) -> None:
    """End every token and code of a device or program at once, and the sessions on it."""
    store, caller = open_facility(facility)
    ended = administrator.revoke_client(store, caller, name, now())
    if not ended:
        stop(f"'{name}' holds no valid token", FOUND_WRONG)
    typer.echo(f"{ended} token(s) of '{name}' ended.")


@app.command()
def access_log(
    after: Annotated[int, typer.Option(min=0, help="Entries after this number.")] = 0,
    kind: Annotated[AccessKind | None, typer.Option(help="Only this kind.")] = None,
    limit: Annotated[int, typer.Option(min=1, max=PAGE_MAX, help="How many at most.")] = 200,
    facility: FacilityOption = None,
    as_json: JsonOption = False,
) -> None:
    """Read who came in, who was turned away, what was changed and what went out."""
    store, caller = open_facility(facility)
    found = administrator.access_entries(store, caller, after, limit, kind)
    entries = [json.loads(body) for _, body in found]
    if as_json:
        typer.echo(json.dumps(entries, ensure_ascii=False))
        return
    for entry in entries:
        about = ", ".join(f"{name} {_said(v)}" for name, v in entry.get("about", {}).items() if v)
        who = entry.get("actor", "-") + (f" on {entry['device']}" if entry.get("device") else "")
        typer.echo(f"{entry['seq']:>8}  {entry['at'][:19]}Z  {entry['kind']:18}  {who}: {about}")
    if len(found) == limit:
        typer.echo(f"go on with --after {found[-1][0]}", err=True)


def _said(value: str | int | list[str]) -> str:
    return " ".join(value) if isinstance(value, list) else str(value)


@label_key.command()
def change(
    distrust_old: Annotated[
        bool,
        typer.Option("--distrust-old", help="Old labels are flagged from now on; not to be undone"),
    ] = False,
    facility: FacilityOption = None,
) -> None:
    """Have new labels bear tags of a new key; labels that are printed stay genuine."""
    store, caller = open_facility(facility)
    number = officer.change_label_key(store, caller, now(), distrust_old=distrust_old)
    typer.echo(f"Key {number} prints labels from now on.")
    if distrust_old:
        typer.echo("Labels printed before are flagged as not genuine: print new ones.")
