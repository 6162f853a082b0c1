"""What tests of every folder may ask for."""

import logging
from collections.abc import Iterator

import pytest

from tests.postgres import cluster, quick


@pytest.fixture(scope="session")
def postgresql() -> Iterator[str]:
    """The address of a PostgreSQL database of the tests' own; skips where there is no server."""
    with cluster(where=quick()) as server:
        yield server.made("custody")


@pytest.fixture(autouse=True)
def logging_as_it_was() -> Iterator[None]:
    """What a test of the ``serve`` command makes of the program's log goes with that test."""
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    yield
    root.handlers[:] = handlers
    root.setLevel(level)
