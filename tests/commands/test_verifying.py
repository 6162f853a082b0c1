"""``custody verify`` as an inspector uses it: a file, a key, and nothing else of ours."""

import json
from pathlib import Path

import pytest
from typer.testing import Result

from service.bundles.names import pem_text
from service.ledger.note import note_text
from tests.bundles.made import changed, later, signer
from tests.test_cli import run


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a bundle, the one before, the key and a checkpoint; no database anywhere."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CUSTODY_DATABASE_URL", "sqlite:////nowhere/custody.sqlite3")
    log, before, made = later()
    (tmp_path / "q3.zip").write_bytes(made)
    (tmp_path / "q2.zip").write_bytes(before)
    (tmp_path / "hill.vkey").write_text(log.signers[0].verifier.vkey + "\n", encoding="utf-8")
    (tmp_path / "other.vkey").write_text(signer(log.origin, 9).verifier.vkey, encoding="utf-8")
    (tmp_path / "held.txt").write_text(log.note(log.size - 3), encoding="utf-8")
    note = log.note(log.size - 3)
    (tmp_path / "bare.txt").write_text(note_text(note), encoding="utf-8")
    (tmp_path / "crlf.txt").write_bytes(note.replace("\n", "\r\n").encode())
    (tmp_path / "words.txt").write_text("Dear inspector,\n", encoding="utf-8")
    (tmp_path / "key.pem").write_bytes(pem_text(log.signers[0].verifier))
    return tmp_path


def verified(*words: str) -> Result:
    """Run the command."""
    return run("verify", *words)


def test_a_good_bundle_ends_with_0_and_a_line_for_each_check(folder: Path) -> None:
    """With the key, a checkpoint and the bundle before, all is checked and all holds."""
    found = verified(
        "q3.zip", "--key", "hill.vkey", "--checkpoint", "held.txt", "--previous", "q2.zip"
    )  # fmt: skip
    assert found.exit_code == 0
    assert "26 hold, 0 fail, 0 could not be checked." in found.output
    assert "holds        violations: 20, all listed and none besides" in found.output
    assert "Without --key" not in found.output


def test_without_a_key_the_verifier_is_told_what_that_proves(folder: Path) -> None:
    """The bundle agrees with itself, no more; the key is shown, to be compared."""
    found = verified("q3.zip")
    assert found.exit_code == 0
    assert (folder / "hill.vkey").read_text(encoding="utf-8").strip() in found.output
    assert "not checked  nothing open left out" in found.output
    assert "all that is shown is that the bundle agrees with itself" in " ".join(
        found.output.split()
    )


def test_what_does_not_hold_ends_with_1(folder: Path) -> None:
    """Another key, or a file that was changed."""
    assert verified("q3.zip", "--key", "other.vkey").exit_code == 1
    wrong = changed(later()[2], "csv/open.csv", lambda table: table[:-3] + b"9\r\n")
    (folder / "wrong.zip").write_bytes(wrong)
    found = verified("wrong.zip", "--key", "hill.vkey")
    assert found.exit_code == 1
    assert "FAILS        files: csv/open.csv was changed: its digest" in found.output


def test_a_script_reads_the_same_as_json(folder: Path) -> None:
    """One object a check, true, false or null."""
    found = verified("q3.zip", "--json")
    checks = json.loads(found.stdout)
    assert {check["holds"] for check in checks} == {True, None}
    assert [check["said"] for check in checks if check["name"] == "changes of key"] == ["none"]


def test_a_quarter_that_began_before_the_log_is_marked_and_ends_with_0(folder: Path) -> None:
    """Nothing is wrong; who reads must know that the figures may not be the whole of it."""
    found = verified("q2.zip")
    assert found.exit_code == 0
    assert "WARNING      whole quarter: BEFORE THE LOG: the log began on 2026-05-17" in found.output
    assert "0 fail, 0 could not be checked. Read what is marked WARNING." in found.output
    checks = json.loads(verified("q2.zip", "--json").stdout)
    assert [c["name"] for c in checks if c["warns"]] == ["whole quarter"]
    assert "WARNING" not in verified("q3.zip").output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("hill.vkey",), "hill.vkey: this is no zip file"),
        (("none.zip",), "none.zip cannot be read"),
        ((".",), "cannot be read"),
        (("q3.zip", "--key", "q2.zip"), "q2.zip is no text"),
        (
            ("q3.zip", "--key", "held.txt"),
            "this looks like a signed checkpoint. Give the line of NAME.vkey",
        ),
        (("q3.zip", "--key", "key.pem"), "this looks like a public key as OpenSSL writes it"),
        (("q3.zip", "--checkpoint", "none.txt"), "none.txt cannot be read"),
        (("q3.zip", "--checkpoint", "hill.vkey"), "this looks like a key in one line (.vkey)"),
        (
            ("q3.zip", "--checkpoint", "bare.txt"),
            "this looks like a checkpoint without a signature",
        ),
        (("q3.zip", "--checkpoint", "crlf.txt"), "line ends were changed on the way"),
        (("q3.zip", "--checkpoint", "words.txt"), "is no signed checkpoint: a checkpoint has"),
        (("q3.zip", "--previous", "q3.zip"), "the earlier bundle: it is of 2026-Q3"),
        (("q3.zip", "--previous", "held.txt"), "the earlier bundle: this is no zip file"),
    ],
)
def test_what_is_no_bundle_or_key_ends_with_2(
    words: tuple[str, ...], said: str, folder: Path
) -> None:
    """A sentence says which file and why."""
    found = verified(*words)
    assert found.exit_code == 2
    assert said in " ".join(found.output.split())
