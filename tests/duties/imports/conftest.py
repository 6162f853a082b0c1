"""The waste office of the invented hospital, opened anew for each test."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.duties.imports.office import Office


@pytest.fixture
def office(tmp_path: Path) -> Iterator[Office]:
    """An office with an empty record."""
    opened = Office.opened(tmp_path)
    yield opened
    opened.store.close()
