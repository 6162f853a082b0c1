"""The bytes of traces: kept once, never changed, and checked against the hash in their events."""

from hashlib import sha256
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DatabaseError

from service.store.checking import Keys, check
from service.store.store import Store
from tests.machines import PASSING
from tests.store.record import new_facility, on_file

DIGEST = sha256(PASSING).hexdigest()


def found(store: Store, facility: str) -> tuple[bool | None, str]:
    """What the check of traces says."""
    with store.reading() as connection:
        made = list(check(connection, lambda _: Keys(), lambda *_: None, quick=True))
    return next((c.holds, c.said) for c in made if (c.name, c.facility) == ("traces", facility))


def test_a_trace_cannot_be_changed_or_taken_away(tmp_path: Path) -> None:
    """Triggers refuse it, whoever asks; the same bytes again are no second row."""
    store = on_file(tmp_path)
    facility = new_facility(store)
    store.keep_traces(facility, {DIGEST: PASSING})
    store.keep_traces(facility, {DIGEST: PASSING})
    for act in ("UPDATE trace SET content = x'00'", "DELETE FROM trace"):
        with pytest.raises(DatabaseError), store.database.writing(facility) as connection:
            connection.execute(text(act))
    assert found(store, facility) == (True, "1, each with the bytes of its hash")
    store.close()


def test_other_bytes_under_a_hash_are_found(tmp_path: Path) -> None:
    """Who goes round the triggers is found out by the hash."""
    store = on_file(tmp_path)
    facility = new_facility(store)
    store.keep_traces(facility, {DIGEST: PASSING + b"0,0,0"})
    holds, said = found(store, facility)
    assert holds is False
    assert DIGEST in said
    store.close()
