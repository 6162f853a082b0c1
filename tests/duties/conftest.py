"""A database for a module of tests, on both stores; each test has a facility of its own in it."""

from collections.abc import Iterator

import pytest

from service.store.store import Store
from tests.databases import EACH, kept
from tests.duties.desk import Desk
from tests.duties.door import Door


@pytest.fixture(scope="module", params=EACH)
def backend(request: pytest.FixtureRequest) -> str:
    """A file and PostgreSQL in turn."""
    found: str = request.param
    return found


@pytest.fixture(scope="module")
def shared(
    backend: str, request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Store]:
    """A store for the module."""
    with kept(backend, request) as databases:
        store = Store(databases.at(tmp_path_factory.mktemp("duties")))
        yield store
        store.close()


@pytest.fixture
def desk(shared: Store) -> Desk:
    """The hospital with nothing on record."""
    return Desk.at(shared)


@pytest.fixture
def door(desk: Desk) -> Door:
    """The hospital with nobody known yet."""
    return Door(desk)


@pytest.fixture
def lone(database: str) -> Iterator[Door]:
    """A hospital in a database of its own."""
    desk = Desk.at(Store(database))
    yield Door(desk)
    desk.store.close()
