"""The files that pages fetch: under an address that says what is in them, so they never change.

One hash stands for all of them: so a module finds the others beside it.
"""

import gzip
import hashlib
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent / "static"
TYPES = {
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
}


def static(name: str) -> str:
    """Give the address of a file of ours.

    Raises:
        KeyError: there is none of that name.
    """
    if name not in names():
        raise KeyError(name)
    return f"/static/{digest()}/{name}"


@cache
def names() -> frozenset[str]:
    """Give the names of the files there are."""
    return frozenset(path.name for path in FOLDER.iterdir() if path.is_file())


@cache
def digest() -> str:
    """Give a short hash of all the files."""
    every = (name.encode() + hashlib.sha256(read(name)).digest() for name in sorted(names()))
    return hashlib.sha256(b"".join(every)).hexdigest()[:16]


@cache
def read(name: str) -> bytes:
    """Give what is in a file.

    Raises:
        KeyError: there is none of that name.
    """
    if name not in names():
        raise KeyError(name)
    return (FOLDER / name).read_bytes()


@cache
def packed(name: str) -> bytes:
    """Give what is in a file, packed by gzip.

    Raises:
        KeyError: there is none of that name.
    """
    return gzip.compress(read(name), mtime=0)
