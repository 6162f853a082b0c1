"""What the command line says and reads: sentences, times, lines and files."""

from datetime import datetime
from pathlib import Path
from typing import NoReturn
from uuid import UUID

import typer
from rich.console import Console
from rich.markup import escape

from service.custody.fields import EARLIEST, LATEST

console = Console(stderr=True)
FOUND_WRONG, USAGE, INTERRUPTED = 1, 2, 130


def stop(message: str, code: int = USAGE) -> NoReturn:
    """Say why in a sentence and end the command."""
    console.print(f"[bold]custody:[/bold] {escape(message)}", highlight=False)
    raise typer.Exit(code)


def moment(text: str) -> datetime:
    """Read an instant with its zone, or end the command."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        stop(f"'{text}' is not a time; write it as 2026-09-30T18:00:00+05:30")
    if moment.tzinfo is None:
        stop(f"'{text}' has no zone; write it as 2026-09-30T18:00:00+05:30")
    if not EARLIEST <= moment < LATEST:
        stop(f"'{text}' lies outside the years {EARLIEST.year} to {LATEST.year - 1}")
    return moment


def text(value: datetime | UUID) -> str:
    """Write a time or an id for a script."""
    return value.isoformat() if isinstance(value, datetime) else str(value)


def lines(figures: dict[str, object]) -> str:
    """Write figures a line each; those not known are left out."""
    return "\n".join(f"{name}: {value}" for name, value in figures.items() if value is not None)


def read_text(path: Path) -> str:
    """Read a file to the letter, line ends too, or end the command."""
    try:
        return path.read_bytes().decode()
    except OSError as error:
        stop(f"{path} cannot be read: {error.strerror}")
    except UnicodeDecodeError:
        stop(f"{path} is no text: it was damaged on the way, or is another file")
