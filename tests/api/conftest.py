"""The service as its clients meet it: over HTTP, on a real database."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from scenario.hospital import load_site
from service.access.caller import Caller
from service.app import create_app
from service.custody.words import Role
from service.settings import Settings
from service.store.store import Store
from tests.api.browser import Browser
from tests.api.client import LABEL_KEY, NOON, Clock, Device, let_in
from tests.databases import Databases, kept


@pytest.fixture
def clock() -> Clock:
    """The service's clock: noon on 1 July 2026, until a test moves it."""
    return Clock(NOON)


@pytest.fixture(scope="session")
def blank(
    backend: str, request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    """The address of a database with the invented hospital set up and a token for every role."""
    with kept(backend, request) as databases:
        address = databases.at(tmp_path_factory.mktemp("blank"))
        store = Store(address)
        site = load_site()
        store.set_up(site, datetime(2026, 1, 1, tzinfo=UTC), LABEL_KEY)
        for role in Role:
            program = Caller(site.id, f"{role}-device", role)
            let_in(store, program, f"token-{role}", NOON + timedelta(days=365))
        store.close()
        yield address


@pytest.fixture
def store(database: str, databases: Databases, blank: str) -> Iterator[Store]:
    """The store in a database of the test's own."""
    databases.copy(blank, database)
    opened = Store(database)
    yield opened
    opened.close()


@pytest.fixture
def app_with(store: Store, clock: Clock, tmp_path: Path) -> Callable[..., FastAPI]:
    """Make the application with settings as a test says."""

    def make(**said: Any) -> FastAPI:
        usual: dict[str, Any] = {"body_bytes_max": 200_000, "key_dir": tmp_path / "keys"}
        settings = Settings(_env_file=None, **(usual | said))
        return create_app(settings, clock, store)

    return make


@pytest.fixture
def app(app_with: Callable[..., FastAPI]) -> FastAPI:
    """The application."""
    return app_with()


@pytest.fixture
def http(app: FastAPI) -> Iterator[TestClient]:
    """A client without a token."""
    with TestClient(app, raise_server_exceptions=False) as client:
        yield client


@pytest.fixture
def browser(app: FastAPI) -> Browser:
    """A browser that nobody signed in at."""
    return Browser(app)


@pytest.fixture
def officer(http: TestClient) -> Device:
    """The waste officer's device."""
    return Device(http, Role.OFFICER)


@pytest.fixture
def ward(http: TestClient) -> Device:
    """A ward's device."""
    return Device(http, Role.WARD)


@pytest.fixture
def handler(http: TestClient) -> Device:
    """A handler's device."""
    return Device(http, Role.HANDLER)


@pytest.fixture
def plant(http: TestClient) -> Device:
    """A treatment plant's device."""
    return Device(http, Role.PLANT)
