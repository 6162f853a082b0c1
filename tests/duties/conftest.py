"""A database file for a module of tests; each test has a facility of its own in it."""

from collections.abc import Iterator

import pytest

from service.store.store import Store
from tests.duties.desk import Desk


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A store on a file."""
    kept = Store(f"sqlite:///{tmp_path_factory.mktemp('duties') / 'custody.sqlite3'}")
    yield kept
    kept.close()


@pytest.fixture
def desk(shared: Store) -> Desk:
    """The hospital with nothing on record."""
    return Desk.at(shared)
