"""Simulated quarters that the tests of the scenario share; they are only read."""

import pytest

from scenario import simulate
from tests.scenario.reading import Stream


@pytest.fixture(scope="session")
def full() -> Stream:
    """One quarter at full size."""
    return Stream(simulate(1))


@pytest.fixture(scope="session")
def small() -> Stream:
    """A quarter of a hospital a tenth as large."""
    return Stream(simulate(5, containers_per_day=20))
