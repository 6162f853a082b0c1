"""A database for a module of tests, on both stores; each test has a facility of its own in it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from service.access import passwords
from service.store.store import Store
from tests.duties.desk import Desk
from tests.duties.door import Door


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def shared(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Store]:
    """A store, on a file and on PostgreSQL in turn."""
    if request.param == "postgresql":
        kept = Store(request.getfixturevalue("postgresql"))
    else:
        kept = Store(f"sqlite:///{tmp_path_factory.mktemp('duties') / 'custody.sqlite3'}")
    yield kept
    kept.close()


@pytest.fixture
def desk(shared: Store) -> Desk:
    """The hospital with nothing on record."""
    return Desk.at(shared)


@pytest.fixture
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashes that cost little; tests/access looks at the costs."""
    hasher = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(passwords, "HASHER", hasher)


@pytest.fixture
def door(desk: Desk, cheap: None) -> Door:
    """The hospital with nobody known yet."""
    return Door(desk)


@pytest.fixture
def lone(tmp_path: Path, cheap: None) -> Iterator[Door]:
    """A hospital in a database of its own."""
    desk = Desk.opened(tmp_path)
    yield Door(desk)
    desk.store.close()
