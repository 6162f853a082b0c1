"""Where tests keep their databases: on files, or on a PostgreSQL server of the tests' own.

``CUSTODY_TESTS_ON=postgresql`` (or ``sqlite``) in the environment says which, and only tests that
have a database run then. Unless it is said, tests run on files, and those of the store and the
duties on both. Here alone it is read.
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import Protocol

import pytest

from tests.postgres import Cluster

SQLITE, POSTGRESQL = KINDS = ("sqlite", "postgresql")
CHOSEN = os.environ.get("CUSTODY_TESTS_ON", "")
assert CHOSEN in ("", *KINDS), f"CUSTODY_TESTS_ON is '{CHOSEN}': say one of {', '.join(KINDS)}"
USUAL = CHOSEN or SQLITE
EACH = [CHOSEN] if CHOSEN else [*KINDS]
"""What those run on that are about the store itself."""

BACKED_UP = pytest.mark.on_a_file("a server is backed up and restored by pg_dump and pg_restore")
CLAIMED = pytest.mark.on_a_file("of a file one process is the writer; a server takes many")
ITS_BYTES = pytest.mark.on_a_file("it is about the bytes of SQLite's file and what lies beside it")


class Databases(Protocol):
    """Databases of whoever asked for them: none is there before, none is left after."""

    def at(self, place: Path) -> str:
        """Give the address of the database of a folder, which is made; the same each time."""
        ...

    def copy(self, source: str, to: str) -> None:
        """Put a copy of a database that nobody has open in another's place."""
        ...


class Files:
    """Each is a file in its folder; the folder's end is its own."""

    def at(self, place: Path) -> str:
        """Give the address of the file, which is made with the store."""
        place.mkdir(exist_ok=True)
        return f"sqlite:///{place / 'custody.sqlite3'}"

    def copy(self, source: str, to: str) -> None:
        """Copy the file: whoever closed it last left all of it in there."""
        shutil.copy(source.removeprefix("sqlite:///"), to.removeprefix("sqlite:///"))


class OnServer:
    """Each is a database on a server, empty when its folder is first named."""

    def __init__(self, server: Cluster) -> None:
        self._server = server
        self._made: set[str] = set()

    def at(self, place: Path) -> str:
        """Give the address of the folder's database."""
        place.mkdir(exist_ok=True)
        name = f"t{sha256(str(place).encode()).hexdigest()[:20]}"
        if name not in self._made:
            self._server.ask(f"CREATE DATABASE {name} TEMPLATE template0")
            self._made.add(name)
        return self._server.url(name)

    def copy(self, source: str, to: str) -> None:
        """Make the database anew with the other as its template."""
        old, new = (address.rpartition("/")[2] for address in (source, to))
        self._server.ask(f"DROP DATABASE {new} WITH (FORCE)")
        self._server.ask(f"CREATE DATABASE {new} TEMPLATE {old}")

    def end(self) -> None:
        """Drop what was made, whoever may still be connected."""
        for name in self._made:
            self._server.ask(f"DROP DATABASE {name} WITH (FORCE)")


@contextmanager
def kept(kind: str, request: pytest.FixtureRequest) -> Iterator[Databases]:
    """Databases of a kind, for a fixture of any scope; they are gone when the block ends."""
    if kind == SQLITE:
        yield Files()
        return
    made = OnServer(request.getfixturevalue("postgresql_server"))
    try:
        yield made
    finally:
        made.end()


def demand_kind(item: pytest.Item, kind: str) -> None:
    """Skip a test that is about SQLite's file where it would run on a server, and say why."""
    if kind != SQLITE:
        for mark in item.iter_markers("on_a_file"):
            pytest.skip(f"on a file only: {mark.args[0]}")
