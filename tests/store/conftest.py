"""A database for a module of tests, on both stores; each test has a facility of its own in it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from service.store.keyring import Keyring
from service.store.store import Store
from tests.store.record import new_facility, on_file


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def store(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Store]:
    """A store, on a file and on PostgreSQL in turn."""
    if request.param == "postgresql":
        kept = Store(request.getfixturevalue("postgresql"))
    else:
        kept = on_file(tmp_path_factory.mktemp("store"))
    yield kept
    kept.close()


@pytest.fixture
def facility(store: Store) -> str:
    """A facility with nothing on record."""
    return new_facility(store)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where the keys are; not there yet."""
    return tmp_path / "keys"


@pytest.fixture
def ring(folder: Path) -> Keyring:
    """A keyring with nothing in it."""
    return Keyring(folder)
