"""Backup, restore and check as an operator runs them."""

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from typer.testing import Result

import scenario
from tests.commands.running import running
from tests.databases import BACKED_UP, ITS_BYTES
from tests.test_cli import printed_ids, run

HOSPITAL = Path(scenario.__file__).parent / "hospital.toml"
LEDGER = """id,kind,containers,occurred_at,actor,category,unit,container_kind,weight_g
01890a5d-ac96-774b-bcce-b302099a80{0},registered,{1},2026-07-01T20:00:00+05:30,nurse-1,red,icu,bag,3400
"""
URL = "CUSTODY_DATABASE_URL"


@pytest.fixture
def folder(folder: Path) -> Path:
    """A working folder with a facility set up in it and one bag on record."""
    assert run("setup", str(HOSPITAL)).exit_code == 0
    registered(folder, "57")
    return folder


def registered(folder: Path, number: str) -> None:
    """One more bag on record."""
    run("labels", "--count", "1", "--out", f"labels-{number}.pdf")
    [container] = printed_ids(folder / f"labels-{number}.pdf")
    (folder / "list.csv").write_text(LEDGER.format(number, container))
    imported = run("import", str(folder / "list.csv"))
    assert imported.exit_code == 0, imported.output


def flat(result: Result) -> str:
    """The output with its lines joined."""
    return " ".join(result.output.split())


@BACKED_UP
def test_a_backup_says_what_it_holds_and_how_long_it_must_be_kept(folder: Path) -> None:
    """India, BMW Rules 2016, rule 14: records are kept for five years (read for the regime)."""
    done = run("backup", "copy.sqlite3")

    assert done.exit_code == 0, done.output
    assert "3 entries, root " in flat(done)
    assert "is kept until 20" in flat(done)
    assert "keys that sign are not in it" in flat(done)
    assert (folder / "copy.sqlite3").stat().st_mode & 0o777 == 0o600


@BACKED_UP
def test_a_backup_for_a_script(folder: Path) -> None:
    """JSON with the root, the size of the file, and the last day of each span."""
    told = json.loads(run("backup", "copy.sqlite3", "--json").stdout)

    [held] = told["held"]
    assert told["size_bytes"] == (folder / "copy.sqlite3").stat().st_size
    assert held["entries"] == 3
    assert len(bytes.fromhex(held["root"])) == 32
    newest, until = held["newest"], held["keep"][0]["until"]
    assert int(until[:4]) - int(newest[:4]) == 5
    assert held["lost"] == ""


@BACKED_UP
def test_a_backup_writes_over_nothing_unless_told(folder: Path) -> None:
    """Exit 2 and how; the file is as it was."""
    (folder / "copy.sqlite3").write_text("mine")

    refused = run("backup", "copy.sqlite3")
    held = (folder / "copy.sqlite3").read_text()
    done = run("backup", "copy.sqlite3", "--replace")

    assert refused.exit_code == 2
    assert "--replace" in flat(refused)
    assert held == "mine"
    assert done.exit_code == 0


@BACKED_UP
def test_a_damaged_record_is_not_backed_up(folder: Path) -> None:
    """Exit 1, the entry is named, and the last good backup stays."""
    assert run("backup", "copy.sqlite3").exit_code == 0
    good = (folder / "copy.sqlite3").read_bytes()
    with closing(sqlite3.connect(folder / "custody.sqlite3")) as connection:
        [(trigger,)] = connection.execute(
            "SELECT sql FROM sqlite_schema WHERE name = 'event_refuses_update'"
        )
        connection.execute("DROP TRIGGER event_refuses_update")
        connection.execute("UPDATE event SET body = replace(body, '3400', '3300')")
        connection.execute(trigger)
        connection.commit()

    refused = run("backup", "copy.sqlite3", "--replace")
    checked = run("check", "--quick")

    assert refused.exit_code == checked.exit_code == 1
    assert "it is not what its leaf was made of" in flat(refused)
    assert (folder / "copy.sqlite3").read_bytes() == good
    assert "FAILS" in checked.output


