"""Large answers: made whole in a file beside, then sent from it.

So whoever reads slowly holds no reading of the database, what cannot be made is told as a problem,
and the answer says its length: one that breaks off is seen not to be whole.
"""

from collections.abc import Callable
from contextlib import suppress
from functools import partial
from os import SEEK_END
from tempfile import TemporaryFile
from typing import BinaryIO

from starlette.requests import ClientDisconnect
from starlette.responses import StreamingResponse
from starlette.types import Receive, Scope, Send

SENT_AT_ONCE = 1 << 20
"""Bytes of the file in memory at a time."""


class Spooled(StreamingResponse):
    """A file to be kept under a name; it is gone however the sending ends."""

    def __init__(self, write: Callable[[BinaryIO], None], name: str, media_type: str) -> None:
        self._file, size = _written(write)
        parts = iter(partial(self._file.read, SENT_AT_ONCE), b"")
        shown = f'attachment; filename="{name}"'
        headers = {"Content-Disposition": shown, "Content-Length": str(size)}
        super().__init__(parts, media_type=media_type, headers=headers)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send it."""
        try:
            with suppress(ClientDisconnect):  # nobody is left to be told
                await super().__call__(scope, receive, send)
        finally:
            self._file.close()


def _written(write: Callable[[BinaryIO], None]) -> tuple[BinaryIO, int]:
    """Give the file, at its start, and how many bytes are in it."""
    file: BinaryIO = TemporaryFile()  # noqa: SIM115 - it is closed when it was sent
    try:
        write(file)
        size = file.seek(0, SEEK_END)
        file.seek(0)
    except BaseException:
        with suppress(OSError):  # on a full disk it cannot be closed without another fault
            file.close()
        raise
    return file, size
