"""What the command line says and writes: sentences, times, lines and files."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import BinaryIO, NoReturn
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


def ready(out: Path) -> None:
    """See that a file can be written before anything is done for it, or end the command."""
    held = next(p for p in (out, *out.absolute().parents) if p.exists())
    if out.is_dir() or (held != out and not held.is_dir()) or not os.access(held, os.W_OK):
        stop(f"{out} cannot be written: {held} is no place for it")


@contextmanager
def written(out: Path) -> Iterator[BinaryIO]:
    """A file that has its name once it is whole, and not before; or the command ends."""
    if out.exists() and not out.is_file():
        stop(f"{out} is no file")
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        part = out.with_name(f".{out.name}.part")
        try:
            with part.open("wb") as file:
                yield file
            part.replace(out)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        stop(f"{out} cannot be written: {error.strerror}")
    typer.echo(f"{out}: {out.stat().st_size:,} bytes")


def write(out: Path, content: bytes) -> None:
    """Write a file and say so, or end the command."""
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        out.write_bytes(content)
    except OSError as error:
        stop(f"{out} cannot be written: {error.strerror}")
    typer.echo(f"{out}: {len(content):,} bytes")
