"""Keep the record: back it up, put a backup in its place, check it."""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.progress import Progress, TaskID

from service.commands.files import FOLDER, demand_folder
from service.commands.frame import JsonOption, app, database_file, now, settings
from service.duties import keeping, moving
from service.duties.keeping import Check, Copy, DamagedError, Held, KeepingError, Told
from service.store.keyring import Keyring
from service.terminal import FOUND_WRONG, USAGE, console, stop

_WORDS = {True: "holds", False: "FAILS", None: "not checked"}


@app.command()
def backup(
    out: Annotated[Path, typer.Argument(help=f"File to write. {FOLDER}")],
    replace: Annotated[bool, typer.Option(help="Write in place of a file of that name.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Copy the record into one file, checked, while the service runs. Keys are not in it."""
    given = settings()
    with _on_the_way() as told:
        try:
            made = keeping.backup(
                given.database_url, out, Keyring(given.key_dir), told, replace=replace
            )
        except KeepingError as error:
            stop(str(error), FOUND_WRONG if isinstance(error, DamagedError) else USAGE)
    _tell(made, as_json=as_json)
    if not as_json:
        typer.echo("The keys that sign are not in it: back them up apart, see docs/keys.md.")


@app.command()
def restore(
    source: Annotated[Path, typer.Argument(metavar="BACKUP", help="File of a backup.")],
    into: Annotated[
        Path | None,
        typer.Option(help=f"File to put it at, instead of the record's own place. {FOLDER}"),
    ] = None,
    set_aside: Annotated[
        bool, typer.Option("--set-aside", help="Rename the database that is there.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Put a backup in the record's place; exit 1 if entries that were signed are not in it.

    Stop the service first; with --into another file it may run.
    """
    given = settings()
    target = into or database_file()
    if target is not None:
        demand_folder(target)
    with _on_the_way() as told:
        try:
            put = keeping.restore(
                given.database_url,
                source,
                into,
                Keyring(given.key_dir),
                told,
                now() if set_aside else None,
            )
        except KeepingError as error:
            stop(str(error), FOUND_WRONG if isinstance(error, DamagedError) else USAGE)
    _tell(put, as_json=as_json)
    lost = [held for held in put.held if held.lost]
    for held in lost:
        console.print(
            f"{held.facility}: {held.lost}: they are lost unless a newer backup is found; "
            "see 'a lost record' in docs/keys.md",
            highlight=False,
            soft_wrap=True,
        )
    raise typer.Exit(FOUND_WRONG if lost else 0)


@app.command()
def check(
    quick: Annotated[
        bool, typer.Option("--quick", help="Leave out what is derived from the record.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Check the record against itself and what was signed; exit 1 if anything does not hold."""
    given, found = settings(), list[Check]()
    keyring = Keyring(given.key_dir)
    with _on_the_way() as told:
        try:
            for each in keeping.check_record(given.database_url, keyring, told, quick=quick):
                found.append(each)
                if not as_json:
                    where = " ".join(part for part in (each.facility, each.name) if part)
                    typer.echo(f"{_WORDS[each.holds]:11}  {where}: {each.said}")
        except KeepingError as error:
            stop(str(error))
    failed = any(each.holds is False for each in found)
    held = [] if failed else keeping.holdings(given.database_url, keyring)
    if as_json:
        told_all = {"checks": [asdict(each) for each in found], "held": [_json(h) for h in held]}
        typer.echo(json.dumps(told_all, ensure_ascii=False))
    else:
        for each_held in held:
            typer.echo(_kept(each_held))
        typer.echo("Something does not hold." if failed else "All that was checked holds.")
    raise typer.Exit(FOUND_WRONG if failed else 0)


@app.command()
def move(
    to: Annotated[
        str,
        typer.Argument(
            metavar="URL",
            envvar="CUSTODY_MOVE_TO",
            help="Address of an empty database; as CUSTODY_DATABASE_URL is written.",
        ),
    ],
    as_json: JsonOption = False,
) -> None:
    """Copy the whole record into an empty database of either kind, and show it is the same.

    Stop the service first. The record stays where it was until you delete it yourself.
    """
    given = settings()
    with _on_the_way() as told:
        try:
            moved = moving.move(given.database_url, to, Keyring(given.key_dir), told)
        except KeepingError as error:
            stop(str(error), FOUND_WRONG if isinstance(error, DamagedError) else USAGE)
    if as_json:
        typer.echo(json.dumps({"rows": moved.rows, "held": [_json(held) for held in moved.held]}))
        return
    for name, rows in moved.rows.items():
        typer.echo(f"{name:11} {rows:>11,} rows, the same in both")
    for held in moved.held:
        typer.echo(f"{held.facility}: {held.entries:,} entries, root {held.root.hex()}")
    typer.echo(
        "All of it is there. Set CUSTODY_DATABASE_URL to the new address, keep the folder of the "
        "keys where it is, and start the service."
    )


def _tell(copy: Copy, *, as_json: bool) -> None:
    if as_json:
        told = {"file": str(copy.path), "size_bytes": copy.size_bytes}
        typer.echo(json.dumps(told | {"held": [_json(held) for held in copy.held]}))
        return
    typer.echo(f"{copy.path}: {copy.size_bytes:,} bytes")
    if copy.older:
        typer.echo(
            f"Its schema is of version {copy.older}: its log is there to be checked once a command "
            "that opens it has brought it up to date."
        )
    for held in copy.held:
        typer.echo(f"{held.facility}: {held.entries:,} entries, root {held.root.hex()}")
        typer.echo(_kept(held))


def _kept(held: Held) -> str:
    """Say until when a record is kept, by its newest entry."""
    if held.newest is None:
        return f"{held.facility}: no event is on record yet."
    if not held.keep:
        return f"{held.facility}: the regime says of no span for which it is kept."
    spans = "; ".join(f"until {day} ({rule.who}; {rule.clause})" for rule, day in held.keep)
    return f"{held.facility}: the newest entry, of {held.newest}, is kept {spans}."


def _json(held: Held) -> dict[str, Any]:
    return {
        "facility": held.facility,
        "entries": held.entries,
        "root": held.root.hex(),
        "newest": held.newest and held.newest.isoformat(),
        "keep": [
            {"who": rule.who, "clause": rule.clause, "until": day.isoformat()}
            for rule, day in held.keep
        ],
        "lost": held.lost,
    }


@contextmanager
def _on_the_way() -> Iterator[Told]:
    """Show on a terminal how far it is."""
    tasks: dict[str, TaskID] = {}
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:

        def told(what: str, done: int, whole: int) -> None:
            if what not in tasks:
                tasks[what] = bar.add_task(what, total=whole)
            bar.update(tasks[what], completed=done, total=whole)

        yield told
