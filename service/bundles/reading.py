"""How what stands in a bundle's files is read; what is not as it must be is told by name."""

from base64 import b64decode
from collections.abc import Sequence
from typing import TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from service.custody.cycle_events import Digest
from service.custody.events import Entry
from service.ledger import leaf as leaves
from service.ledger.leaf import LeafError, SiteVersion, canonical
from service.ledger.merkle import HASH_BYTES
from service.ledger.note import NoteError, Verifier


class Unsound(Exception):  # noqa: N818  not an error of ours: what a check found
    """Something in the bundle is not as it must be."""


class Unknown(Exception):  # noqa: N818
    """Something could not be checked."""


class Doubtful(Exception):  # noqa: N818
    """Nothing is wrong, but the reader must know what is said here."""


class _Line(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class EarlierLine(_Line):
    """A line of ``earlier.jsonl``."""

    number: int
    leaf: str
    proof: list[str]


class TraceLine(_Line):
    """A logger's file: its text, or its bytes where it is no text."""

    base64: str
    sha256: Digest
    text: str

    @property
    def content(self) -> bytes:
        """The bytes of the file."""
        return b64decode(self.base64) if self.base64 else self.text.encode()


class SignedLine(_Line):
    """A line of ``checkpoints.jsonl``."""

    note: str
    proof: list[str]


LineT = TypeVar("LineT", EarlierLine, SignedLine, TraceLine)


def read_leaf(number: int, line: bytes) -> Entry | SiteVersion:
    """Read a leaf; its number is told with what is wrong with it."""
    try:
        return leaves.read(line)
    except LeafError as error:
        raise Unsound(f"entry {number}: {error}") from error


def key_of(text: str, name: str) -> Verifier:
    """Read a verifier key."""
    try:
        return Verifier.parse(text)
    except NoteError as error:
        raise Unsound(f"{name}: {error}") from error


def text_of(content: bytes, name: str) -> str:
    """Give text; what is not UTF-8 is a fault of the file."""
    try:
        return content.decode()
    except UnicodeDecodeError as error:
        raise Unsound(f"{name} is no text") from error


def hashes_of(content: bytes, name: str) -> list[bytes]:
    """Read hashes in hex, one a line."""
    return steps([line.decode("ascii", "replace") for line in lines(content, name)], name)


def steps(written: Sequence[str], name: str = "a proof") -> list[bytes]:
    """Read hashes in hex."""
    found: list[bytes] = []
    for number, one in enumerate(written, 1):
        try:
            hash_ = bytes.fromhex(one)
        except ValueError:
            hash_ = b""
        if len(hash_) != HASH_BYTES or hash_.hex() != one:
            raise Unsound(f"{name}: line {number} is no SHA-256 hash in hex")
        found.append(hash_)
    return found


def lines(content: bytes, name: str) -> list[bytes]:
    """Cut a file into lines; each ends with a newline, the last one too."""
    if content and not content.endswith(b"\n"):
        raise Unsound(f"{name} does not end with a whole line")
    return content[:-1].split(b"\n") if content else []


def objects(content: bytes, name: str, model: type[LineT]) -> list[LineT]:
    """Read JSON Lines, each written in the one form."""
    found: list[LineT] = []
    for number, line in enumerate(lines(content, name), 1):
        try:
            one = model.model_validate_json(line)
        except ValidationError as error:
            told = error.errors(include_url=False, include_input=False)[0]["msg"]
            raise Unsound(f"{name}, line {number}: {told}") from error
        if canonical(one.model_dump()).encode() != line:
            raise Unsound(f"{name}, line {number} is not written as it is meant to be")
        found.append(one)
    return found
