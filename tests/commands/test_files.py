"""Files that commands write and read: a folder that is not there, a name that cannot be."""

import re
import shutil
import socket
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import MetaData, inspect, select, update
from typer.testing import Result

import scenario
from service.store.database import VERSION, Database
from tests.databases import BACKED_UP, ITS_BYTES
from tests.test_cli import run

HOSPITAL = str(Path(scenario.__file__).parent / "hospital.toml")
PERIOD = ("--from", "2026-07-01T00:00:00Z", "--until", "2026-07-02T00:00:00Z")
WRITERS = [
    ("labels", "--out", "{}.pdf"),
    ("manifest", "2026-Q3", "--out", "{}.zip"),
    ("manifest", "2026-Q3", "--out", "{}.csv"),
    ("epcis", *PERIOD, "--out", "{}.jsonld"),
    ("checkpoint", "--out", "{}.txt"),
    ("checkpoint", "--since", "1", "--out", "c.txt", "--proof", "{}.txt"),
    ("import", "list.csv", "--rejects", "{}.csv"),
    pytest.param(("backup", "{}.sqlite3"), marks=BACKED_UP),
    pytest.param(("restore", "copy.sqlite3", "--into", "{}.sqlite3"), marks=BACKED_UP),
    ("witness", "create", "w", "--out", "{}.pem"),
    ("witness", "sign", "c", "--log-key", "l", "--key", "k", "--state", "{}.txt"),
    ("witness", "sign", "c", "--log-key", "l", "--key", "k", "--state", "s", "--out", "{}.txt"),
    ("demo", "--no-serve", "--per-day", "10", "--out", "{}"),
]
READERS = [
    ("setup", "{}"),
    ("import", "{}"),
    ("import", "list.csv", "--mapping", "{}"),
    pytest.param(("restore", "{}", "--into", "new.sqlite3"), marks=BACKED_UP),
    ("witness", "sign", "{}", "--log-key", "log.vkey", "--key", "w.pem", "--state", "s"),
    ("witness", "sign", "c", "--log-key", "{}", "--key", "w.pem", "--state", "s"),
    ("witness", "sign", "c", "--log-key", "log.vkey", "--key", "{}", "--state", "s"),
    ("witness", "sign", "c", "--log-key", "log.vkey", "--key", "w.pem", "--state", "s",
     "--vouching", "{}"),
    ("witness", "sign", "c", "--log-key", "log.vkey", "--key", "w.pem", "--state", "s",
     "--proof", "{}"),
]  # fmt: skip
OPENERS = [
    ("key", "show"),
    ("key", "rotate", "--reason", "yearly"),
    ("checkpoint",),
    ("violations",),
    ("rebuild",),
    ("check",),
    pytest.param(("backup", "copy.sqlite3"), marks=BACKED_UP),
    ("admit", "phone", "--role", "ward"),
    ("revoke", "phone"),
    ("labels", "--out", "l.pdf"),
    ("import", "list.csv"),
    ("manifest", "2026-Q3", "--out", "m.zip"),
    ("epcis", *PERIOD, "--out", "e.jsonld"),
]
LONG = "x" * 300
"""No file system of ours has so long a name: looking for it fails, as where one may not look."""


@pytest.fixture
def facility(folder: Path) -> Path:
    """A working folder with a facility, a list, and a witness's key and state of things."""
    run("setup", HOSPITAL)
    (folder / "log.vkey").write_text(run("key", "show").stdout, encoding="utf-8")
    (folder / "c").write_text(run("checkpoint").stdout, encoding="utf-8")
    run("witness", "create", "w", "--out", "w.pem")
    (folder / "list.csv").write_text("id\n", encoding="utf-8")
    database = folder / "custody.sqlite3"
    if database.exists():
        shutil.copy(database, "copy.sqlite3")
    return folder


def flat(result: Result) -> str:
    """The output with its lines joined."""
    return " ".join(result.output.split())


def dump(database: str) -> dict[str, list[str]]:
    """Every row of every table, the version of the schema too."""
    with closing(Database(database)) as held, held.reading() as connection:
        known = MetaData()
        known.reflect(connection)
        return {
            name: sorted(repr(row) for row in connection.execute(select(table)))
            for name, table in known.tables.items()
        }


def filled(words: tuple[str, ...], name: str) -> list[str]:
    """The words with the name in its place."""
    return [word.format(name) for word in words]


def ids(words: tuple[str, ...]) -> str:
    """A name for a case."""
    return " ".join(words)[:60]


