"""A facility just set up, to be copied by each test; and how much is tried."""

import os
from pathlib import Path

import pytest

from tests.faults.shim import build
from tests.faults.world import Blank, set_up


@pytest.fixture(scope="session")
def blank(tmp_path_factory: pytest.TempPathFactory) -> Blank:
    """A facility just set up."""
    return set_up(tmp_path_factory.mktemp("blank") / "folder")


@pytest.fixture(scope="session")
def thorough() -> bool:
    """Whether to try as often as a change that is about to land deserves."""
    return os.environ.get("CUSTODY_FAULTS") == "ci"


@pytest.fixture(scope="session")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The library that stands between the service and the disk."""
    return build(tmp_path_factory.mktemp("library"))
