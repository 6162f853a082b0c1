"""What every command stands in: the settings, the clock, the store, and how it ends."""

from contextlib import ExitStack, closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from pydantic import ValidationError
from typer.core import TyperGroup

from service.custody.words import Role
from service.duties.access import BusyError, Caller, UnusableError, UnwritableError
from service.duties.evidence import Keeping
from service.settings import Settings
from service.start import HELP
from service.store.database import Database
from service.store.keyring import Keyring
from service.store.store import Store
from service.terminal import stop

COMMAND_LINE = "command line"
"""Who acts here, as the access log and the record have it."""

_at_end = ExitStack()
"""Closes what a command opened: a database left open leaves what is new beside its file."""


class _Custody(TyperGroup):
    """The commands; what ails the database or a file ends any of them with a sentence."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Give the commands by name."""
        return sorted(super().list_commands(ctx))

    def invoke(self, ctx: Any) -> Any:
        """Run a command."""
        try:
            with _at_end:
                return super().invoke(ctx)
        except (BusyError, UnusableError, UnwritableError) as error:
            stop(str(error))
        except OSError as error:
            if error.filename is None:  # a pipe that nobody reads, not a file
                raise
            stop(f"{error.filename}: {error.strerror}")


app = typer.Typer(
    cls=_Custody,
    no_args_is_help=True,
    add_completion=False,
    help=HELP,
)


@app.callback()
def custody() -> None:
    """Stand before the commands, so that one that is loaded alone keeps its name."""


FacilityOption = Annotated[
    str | None, typer.Option("--facility", help="Id of the facility, where there are several.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON for a script.")]


def settings() -> Settings:
    """Give the settings, or end the command with what is wrong in them."""
    try:
        return Settings()
    except ValidationError as error:
        wrong = error.errors(include_url=False)
        stop("; ".join(f"CUSTODY_{e['loc'][0]}".upper() + f": {e['msg']}" for e in wrong))


def now() -> datetime:
    """Give the time."""
    return datetime.now(UTC)


def database_file() -> Path | None:
    """Give the file that the record is kept in, or None where it is kept in none."""
    with closing(Database(settings().database_url)) as database:
        return database.file


def open_store() -> Store:
    """Open the store, made anew where there is none; it is closed when the command ends."""
    file = database_file()
    if file is not None and not file.parent.is_dir():
        stop(f"the database cannot be opened: there is no folder {file.parent}; make it first")
    given = settings()
    return _at_end.enter_context(closing(Store(given.database_url, given.read_database_url)))


def keeping_of(store: Store) -> Keeping:
    """Give the store with the keys that the settings name."""
    given = settings()
    return Keeping(store, Keyring(given.key_dir), given.label_url)


def open_facility(facility: str | None) -> tuple[Store, Caller]:
    """Open the store for the one facility, or for the one that is named; makes no database."""
    with closing(Database(settings().database_url)) as database:
        if not database.is_laid():
            there = f"there is no database {database.file}" if database.file else "this is empty"
            stop(
                "nothing is set up here yet: run 'custody setup FILE', or set CUSTODY_DATABASE_URL "
                f"to where the record is; {there}"
            )
    store = open_store()
    known = store.facilities()
    if facility is None and len(known) == 1:
        facility = known[0]
    if facility is None:
        stop(
            f"name one with --facility: {', '.join(known)}"
            if known
            else "nothing is set up here yet: run 'custody setup FILE' or try 'custody demo'"
        )
    if facility not in known:
        stop(f"facility '{facility}' is not set up; there are: {', '.join(known) or 'none'}")
    return store, Caller(facility, COMMAND_LINE, Role.ADMINISTRATOR)
