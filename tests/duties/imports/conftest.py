"""The waste office of the invented hospital, opened anew for each test."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.databases import Databases
from tests.duties.imports.office import Office


@pytest.fixture
def office(databases: Databases, tmp_path: Path) -> Iterator[Office]:
    """An office with an empty record."""
    opened = Office.opened(databases, tmp_path)
    yield opened
    opened.store.close()
