"""People going out."""

import pytest

from service.access.permissions import NotAllowedError
from service.duties import own_credentials, sessions
from tests.api.client import NOON
from tests.duties.door import (
    NEXT_PIN,
    PIN,
    Door,
)


def test_who_signs_out_is_out(door: Door) -> None:
    """Of this session alone; a second time changes nothing."""
    person = door.add()
    here, there = door.enter(person.id), door.enter(person.id)
    sessions.sign_out(door.store, here.caller, NOON)
    sessions.sign_out(door.store, here.caller, NOON)
    assert (door.stands(here.token), door.stands(there.token)) == (False, True)
    assert [entry["actor"] for entry in door.entries("signed_out")] == [person.id]


def test_who_signs_out_everywhere_is_out_everywhere(door: Door) -> None:
    """And nobody else is."""
    person, colleague = door.add(), door.add()
    tokens = [door.enter(person.id).token for _ in range(3)]
    other = door.enter(colleague.id)
    caller = door.enter(person.id).caller
    assert len(sessions.my_sessions(door.store, caller, NOON)) == 4
    assert sessions.sign_out_everywhere(door.store, caller, NOON) == 4
    assert not any(map(door.stands, tokens))
    assert door.stands(other.token)
    assert sessions.my_sessions(door.store, caller, NOON) == []
    [entry] = door.entries("sessions_ended")
    assert entry["about"] == {"person": person.id, "sessions": 4}


def test_a_device_has_nothing_of_its_own(door: Door) -> None:
    """Nobody is signed in on it."""
    with pytest.raises(NotAllowedError, match="nobody is signed in"):
        sessions.sign_out(door.store, door.device, NOON)
    with pytest.raises(NotAllowedError, match="nobody is signed in"):
        own_credentials.change_pin(door.store, door.device, PIN, NEXT_PIN, NOON)


def test_somebody_signed_in_is_told_their_own_name(door: Door) -> None:
    """A device has none beside its id."""
    found = door.enter(door.add().id)
    assert sessions.my_name(door.store, found.caller) == "Somebody"
    assert sessions.my_name(door.store, door.device) is None
