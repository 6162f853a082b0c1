"""The command line as an operator uses it, on a database of its own."""

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import typer
from pypdf import PdfReader
from typer.testing import CliRunner, Result

import scenario
from service.cli import app
from service.duties import importing
from service.start import COMMANDS
from tests.databases import ITS_BYTES

HOSPITAL = Path(scenario.__file__).parent / "hospital.toml"
LEDGER = """id,kind,containers,occurred_at,actor,category,unit,container_kind,weight_g
01890a5d-ac96-774b-bcce-b302099a8057,registered,{0},2026-07-01T10:00:00+05:30,nurse-1,red,icu,bag,3400
01890a5d-ac96-774b-bcce-b302099a8058,registered,{1},2026-07-01T10:05:00+05:30,nurse-1,mauve,icu,bag,1200
"""


def run(*words: str) -> Result:
    """Run the command; a traceback fails the test."""
    result = CliRunner().invoke(app, list(words))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def printed_ids(pdf: Path) -> list[str]:
    """The ids on a PDF of labels."""
    text = "\n".join(page.extract_text() for page in PdfReader(pdf).pages)
    return [i.replace(" ", "") for i in re.findall(r"\b(?:[0-9A-Z]{4} ){2}[0-9A-Z]{4}\b", text)]


def test_nothing_is_set_up_yet(folder: Path) -> None:
    """Before the set-up every command says what to do first, and ends with 2."""
    result = run("violations")

    assert result.exit_code == 2
    assert "custody setup FILE" in result.output


def test_from_set_up_to_manifest(folder: Path) -> None:
    """Set up, print labels, import a ledger with one bad line, look at what is wrong, account."""
    first = run("setup", str(HOSPITAL), "--administrator", "p-head", "--name", "Ila Marrow")
    again = run("setup", str(HOSPITAL))
    assert (first.exit_code, again.exit_code) == (0, 0)
    assert "shown this once" in first.output
    assert "judged by the set-up" in again.output

    assert run("labels", "--count", "2", "--stock", "a4-8", "--out", "blank.pdf").exit_code == 0
    ids = printed_ids(folder / "blank.pdf")
    assert len(ids) == 2

    (folder / "ledger.csv").write_text(LEDGER.format(*ids), encoding="utf-8")
    imported = run("import", "ledger.csv", "--keeper", "ward ledger", "--json")
    figures = json.loads(imported.output)
    assert imported.exit_code == 1
    assert (figures["recorded"], figures["refused"]) == (1, 1)
    assert "mauve" in Path(figures["rejects"]).read_text(encoding="utf-8")

    found = run("violations", "--at", "2026-07-02T10:00:00+05:30", "--all", "--json")
    assert found.exit_code == 0
    assert json.loads(found.output) == []

    filled = run("labels", "--container", ids[0], "--out", "filled.pdf")
    assert filled.exit_code == 0
    assert printed_ids(folder / "filled.pdf") == [ids[0]]

    (folder / "papers").mkdir()
    for form in ("zip", "pdf", "xlsx", "csv"):
        written = run("manifest", "2026-Q3", "--out", f"papers/m.{form}")
        assert written.exit_code == 0
        assert (folder / "papers" / f"m.{form}").stat().st_size > 0
    assert run("rebuild").exit_code == 0


def test_certificates_that_are_none_are_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The service does not start, least of all without TLS."""
    (folder / "key.pem").write_text("no key", encoding="utf-8")
    monkeypatch.setenv("CUSTODY_TLS_CERTIFICATE", "key.pem")
    monkeypatch.setenv("CUSTODY_TLS_KEY", "key.pem")
    result = run("serve")

    assert result.exit_code == 2
    assert "TLS cannot be used" in result.output


def test_a_stopped_import_says_what_to_do(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Batches that are on disk stay there; the same import again does the rest."""
    run("setup", str(HOSPITAL))

    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(importing, "import_file", interrupted)
    result = run("import", "ledger.csv")
    assert result.exit_code == 130
    assert "run the same import again" in " ".join(result.output.split())


@ITS_BYTES
def test_after_a_command_the_file_alone_is_the_whole_record(folder: Path) -> None:
    """SQLite works its write-ahead log into the file when the last user closes it.

    Beside it stays the empty file by whose lock one process writes: were it removed, another
    process could hold a lock on a file that is no longer there, and a third make a new one.
    """
    run("setup", str(HOSPITAL))
    assert run("violations").exit_code == 0

    left = {path.name: path.stat().st_size for path in folder.glob("custody.sqlite3*")}
    assert left.pop("custody.sqlite3.writer", 0) == 0
    assert [*left] == ["custody.sqlite3"]


