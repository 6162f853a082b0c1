"""What tests of every folder may ask for."""

import logging
from collections.abc import Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from service.access import passwords
from tests.databases import CHOSEN, USUAL, Databases, demand_kind, kept
from tests.postgres import Cluster, cluster, quick


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """If it is said what databases are kept on, only tests that have one run."""
    if CHOSEN:
        without = [each for each in items if "backend" not in each.fixturenames]
        config.hook.pytest_deselected(items=without)
        items[:] = [each for each in items if "backend" in each.fixturenames]


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[Cluster]:
    """A PostgreSQL server of the tests' own; skips where none is installed."""
    with cluster(where=quick()) as running:
        yield running


@pytest.fixture(scope="session")
def postgresql(postgresql_server: Cluster) -> str:
    """The address of a PostgreSQL database that all who ask share."""
    return postgresql_server.made("custody")


@pytest.fixture(scope="session")
def backend() -> str:
    """What the databases are of; a folder that is to run on each kind says so in its own."""
    return USUAL


@pytest.fixture
def databases(backend: str, request: pytest.FixtureRequest) -> Iterator[Databases]:
    """Databases of the test's own."""
    demand_kind(request.node, backend)
    with kept(backend, request) as made:
        yield made


@pytest.fixture
def database(tmp_path: Path, databases: Databases) -> str:
    """The address of a database of the test's own, in which nothing is yet."""
    return databases.at(tmp_path)


@pytest.fixture
def folder(tmp_path: Path, database: str, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty working folder; the settings name the database of the test's own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CUSTODY_DATABASE_URL", database)
    return tmp_path


@pytest.fixture(autouse=True, scope="module")
def cheap() -> Iterator[None]:
    """Hashes that cost little; in tests/access they cost what they do in service."""
    hasher = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "HASHER", hasher)
        yield


@pytest.fixture(autouse=True)
def logging_as_it_was() -> Iterator[None]:
    """What a test of the ``serve`` command makes of the program's log goes with that test."""
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    yield
    root.handlers[:] = handlers
    root.setLevel(level)
