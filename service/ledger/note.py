"""Signed notes: a text with Ed25519 signatures below it, in the C2SP signed-note form.

Source: C2SP, "Signed Notes" (signed-note): the text ends in a newline, an empty line follows, then
one line a signature: an em dash, the signer's name, and base64 of key id (4 bytes) and signature.
"""

import re
from base64 import b64decode, b64encode
from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

ED25519 = b"\x01"
"""The algorithm's byte in a verifier key."""
KEY_ID_BYTES, KEY_BYTES, SIGNATURE_BYTES = 4, 32, 64
SIGNATURES_MAX = 100
_NAME = re.compile(r"[^\s+\x00-\x1f\x7f\ud800-\udfff]{1,200}")
_UNFIT = re.compile(r"[\x00-\x09\x0b-\x1f\ud800-\udfff]")
_BEGIN = "— "
_ID_DIGITS = 8


class NoteError(ValueError):
    """A text is no signed note, a key is none, or no known key signed the note."""


@dataclass(frozen=True, slots=True)
class Verifier:
    """The public half of a signer's key and the name that goes with it."""

    name: str
    public_key: bytes

    def __post_init__(self) -> None:
        if not _NAME.fullmatch(self.name):
            raise NoteError(f"'{self.name}' is no name of a key: no spaces and no plus sign")
        if len(self.public_key) != KEY_BYTES:
            raise NoteError(f"the key of {self.name} is no Ed25519 public key")

    @property
    def key_id(self) -> bytes:
        """Four bytes that tell apart the keys of one name."""
        told = self.name.encode() + b"\n" + ED25519 + self.public_key
        return sha256(told).digest()[:KEY_ID_BYTES]

    @property
    def vkey(self) -> str:
        """The verifier key as one line of text."""
        key = b64encode(ED25519 + self.public_key).decode()
        return f"{self.name}+{self.key_id.hex()}+{key}"

    @classmethod
    def parse(cls, vkey: str) -> "Verifier":
        """Read a verifier key.

        Raises:
            NoteError: it is malformed, or its id is not that of its key.
        """
        parts = vkey.strip().split("+", 2)  # base64 may hold a plus sign
        if len(parts) != 3:
            raise NoteError("a verifier key is written name+id+key")
        name, id_, key = parts
        decoded = _decoded(key, "the verifier key")
        if decoded[:1] != ED25519:
            raise NoteError(f"the key of {name} is not an Ed25519 key")
        found = cls(name, decoded[1:])
        if len(id_) != _ID_DIGITS or found.key_id.hex() != id_:
            raise NoteError(f"the id of the key of {name} is not that of the key")
        return found

    def signed(self, text: str, signature: bytes) -> bool:
        """Say whether this key made the signature over the text."""
        try:
            Ed25519PublicKey.from_public_bytes(self.public_key).verify(signature, text.encode())
        except (InvalidSignature, ValueError):
            return False
        return True


@dataclass(frozen=True, slots=True)
class Signer:
    """A name and the private key that signs under it."""

    name: str
    key: Ed25519PrivateKey

    @property
    def verifier(self) -> Verifier:
        """The public half."""
        return Verifier(self.name, self.key.public_key().public_bytes_raw())


@dataclass(frozen=True, slots=True)
class Opened:
    """A note with at least one good signature.

    Attributes:
        text: What was signed.
        signed_by: Those of the verifiers whose signature stands below it.
    """

    text: str
    signed_by: tuple[Verifier, ...]


def sign(text: str, *signers: Signer) -> str:
    """Give the text as a note signed by each.

    Raises:
        NoteError: the text cannot be a note's.
    """
    if not text.endswith("\n") or _control(text):
        raise NoteError("the text of a note ends in a newline and has no other control character")
    return text + "\n" + "".join(_line(text, signer) for signer in signers)


def cosign(note: str, signer: Signer) -> str:
    """Add a signature to a note, below those that are there."""
    text, _ = _parts(note)
    return note + _line(text, signer)


def opened(note: str, verifiers: Iterable[Verifier]) -> Opened:
    """Read a note that at least one of the verifiers signed.

    Signatures of others are passed over, as the form asks; a signature that claims to be a known
    verifier's and is not, is never passed over.

    Raises:
        NoteError: it is no note, a known key's signature is false, or no known key signed it.
    """
    text, signatures = _parts(note)
    known = {(v.name, v.key_id): v for v in verifiers}
    by: dict[bytes, Verifier] = {}
    for name, raw in signatures:
        verifier = known.get((name, raw[:KEY_ID_BYTES]))
        if verifier is None:
            continue
        if not verifier.signed(text, raw[KEY_ID_BYTES:]):
            raise NoteError(f"the signature of {name} is false")
        by[verifier.public_key] = verifier
    if not by:
        names = ", ".join(dict.fromkeys(name for name, _ in signatures))
        raise NoteError(f"signed by no known key, but by: {names}")
    return Opened(text, tuple(by.values()))


def note_text(note: str) -> str:
    """Give the text of a note, whoever signed it."""
    return note.rpartition("\n\n")[0] + "\n"


def _line(text: str, signer: Signer) -> str:
    raw = signer.verifier.key_id + signer.key.sign(text.encode())
    return f"{_BEGIN}{signer.name} {b64encode(raw).decode()}\n"


def _parts(note: str) -> tuple[str, list[tuple[str, bytes]]]:
    """Give the text and each signature with the name it is under."""
    if _control(note):
        raise NoteError("the note has a control character in it, or half a character")
    body, parted, below = note.rpartition("\n\n")
    if not parted or not below.endswith("\n"):
        raise NoteError("the note has no signature below an empty line")
    lines = below[:-1].split("\n")
    if len(lines) > SIGNATURES_MAX:
        raise NoteError(f"the note has more than {SIGNATURES_MAX} signatures")
    return body + "\n", [_signature(line) for line in lines]


def _signature(line: str) -> tuple[str, bytes]:
    name, parted, encoded = line.removeprefix(_BEGIN).partition(" ")
    if not line.startswith(_BEGIN) or not parted or not _NAME.fullmatch(name):
        raise NoteError(f"this is no signature line: '{line[:80]}'")
    raw = _decoded(encoded, f"the signature of {name}")
    if len(raw) <= KEY_ID_BYTES:
        raise NoteError(f"the signature of {name} is too short")
    return name, raw


def _decoded(text: str, what: str) -> bytes:
    try:
        raw = b64decode(text, validate=True)
    except ValueError as error:
        raise NoteError(f"{what} is not base64") from error
    if b64encode(raw).decode() != text:
        raise NoteError(f"{what} is not written as base64 is")
    return raw


def _control(text: str) -> bool:
    return _UNFIT.search(text) is not None
