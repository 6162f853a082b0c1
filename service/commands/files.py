"""Where a command writes: a file that can be written, in a folder that is there.

No folder is made: one that is not there is more often a slip in its name than a wish.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

import typer

from service.terminal import stop

_NEW = os.O_WRONLY | os.O_CREAT | os.O_EXCL

FOLDER = "Its folder must be there."
"""What the help of an option says that names a file to write."""


def demand_folder(out: Path) -> None:
    """See that a file's folder is there, or end the command."""
    folder = out.parent
    if folder.exists() and not folder.is_dir():
        stop(f"{out} cannot be written: {folder} is no folder")
    if not folder.is_dir():
        stop(f"{out} cannot be written: there is no folder {folder}; make it first")


def ready(out: Path) -> None:
    """See that a file can be written before anything is done for it, or end the command."""
    demand_folder(out)
    if out.exists() and not out.is_file():
        stop(f"{out} cannot be written: it is there and is no file")
    if not os.access(out.parent, os.W_OK | os.X_OK):
        stop(f"{out} cannot be written: nothing may be written in {out.parent}")


@contextmanager
def written(out: Path, *, private: bool = False) -> Iterator[BinaryIO]:
    """A file that has its name once it is whole, and not before; or the command ends.

    With ``private`` its owner alone may read it.
    """
    ready(out)
    part = out.with_name(f".{out.name}.part")
    try:
        try:
            part.unlink(missing_ok=True)
            with os.fdopen(os.open(part, _NEW, 0o600 if private else 0o666), "wb") as file:
                yield file
            part.replace(out)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        stop(f"{out} cannot be written: {error.strerror}")
    typer.echo(f"{out}: {out.stat().st_size:,} bytes")


def write(out: Path, content: bytes, *, private: bool = False) -> None:
    """Write a file and say so, or end the command."""
    with written(out, private=private) as file:
        file.write(content)