@BACKED_UP
def test_a_backup_is_restored_elsewhere_and_opens(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The try that every backup should have: restored beside, checked, read."""
    run("backup", "copy.sqlite3")

    (folder / "tried").mkdir()
    done = run("restore", "copy.sqlite3", "--into", "tried/record.sqlite3")

    monkeypatch.setenv(URL, f"sqlite:///{folder / 'tried/record.sqlite3'}")
    assert done.exit_code == 0, done.output
    assert run("check").exit_code == 0
    assert run("rebuild").exit_code == 0


@BACKED_UP
def test_a_record_that_is_there_is_never_written_over(folder: Path) -> None:
    """Refused with what to do; set aside on request, with all that belongs to it."""
    run("backup", "copy.sqlite3")
    registered(folder, "58")
    newer = (folder / "custody.sqlite3").read_bytes()

    refused = run("restore", "copy.sqlite3")
    done = run("restore", "copy.sqlite3", "--set-aside")

    [aside] = folder.glob("custody.sqlite3.before-restore-*Z")
    assert refused.exit_code == 2
    assert "move it away yourself" in flat(refused)
    assert done.exit_code == 0, done.output
    assert "3 entries" in flat(done)
    assert aside.read_bytes() == newer
    assert run("check").exit_code == 0


@BACKED_UP
def test_nothing_is_restored_under_a_running_service(folder: Path) -> None:
    """Whoever holds the writer's claim is asked to stop first."""
    run("backup", "copy.sqlite3")
    with running(folder / "custody.sqlite3"):
        backed = run("backup", "more.sqlite3")
        refused = run("restore", "copy.sqlite3", "--set-aside")

    assert backed.exit_code == 0, "a backup needs no claim"
    assert refused.exit_code == 2
    assert "a running service most likely" in flat(refused)
    assert not list(folder.glob("*before-restore*"))


@BACKED_UP
def test_a_backup_older_than_what_was_signed_says_what_is_lost(folder: Path) -> None:
    """It is put in place all the same, it may be all there is; exit 1, and the check says it."""
    run("backup", "copy.sqlite3")
    registered(folder, "58")
    assert run("checkpoint").exit_code == 0

    done = run("restore", "copy.sqlite3", "--set-aside")
    checked = run("check")

    assert done.exit_code == 1
    assert "entries 3 to 4 were signed and are not here" in flat(done)
    assert "they are lost unless a newer backup is found" in flat(done)
    assert checked.exit_code == 1
    assert "last signed: entries 3 to 4" in flat(checked)


def test_a_signed_record_holds(folder: Path) -> None:
    """The checkpoint that was kept and the one in the keyring are both the log's."""
    run("checkpoint")
    registered(folder, "58")

    checked = run("check")

    assert checked.exit_code == 0, checked.output
    assert "checkpoints: 1 signed, each over what the log holds" in flat(checked)
    assert "the log begins with the 3 entries that were signed last" in flat(checked)


@ITS_BYTES
@pytest.mark.parametrize("damage", ["no database", "cut", "empty"])
def test_a_damaged_file_ends_in_a_sentence(folder: Path, damage: str) -> None:
    """Exit 1 of the check; a restore of such a file puts nothing in place."""
    file = folder / "custody.sqlite3"
    held = file.read_bytes()
    file.write_bytes(
        {"no database": b"x" * 9_000, "cut": held[: len(held) // 2], "empty": b""}[damage]
    )

    checked = run("check")
    restored = run("restore", "custody.sqlite3", "--into", "new.sqlite3")

    assert checked.exit_code == restored.exit_code == 1
    assert "FAILS" in checked.output
    assert "not sound" in flat(restored)
    assert not (folder / "new.sqlite3").exists()


@ITS_BYTES
def test_a_file_that_cannot_be_opened_ends_in_a_sentence(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk or its permissions, not the record: exit 1 all the same, no traceback."""
    wal = folder / "custody.sqlite3-wal"
    wal.unlink(missing_ok=True)
    wal.mkdir()

    checked = run("check")

    assert checked.exit_code == 1
    assert "cannot be opened" in flat(checked)


@ITS_BYTES
def test_without_a_database_the_check_says_so_and_makes_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A wrong address must not look like an empty record."""
    monkeypatch.setenv(URL, f"sqlite:///{tmp_path / 'none.sqlite3'}")

    results = [run("check"), run("backup", str(tmp_path / "copy"))]

    assert [result.exit_code for result in results] == [2, 2]
    assert all("there is no database" in flat(result) for result in results)
    assert list(tmp_path.iterdir()) == []


@BACKED_UP
def test_postgresql_is_backed_up_with_its_own_programs(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Said in a sentence, without asking the server."""
    pytest.importorskip("psycopg")
    run("backup", "copy.sqlite3")
    monkeypatch.setenv(URL, "postgresql+psycopg://custody@127.0.0.1:1/custody")

    for words in (("backup", "copy-2"), ("restore", "copy.sqlite3")):
        refused = run(*words)
        assert refused.exit_code == 2
        assert "pg_dump and pg_restore" in flat(refused)


def test_the_check_for_a_script(folder: Path) -> None:
    """Every check with its name, whether it holds, and what was found."""
    told = json.loads(run("check", "--json").stdout)

    assert {each["name"] for each in told["checks"]} >= {"file", "schema", "entries", "projections"}
    assert all(each["holds"] is not False for each in told["checks"])
    assert told["held"][0]["entries"] == 3
