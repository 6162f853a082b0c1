"""The access log is checked like the record, and those who may come in are checked against it."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from alembic import command
from alembic.config import Config
from sqlalchemy import bindparam, text
from sqlmodel.sql.sqltypes import AutoString, UTCDateTime

from service.access.caller import WHOLE, Caller, Scope
from service.access.entries import access_log
from service.custody.words import Role
from service.duties import administrator, clients, evidence, signing_in
from service.duties.access import holder_of
from service.duties.administrator import NewPerson
from service.duties.evidence import ACCESS, Keeping
from service.duties.keeping import check_record
from service.store.checking import Check
from service.store.database import Database
from service.store.identities import token_hash
from service.store.keyring import Keyring
from service.store.migrating import MIGRATIONS
from service.store.store import Store
from tests.store.record import SET_UP_AT, new_facility, on_file
from tests.store.test_keeping import past_the_triggers
from tests.trade import at

NOW = at("2026-07-01 08:00")
URL = "https://custody.example"
DAY = timedelta(days=1)
TIME = dict.fromkeys(("facility", "token_hash", "name", "role"), AutoString()) | dict.fromkeys(
    ("created_at", "expires_at", "revoked_at"), UTCDateTime()
)


def lived(store: Store, facility: str) -> None:
    """People taken on, changed and shut out; programs and devices let in, enrolled and ended."""
    admin = Caller(facility, "command line", Role.ADMINISTRATOR)
    for name in ("p-head", "p-nurse", "p-gone"):
        new = NewPerson(name.title(), Role.WARD, Scope(frozenset({"ward-3"})), name)
        administrator.add_person(store, admin, new, NOW)
    administrator.change_person(store, admin, "p-head", NOW, role=Role.ADMINISTRATOR, scope=WHOLE)
    administrator.change_person(store, admin, "p-nurse", NOW, valid_until=NOW + DAY)
    administrator.change_person(store, admin, "p-gone", NOW, disabled=True)
    administrator.issue_badge(store, admin, "p-nurse", NOW)
    for name in ("link", "link", "old"):
        clients.admit_program(store, admin, name, Role.PLANT, NOW, DAY)
    clients.revoke_client(store, admin, "old", NOW + DAY)
    clients.invite_device(store, admin, "tablet", Role.WARD, WHOLE, NOW)
    code = clients.invite_device(store, admin, "tablet", Role.WARD, WHOLE, NOW)
    signing_in.enrol_device(store, facility, code, "", NOW)
    clients.invite_device(store, admin, "tablet", Role.HANDLER, WHOLE, NOW)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, Path]:
    """Such a database, closed, with its access log signed; and the folder of the keys."""
    folder = tmp_path_factory.mktemp("whole")
    with closing(on_file(folder)) as store:
        facility = new_facility(store)
        lived(store, facility)
        keeping = Keeping(store, Keyring(folder / "keys"), URL)
        admin = Caller(facility, "command line", Role.ADMINISTRATOR)
        evidence.sign_access_log(keeping, admin, NOW)
    return (folder / "record.sqlite3").read_bytes(), folder / "keys"


@pytest.fixture
def database(tmp_path: Path, whole: tuple[bytes, Path]) -> Path:
    """The same database in a file of the test's own."""
    file = tmp_path / "record.sqlite3"
    file.write_bytes(whole[0])
    return file


def checks(database: Path, keys: Path) -> Iterator[Check]:
    """All that is looked at but the projections."""
    told = lambda *_: None  # noqa: E731
    yield from check_record(f"sqlite:///{database}", Keyring(keys), told, quick=True)


def faults(database: Path, keys: Path) -> dict[str, str]:
    """What does not hold."""
    return {each.name: each.said for each in checks(database, keys) if each.holds is False}


def test_all_holds_of_what_nobody_touched(database: Path, whole: tuple[bytes, Path]) -> None:
    """Each check of the access log has a sentence; it was signed."""
    found = {each.name: each for each in checks(database, whole[1])}

    assert faults(database, whole[1]) == {}
    assert found["access last signed"].holds
    assert "3, each with the role" in found["people"].said
    assert "7 tokens and codes" in found["clients"].said


