"""A checkpoint: how many entries a log has and the root over them, as signed.

Source: C2SP, "Transparency Log Checkpoints" (tlog-checkpoint): origin, decimal size, base64 root.
"""

import re
from base64 import b64decode, b64encode
from dataclasses import dataclass
from urllib.parse import urlsplit

from service.ledger.merkle import HASH_BYTES

_SIZE = re.compile(r"0|[1-9][0-9]{0,18}")
_LINES = 3


class CheckpointError(ValueError):
    """A text is no checkpoint."""


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """The state of a log that somebody signed.

    Attributes:
        origin: Names the log, for ever: no two logs share one.
        size: The number of entries.
        root: The root hash over them, 32 bytes.
    """

    origin: str
    size: int
    root: bytes

    @property
    def text(self) -> str:
        """The text that is signed."""
        return f"{self.origin}\n{self.size}\n{b64encode(self.root).decode()}\n"


def log_name(address: str, facility: str) -> str:
    """Give the name of a facility's log: the host that its labels open, and its id.

    It is wanted once, when the log's key is made: the name then stays with the key.
    """
    return f"{urlsplit(address).hostname or address}/{facility}"


def parse(text: str) -> Checkpoint:
    """Read a checkpoint's text; extension lines, which ours never have, are not taken.

    Raises:
        CheckpointError: it is not one; the message names the line.
    """
    lines = text.split("\n")
    if len(lines) != _LINES + 1 or lines[-1] or not lines[0]:
        raise CheckpointError("a checkpoint has three lines: origin, size and root")
    origin, size, root = lines[:-1]
    if not _SIZE.fullmatch(size):
        raise CheckpointError(f"line 2 of the checkpoint is no size: '{size}'")
    try:
        decoded = b64decode(root, validate=True)
    except ValueError as error:
        raise CheckpointError("line 3 of the checkpoint is not base64") from error
    if len(decoded) != HASH_BYTES or b64encode(decoded).decode() != root:
        raise CheckpointError("line 3 of the checkpoint is no SHA-256 hash in base64")
    return Checkpoint(origin, int(size), decoded)
