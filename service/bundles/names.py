"""How the files of a bundle are named and ordered, and how those of few lines are written."""

import re
from base64 import b64encode
from collections.abc import Iterable, Mapping, Sequence

from service.bundles.material import Statement
from service.ledger.note import Verifier

HOW_TO = "HOW-TO-VERIFY.txt"
CONTENTS = "contents.txt"
ENTRIES = "record/entries.jsonl"
LEAVES = "record/leaves.txt"
BEFORE = "record/before.txt"
EARLIER = "record/earlier.jsonl"
BROUGHT_FORWARD = "record/brought-forward.jsonl"
CHECKPOINT = "record/checkpoint.txt"
CHECKPOINTS = "record/checkpoints.jsonl"
STATEMENT = "record/statement.json"
TRACES = "record/traces.jsonl"

LISTED = re.compile(r"([0-9a-f]{64})  ([^\s]+)")
"""A line of the contents: SHA-256 and path, as ``sha256sum`` writes and reads them."""
_PREFIX = bytes.fromhex("302a300506032b6570032100")
"""What stands before an Ed25519 key in its DER form (RFC 8410, section 10.1)."""


def vkey(number: int) -> str:
    """Name the file of a key as a verifier key; keys are counted from 1."""
    return f"keys/key-{number}.vkey"


def pem(number: int) -> str:
    """Name the file of a key as OpenSSL reads it."""
    return f"keys/key-{number}.pem"


def vouching(number: int) -> str:
    """Name the file of the note that says how a key came to follow the one before it."""
    return f"keys/vouching-{number}.txt"


def pem_text(verifier: Verifier) -> bytes:
    """Give a public key in PEM."""
    body = b64encode(_PREFIX + verifier.public_key).decode()
    return f"-----BEGIN PUBLIC KEY-----\n{body}\n-----END PUBLIC KEY-----\n".encode()


def key_files(verifiers: Sequence[Verifier], notes: Sequence[str]) -> dict[str, bytes]:
    """Give the files of the keys in order."""
    found: dict[str, bytes] = {}
    for number, verifier in enumerate(verifiers, 1):
        found[vkey(number)] = f"{verifier.vkey}\n".encode()
        found[pem(number)] = pem_text(verifier)
    for number, note in enumerate(notes, 2):
        found[vouching(number)] = note.encode()
    return found


def hex_lines(hashes: Iterable[bytes]) -> bytes:
    """Write hashes in hex, one a line."""
    return "".join(f"{one.hex()}\n" for one in hashes).encode()


def contents_text(told: Statement, digests: Mapping[str, str]) -> str:
    """Write the text of the contents: whose, which, and the digest of every other file."""
    head = (
        f"waste custody bundle of {told.facility} {told.quarter}\n"
        f"log {told.log}\n"
        f"entries from {told.first} up to, not including, {told.size}\n"
    )
    return head + "".join(f"{digest}  {path}\n" for path, digest in digests.items())
