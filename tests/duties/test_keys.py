"""Who may change the key of a log."""

from pathlib import Path

import pytest

from service.custody.words import Role
from service.duties.access import Caller, NotAllowedError
from service.duties.keys import change_key, public_key
from service.store.keyring import Keyring
from tests.duties.desk import Desk
from tests.trade import at


@pytest.mark.parametrize("role", [role for role in Role if role is not Role.ADMINISTRATOR])
def test_only_the_administrator_changes_the_key(desk: Desk, tmp_path: Path, role: Role) -> None:
    """Nobody else's token does, and the key stays."""
    ring, caller = Keyring(tmp_path / "keys"), Caller(desk.facility, "somebody", role)
    before = public_key(caller, ring, "https://custody.example")

    with pytest.raises(NotAllowedError, match="changing the key is for administrator"):
        change_key(desk.store, caller, ring, at("2026-07-01 10:00"), reason="because")
    assert public_key(caller, ring, "https://other.example") == before
    assert before.name == f"custody.example/{desk.facility}"
