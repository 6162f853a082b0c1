"""Who else uses the machine does not read the record's file."""

import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.store.store import Store


@pytest.fixture(autouse=True)
def _usual_umask() -> Iterator[None]:
    """Files are open to all to read, as on most machines."""
    before = os.umask(0o022)
    yield
    os.umask(before)


def _mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_a_new_record_is_its_owners_alone(tmp_path: Path) -> None:
    """With what lies beside it: secrets of second factors and keys of labels are in them."""
    store = Store(f"sqlite:///{tmp_path / 'custody.sqlite3'}")
    found = {path.name: _mode(path) for path in tmp_path.iterdir() if path.stat().st_size}
    store.close()
    assert found.pop("custody.sqlite3") == 0o600
    assert set(found.values()) <= {0o600}


def test_a_record_that_is_there_stays_as_its_owner_set_it(tmp_path: Path) -> None:
    """A group that keeps backups may have been let in on purpose."""
    path = tmp_path / "custody.sqlite3"
    Store(f"sqlite:///{path}").close()
    path.chmod(0o640)
    Store(f"sqlite:///{path}").close()
    assert _mode(path) == 0o640
