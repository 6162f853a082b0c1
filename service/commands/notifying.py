"""Who outside was told of what, and what still waits."""

import json
from dataclasses import asdict

import typer

from service.commands.frame import FacilityOption, JsonOption, app, now, open_facility, settings
from service.duties import notices
from service.notices.deliver import deliverer
from service.notices.recipients import Notices, NoticesError, load
from service.terminal import FOUND_WRONG, stop, text

notices_app = typer.Typer(no_args_is_help=True, help="Notices to people and programs outside.")
app.add_typer(notices_app, name="notices")


def recipients() -> Notices:
    """Give the operator's file, or end the command with what is wrong in it."""
    path = settings().notices
    if path is None:
        stop("CUSTODY_NOTICES names no file: nobody outside is told of anything")
    try:
        return load(path)
    except NoticesError as error:
        stop(str(error))


@notices_app.command()
def waiting(facility: FacilityOption = None, as_json: JsonOption = False) -> None:
    """What recipients were not told yet; exit 1 if there is any."""
    store, caller = open_facility(facility)
    found = notices.waiting(store, caller)
    if as_json:
        typer.echo(json.dumps([asdict(w) for w in found], default=text))
    for each in [] if as_json else found:
        typer.echo(
            f"{each.recipient}: {each.number} since {each.since:%Y-%m-%d %H:%M} UTC; {each.fault}"
        )
    raise typer.Exit(FOUND_WRONG if found else 0)


@notices_app.command()
def send(facility: FacilityOption = None) -> None:
    """Send what recipients have not had, as the service does by itself; exit 1 if not all."""
    given = recipients()
    store, caller = open_facility(facility)
    deliver = deliverer(given.post, now)
    for to in given.to:
        if to.facility == caller.facility:
            typer.echo(f"{to.name}: {notices.tell(store, to, deliver, now)} sent")
    raise typer.Exit(FOUND_WRONG if notices.waiting(store, caller) else 0)
