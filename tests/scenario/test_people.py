"""The demonstration's people can sign in, with what was printed and with nothing else."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from rich.console import Console

from scenario.hospital import load_site
from scenario.people import SignIn, show, take_on
from service.access.caller import Caller, Proof
from service.access.second_factor import code_of
from service.custody.words import Role
from service.duties import signing_in
from service.duties.signing_in import SignInError
from service.store.store import Store
from tests.databases import kept

NOW = datetime(2026, 10, 5, 9, tzinfo=UTC)
SITE = load_site()


@pytest.fixture(scope="module")
def hill(
    backend: str, request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Store, list[SignIn]]]:
    """The invented hospital with its people."""
    with kept(backend, request) as databases:
        store = Store(databases.at(tmp_path_factory.mktemp("hill")))
        store.set_up(SITE, NOW, b"a key for tests, 32 bytes long!!")
        caller = Caller(SITE.id, "demonstration", Role.ADMINISTRATOR)
        yield store, take_on(store, caller, NOW)
        store.close()


def test_each_signs_in_by_what_was_printed(hill: tuple[Store, list[SignIn]]) -> None:
    """In full: nobody has anything to set first."""
    store, people = hill
    later = NOW + timedelta(minutes=2)
    for one in people:
        code = code_of(one.secret, later) if one.secret else None
        found = signing_in.by_password(store, SITE.id, one.person, one.password, code, "", later)
        assert found.caller.role is one.role
        assert not found.caller.confined
        assert (found.caller.proof is Proof.SECOND_FACTOR) == bool(one.secret)


def test_passwords_are_of_this_run_alone(hill: tuple[Store, list[SignIn]]) -> None:
    """No two alike, none short, and no other one lets in."""
    store, people = hill
    passwords = {one.password for one in people}
    assert len(passwords) == len(people)
    assert min(map(len, passwords)) >= 25
    with pytest.raises(SignInError):
        signing_in.by_password(store, SITE.id, "p-ward", "p-ward", None, "", NOW)


def test_all_of_it_is_printed(hill: tuple[Store, list[SignIn]]) -> None:
    """Id, password, and how the code of the moment is had; whole, on a narrow terminal too."""
    written = StringIO()
    show(hill[1], Console(width=80, file=written), "http://localhost:8000")
    text = written.getvalue()
    assert "http://localhost:8000" in text
    for one in hill[1]:
        assert one.password in text
        assert one.secret in text