@pytest.mark.parametrize("words", WRITERS, ids=ids)
def test_no_command_makes_a_folder_to_write_in(facility: Path, words: tuple[str, ...]) -> None:
    """A slip in a folder's name is told, with that name; nothing is written."""
    before = {path: path.stat().st_size for path in facility.rglob("*")}

    refused = run(*filled(words, "nowhere/file"))

    assert refused.exit_code == 2, refused.output
    assert "there is no folder nowhere" in flat(refused)
    assert {path: path.stat().st_size for path in facility.rglob("*")} == before


@pytest.mark.parametrize("words", WRITERS, ids=ids)
def test_a_place_that_cannot_be_looked_at_is_told(facility: Path, words: tuple[str, ...]) -> None:
    """A sentence and no traceback, also where the operating system refuses to look."""
    for place in (LONG, f"{LONG}/file", "list.csv/file"):
        refused = run(*filled(words, place))
        assert refused.exit_code == 2, refused.output
        assert "custody: " in refused.output


@pytest.mark.parametrize("words", READERS, ids=ids)
@pytest.mark.parametrize(
    ("name", "content"),
    [("missing", None), (LONG, None), ("folder", None), ("empty", b""), ("bytes", b"\xff\xfe\x80")],
    ids=["missing", "too long a name", "folder", "empty", "no text"],
)
def test_a_file_that_is_none_is_told(
    facility: Path, words: tuple[str, ...], name: str, content: bytes | None
) -> None:
    """Missing, a folder, empty, no text: a sentence each, and nothing is done.

    Exit 1 says that what was read must not be trusted: a backup or a checkpoint that is none. An
    empty proof is a proof: that of a log that did not grow.
    """
    (facility / "folder").mkdir()
    if content is not None:
        (facility / name).write_bytes(content)
        (facility / name).chmod(0o600)

    told = run(*filled(words, name))

    if "--proof" in words and content == b"":
        assert told.exit_code == 0
        return
    judged = content is not None and words[1] == "{}" and words[0] == "restore"
    judged |= content == b"" and words[:3] == ("witness", "sign", "{}")
    assert told.exit_code == (1 if judged else 2), told.output
    assert "custody: " in told.output


@pytest.mark.parametrize("words", OPENERS, ids=ids)
def test_without_a_record_a_command_makes_none(
    folder: Path, database: str, words: tuple[str, ...]
) -> None:
    """A wrong address must not look like an empty record: nothing comes to be, not even a lock."""
    refused = run(*words)

    assert refused.exit_code == 2
    assert re.search("nothing is set up here yet|there is no database", flat(refused))
    assert list(folder.iterdir()) == []
    with closing(Database(database)) as empty, empty.reading() as connection:
        assert inspect(connection).get_table_names() == []


@ITS_BYTES
def test_an_empty_file_is_no_record(folder: Path) -> None:
    """It is told, and stays empty."""
    (folder / "custody.sqlite3").touch()

    refused = run("key", "show")

    assert refused.exit_code == 2
    assert "there is no database" in flat(refused)
    assert [(path.name, path.stat().st_size) for path in folder.iterdir()] == [
        ("custody.sqlite3", 0)
    ]


@ITS_BYTES
def test_a_record_is_set_up_in_a_folder_that_is_there(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folder is named that has to be made first; the same for a backup put in its place."""
    run("setup", HOSPITAL)
    run("backup", "copy.sqlite3")
    monkeypatch.setenv("CUSTODY_DATABASE_URL", f"sqlite:///{folder}/srv/custody.sqlite3")

    for words in (("setup", HOSPITAL), ("restore", "copy.sqlite3")):
        refused = run(*words)
        assert refused.exit_code == 2
        assert "there is no folder" in refused.output
    assert not (folder / "srv").exists()


def test_a_record_of_a_newer_program_is_told(facility: Path, database: str) -> None:
    """A sentence, and the record is as it was."""
    with closing(Database(database)) as newer, newer.writing() as connection:
        connection.execute(update(VERSION).values(version_num="9999"))
    before = dump(database)

    for words in (("key", "show"), ("setup", HOSPITAL), ("serve",)):
        refused = run(*words)
        assert refused.exit_code == 2
        assert "9999" in refused.output
    assert dump(database) == before


def test_a_port_that_is_taken_ends_the_service_with_2(facility: Path) -> None:
    """Wrong usage, not something wrong in the record."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()

        refused = run("serve", "--port", str(taken.getsockname()[1]))

    assert refused.exit_code == 2
