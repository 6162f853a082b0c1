"""A database for a module of tests, on both stores; each test has a facility of its own in it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from service.store.keyring import Keyring
from service.store.store import Store
from tests.databases import EACH, kept
from tests.store.record import new_facility


@pytest.fixture(scope="module", params=EACH)
def backend(request: pytest.FixtureRequest) -> str:
    """A file and PostgreSQL in turn."""
    found: str = request.param
    return found


@pytest.fixture(scope="module")
def store(
    backend: str, request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Store]:
    """A store for the module."""
    with kept(backend, request) as databases:
        opened = Store(databases.at(tmp_path_factory.mktemp("store")))
        yield opened
        opened.close()


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