@pytest.mark.parametrize(
    ("statement", "check_", "said"),
    [
        ("UPDATE access SET body = replace(body, '\"ward\"', '\"officer\"') WHERE number = 0",
         "access leaves", "entry 0 of the access log: it is not what its leaf was made of"),
        ("UPDATE access SET body = '{' WHERE number = 1", "access entries", "does not read"),
        ("UPDATE access SET body = body || ' ' WHERE number = 1", "access entries", "body"),
        ("UPDATE access SET actor = 'p-nurse' WHERE number = 1", "access entries", "column actor"),
        ("UPDATE access SET kind = 'refused' WHERE number = 1", "access entries", "column kind"),
        ("UPDATE access SET at = '2020-01-01 00:00:00.000000' WHERE number = 1",
         "access entries", "column at"),
        ("DELETE FROM access WHERE number = 2", "access leaves", "the entry itself is gone"),
        ("DELETE FROM leaf WHERE facility LIKE '%.access' AND number = 2",
         "access leaves", "it has no leaf"),
        ("UPDATE node SET hash = zeroblob(32) WHERE facility LIKE '%.access' AND level = 1",
         "access nodes", "node 1/0"),
        ("UPDATE log SET size = size - 1 WHERE facility LIKE '%.access'",
         "access head", "column size"),
        ("UPDATE person SET role = 'administrator' WHERE id = 'p-nurse'",
         "people", "'p-nurse': role is administrator, by the log ward"),
        ("UPDATE person SET units = '' WHERE id = 'p-nurse'",
         "people", "'p-nurse': units is none, by the log ['ward-3']"),
        ("UPDATE person SET valid_until = NULL WHERE id = 'p-nurse'",
         "people", "'p-nurse': valid_until is none, by the log 2026-07-02T08:00:00Z"),
        ("UPDATE person SET disabled_at = NULL WHERE id = 'p-gone'",
         "people", "'p-gone': disabled_at is none"),
        ("UPDATE person SET id = 'p-new' WHERE id = 'p-nurse'",
         "people", "'p-new' (ward) was added by no entry; 'p-nurse' was added and is gone"),
        ("DELETE FROM person WHERE id = 'p-gone'", "people", "'p-gone' was added and is gone"),
        ("UPDATE client SET revoked_at = NULL WHERE name = 'old'",
         "clients", "the program 'old' of 2026-07-01T08:00:00Z: revoked_at is none"),
        ("UPDATE client SET role = 'administrator' WHERE name = 'link'",
         "clients", "role is administrator, by the log plant"),
        ("UPDATE client SET expires_at = '2099-01-01 00:00:00.000000' WHERE name = 'link'",
         "clients", "until is 2099-01-01T00:00:00Z, by the log 2026-07-02T08:00:00Z"),
        ("UPDATE client SET created_at = '2026-07-01 09:00:00.000000' WHERE name = 'old'",
         "clients", "the program 'old' of 2026-07-01T09:00:00Z (plant) was let in by no entry"),
        ("UPDATE client SET kind = 'program' WHERE kind = 'device'", "clients", "kind is program"),
    ],
)  # fmt: skip
def test_what_was_changed_behind_the_service_is_named(
    database: Path, whole: tuple[bytes, Path], statement: str, check_: str, said: str
) -> None:
    """Whoever has the file can make himself administrator; the check names him."""
    past_the_triggers(database, statement)

    assert said in faults(database, whole[1])[check_]


def test_a_row_that_was_put_in_is_named(database: Path, whole: tuple[bytes, Path]) -> None:
    """A token of nobody's making opens the door, and is found."""
    with closing(sqlite3.connect(database)) as connection:
        connection.execute(
            "INSERT INTO client SELECT facility, 'x', 'mine', 'administrator', created_at, "
            "expires_at, NULL, kind, units, parties FROM client LIMIT 1"
        )
        connection.commit()

    assert "'mine'" in faults(database, whole[1])["clients"]


def test_entries_that_were_signed_and_taken_away_are_missed(
    database: Path, whole: tuple[bytes, Path]
) -> None:
    """All of the log made to fit again: the keyring knows how far it was signed."""
    with closing(sqlite3.connect(database)) as connection:
        [(size,)] = connection.execute("SELECT size FROM log WHERE facility LIKE '%.access'")
    past_the_triggers(
        database,
        "DELETE FROM access",
        "DELETE FROM leaf WHERE facility LIKE '%.access'",
        "DELETE FROM node WHERE facility LIKE '%.access'",
        "DELETE FROM log WHERE facility LIKE '%.access'",
        "DELETE FROM checkpoint WHERE facility LIKE '%.access'",
        "DELETE FROM person",
        "DELETE FROM client",
    )

    found = faults(database, whole[1])

    assert f"entries 0 to {size - 2} were signed and are not here" in found["access last signed"]


