"""What tests of every folder may ask for."""

from collections.abc import Iterator

import pytest

from tests.postgres import cluster


@pytest.fixture(scope="session")
def postgresql() -> Iterator[str]:
    """The address of a PostgreSQL database of the tests' own; skips where there is no server."""
    with cluster() as server:
        yield server.made("custody")