def test_tokens_are_given_and_taken_back(folder: Path) -> None:
    """A token is printed once; ending it twice says that there is none."""
    run("setup", str(HOSPITAL))

    assert len(run("admit", "ward phone", "--role", "ward").output.strip()) > 40
    assert run("revoke", "ward phone").exit_code == 0
    assert run("revoke", "ward phone").exit_code == 1


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["setup", "missing.toml"], "cannot be read"),
        (["manifest", "2026-Q5", "--out", "m.pdf"], "2026-Q5"),
        (["manifest", "2026-Q3", "--out", "m.doc"], ".zip"),
        (["violations", "--at", "yesterday"], "not a time"),
        (["violations", "--at", "2026-07-01T10:00:00"], "no zone"),
        (["violations", "--at", "0001-01-01T00:00:00+14:00"], "outside the years"),
        (["labels", "--out", "l.pdf", "--stock", "napkin"], "napkin"),
        (["serve", "--port", "99999"], "65535"),
        (["labels", "--out", "l.pdf", "--container", "PCM1FBPE5XYS"], "PCM1"),
        (["import", "missing.csv"], "missing.csv"),
        (["regimes", "atlantis"], "atlantis"),
        (["manifest", "2026-Q3", "--out", "taken/m.pdf"], "cannot be written"),
        (["labels", "--out", "."], "cannot be written"),
        (["import", "missing.csv", "--keeper", ""], "1 to 200 characters"),
        (["import", "missing.csv", "--mapping", "odd.toml"], "[container]"),
        (["violations", "--code", "holding.exceded"], "holding.exceded"),
        (["admit", "x" * 65, "--role", "ward"], "1 to 64 characters"),
        (["labels", "--out", "l.pdf", "--container", "PCM1-FBPE-5XYT"], "check character"),
        (["demo", "--out", "taken"], "taken"),
    ],
)
def test_wrong_usage_ends_with_2_and_a_sentence(folder: Path, words: list[str], says: str) -> None:
    """What cannot be done is said in a sentence; nothing is written."""
    run("setup", str(HOSPITAL))
    (folder / "taken").write_text("a file, no folder", encoding="utf-8")
    (folder / "odd.toml").write_text('keeper = "k"\n"[container]" = "id"\n', encoding="utf-8")
    result = run(*words)

    assert result.exit_code == 2
    assert says in result.output


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("DATABASE_URL", "sqlite:////no/such/folder/c.sqlite3", "there is no database /no/such"),
        ("DATABASE_URL", "sqlite:///junk.sqlite3", "cannot be opened: file is not a database"),
        ("DATABASE_URL", "nonsense", "cannot be opened: Could not parse"),
        ("DATABASE_URL", "nodb://h:hidden@x/y", "cannot be opened"),
        ("DATABASE_URL", "mysql+pymysql://h:hidden@x/y", "driver is not installed: pymysql"),
        ("PORT", "eighty", "CUSTODY_PORT: "),
        ("TLS_KEY", "no.pem", "CUSTODY_TLS_KEY: "),
    ],
)
def test_a_setting_that_cannot_hold_is_named_in_a_sentence(
    folder: Path, monkeypatch: pytest.MonkeyPatch, name: str, value: str, says: str
) -> None:
    """No traceback, and never the address of a database, which may hold a password."""
    (folder / "junk.sqlite3").write_text("no database at all, but a text", encoding="utf-8")
    monkeypatch.setenv(f"CUSTODY_{name}", value)
    result = run("violations")

    assert result.exit_code == 2
    assert says in " ".join(result.output.split())
    assert "hidden" not in result.output


@pytest.mark.on_a_file("a server may have a replica")
def test_a_replica_of_a_file_is_refused_in_a_sentence(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 2 from a command that reads and from the service; no password is told."""
    run("setup", str(HOSPITAL))
    monkeypatch.setenv("CUSTODY_READ_DATABASE_URL", "postgresql+psycopg://h:hidden@x/y")
    for words in (("violations",), ("serve",)):
        refused = run(*words)
        assert refused.exit_code == 2, words
        assert "CUSTODY_READ_DATABASE_URL names a replica" in " ".join(refused.output.split())
        assert "hidden" not in refused.output


def test_the_regimes_are_listed_and_shown(folder: Path) -> None:
    """A regime can be read without any set-up, as a page or as JSON."""
    assert "india-2016" in run("regimes").output
    assert "rule 8(7)" in run("regimes", "india-2016").output
    assert json.loads(run("regimes", "who-2014", "--json").output)["id"] == "who-2014"


@pytest.mark.on_a_file("the demonstration keeps its record in one of its files")
def test_a_small_demonstration_finds_what_was_planted(folder: Path) -> None:
    """It ends well only if every fault is found and nothing else; it writes its files."""
    result = run("demo", "--no-serve", "--per-day", "12", "--seed", "5", "--out", "demo")

    assert result.exit_code == 0
    assert "all found, none in error" in (folder / "demo" / "summary.txt").read_text("utf-8")
    names = {path.name for path in (folder / "demo").iterdir()}
    assert {"manifest.zip", "labels-sheet.pdf", "labels-roll.pdf"} <= names


def test_every_command_is_listed_with_its_file() -> None:
    """Help is told from a table, so that nothing else is loaded for it: the table is whole."""
    group = typer.main.get_group(app)
    told = {name: c.get_short_help_str(200) for name, c in group.commands.items()}
    assert {name: said for name, (_, said) in COMMANDS.items()} == told
    files = {command_name(c): c.callback.__module__ for c in app.registered_commands if c.callback}
    for within in app.registered_groups:
        [first, *_] = within.typer_instance.registered_commands
        files[within.name] = first.callback.__module__
    assert {name: f"service.commands.{file}" for name, (file, _) in COMMANDS.items()} == files


def test_a_command_that_is_loaded_alone_keeps_its_name() -> None:
    """As it is started: in a process of its own, with nothing else loaded."""
    started = subprocess.run(
        [sys.executable, "-c", START, "verify", "none.zip"],
        check=False, capture_output=True, text=True, cwd=ROOT,
    )  # fmt: skip
    assert started.returncode == 2
    assert "none.zip cannot be read" in started.stderr
    lone = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", START],
        check=False,
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    assert lone.returncode == 0
    assert "Register, label, hand over" in lone.stdout
    assert "sqlalchemy" not in lone.stderr


START = "from service.start import custody; custody()"
ROOT = HOSPITAL.parent.parent


def command_name(command: Any) -> str:
    """The name under which it is called."""
    return command.name or command.callback.__name__.replace("_", "-")