def test_the_same_done_twice_at_one_instant_is_two_entries(tmp_path: Path) -> None:
    """Their numbers are in them, so that a third finds its place behind the second."""
    with closing(on_file(tmp_path)) as store:
        facility = new_facility(store)
        admin = Caller(facility, "command line", Role.ADMINISTRATOR)
        tokens = [
            clients.admit_program(store, admin, "link", Role.PLANT, SET_UP_AT, DAY)
            for _ in range(3)
        ]
        told = administrator.access_entries(store, admin, 0, 10)
        assert all(holder_of(store, token, SET_UP_AT) for token in tokens)
    assert [seq for seq, _ in told] == [json.loads(body)["seq"] for _, body in told] == [1, 2, 3]
    assert faults(tmp_path / "record.sqlite3", tmp_path / "keys") == {}


def test_the_access_log_has_a_key_and_a_name_of_its_own(tmp_path: Path) -> None:
    """Who signs one log has not signed the other; both grow unhindered."""
    with closing(on_file(tmp_path)) as store:
        facility = new_facility(store)
        admin = Caller(facility, "command line", Role.ADMINISTRATOR)
        keeping = Keeping(store, Keyring(tmp_path / "keys"), URL)
        clients.admit_program(store, admin, "link", Role.PLANT, NOW, DAY)

        of_record = evidence.sign_log(keeping, admin, NOW)
        of_access = evidence.sign_access_log(keeping, admin, NOW)

        keys = {evidence.public_key(keeping, admin, log).vkey for log in evidence.LOGS}
        assert of_record.state.origin == f"custody.example/{facility}"
        assert of_access.state.origin == f"custody.example/{access_log(facility)}"
        assert len(keys) == 2
        again = evidence.sign_access_log(keeping, admin, NOW)
        assert again.state.size == of_access.state.size + 1, "the signing itself was entered"
        assert len(evidence.growth(keeping, admin, of_access.state.size, None, ACCESS)) > 0


def test_the_daily_signing_of_the_access_log_is_no_entry_of_it(tmp_path: Path) -> None:
    """Or it would grow by it, and be signed for ever; a log without an entry is not signed."""
    with closing(on_file(tmp_path)) as store:
        facility = new_facility(store)
        admin = Caller(facility, "daily", Role.ADMINISTRATOR)
        keeping = Keeping(store, Keyring(tmp_path / "keys"), URL)
        assert evidence.sign_daily(keeping, admin, NOW, ACCESS) is None

        clients.admit_program(store, admin, "link", Role.PLANT, NOW, DAY)

        signed = evidence.sign_daily(keeping, admin, NOW, ACCESS)
        assert signed is not None
        assert signed.state.size == 1
        assert evidence.sign_daily(keeping, admin, NOW + 2 * DAY, ACCESS) is None
        assert len(administrator.access_entries(store, admin, 0, 10)) == 1


def test_those_let_in_before_there_was_a_log_are_entered_by_the_new_version(tmp_path: Path) -> None:
    """A record of the second version: its tokens stand or have ended as they did, and all holds."""
    path = tmp_path / "record.sqlite3"
    with closing(on_file(tmp_path)) as store:
        facility = new_facility(store)
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    with closing(Database(f"sqlite:///{path}")) as database, database.writing() as connection:
        config.attributes["connection"] = connection
        command.downgrade(config, "0002")
        for token, name, ended in (("a", "phone", None), ("b", "phone", None), ("c", "old", DAY)):
            row = {
                "facility": facility,
                "token_hash": token_hash(token),
                "name": name,
                "role": "ward",
                "created_at": NOW,
                "expires_at": NOW + 9 * DAY,
                "revoked_at": ended and NOW + ended,
            }
            connection.execute(
                text(
                    "INSERT INTO client VALUES (:facility, :token_hash, :name, :role, :created_at, "
                    ":expires_at, :revoked_at)"
                ).bindparams(*(bindparam(key, value, TIME[key]) for key, value in row.items()))
            )
    with closing(on_file(tmp_path)) as store:
        kept = [bool(holder_of(store, token, NOW + 2 * DAY)) for token in "abc"]
        admin = Caller(facility, "command line", Role.ADMINISTRATOR)
        told = administrator.access_entries(store, admin, 0, 10)

    assert kept == [True, True, False]
    assert [json.loads(body)["kind"] for _, body in told] == [
        "program_admitted", "program_admitted", "program_admitted", "client_revoked"
    ]  # fmt: skip
    assert faults(path, tmp_path / "keys") == {}
