"""Devices and programs, the access log and the key of labels, from the command line."""

import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

import scenario
from service.duties import signing_in
from service.store.store import Store
from tests.databases import BACKED_UP
from tests.test_cli import run

HOSPITAL = Path(scenario.__file__).parent / "hospital.toml"
CODE = re.compile(r"^(?:[0-9A-Z]{5}-){4}[0-9A-Z]{5}$", re.MULTILINE)


@pytest.fixture
def folder(folder: Path) -> Path:
    """A working folder with a facility set up in it."""
    assert run("setup", str(HOSPITAL)).exit_code == 0
    return folder


def test_a_device_is_invited_by_a_code_and_turned_out(folder: Path, database: str) -> None:
    """The code enrols it once; then it is in the list as a device."""
    result = run("device", "invite", "ward tablet 3", "--role", "ward", "--unit", "icu")
    [code] = CODE.findall(result.output)
    store = Store(database)
    try:
        signing_in.enrol_device(store, None, code, "", datetime.now(UTC))
    finally:
        store.close()

    found = json.loads(run("device", "list", "--json").output)
    assert {(each["kind"], each["revoked_at"] is None) for each in found} == {
        ("enrolment", False),
        ("device", True),
    }
    assert all(each["units"] == ["icu"] for each in found)
    assert run("revoke", "ward tablet 3").exit_code == 0
    assert "ended" in run("device", "list").output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("device", "invite", "t", "--role", "officer"), "a shared device has the role"),
        (("device", "invite", "t", "--role", "ward", "--unit", "moon"), "no unit 'moon'"),
        (("device", "invite", "link", "--role", "ward"), "is the name of a program"),
        (("admit", "other", "--role", "plant", "--party", "moon"), "no party 'moon'"),
    ],
)
def test_what_cannot_stand_is_refused(folder: Path, words: tuple[str, ...], says: str) -> None:
    """Exit 2, a sentence, and nothing let in."""
    run("admit", "link", "--role", "plant")
    result = run(*words)
    assert result.exit_code == 2
    assert says in " ".join(result.output.split())
    assert [c["name"] for c in json.loads(run("device", "list", "--json").output)] == ["link"]


def test_the_access_log_is_read_in_pages_and_by_kind(folder: Path) -> None:
    """A line each, or JSON; from a number on."""
    for number in range(3):
        run("admit", f"link-{number}", "--role", "plant")
    whole = json.loads(run("access-log", "--json").output)

    assert [each["seq"] for each in whole] == [1, 2, 3, 4]
    assert [each["kind"] for each in whole] == ["set_up"] + ["program_admitted"] * 3
    assert {each["actor"] for each in whole} == {"command line"}
    page = run("access-log", "--after", "1", "--limit", "2")
    assert "link-0" in page.output
    assert "link-2" not in page.output
    assert "go on with --after 3" in page.output
    assert len(json.loads(run("access-log", "--kind", "set_up", "--json").output)) == 1


def test_the_access_log_is_signed_with_a_key_of_its_own(folder: Path) -> None:
    """Shown, signed, proved and changed as that of the record."""
    run("admit", "link", "--role", "plant")
    keys = {run("key", "show", *of).output for of in ((), ("--access-log",))}
    assert len(keys) == 2
    first = run("checkpoint", "--access-log")
    assert first.exit_code == 0, first.output
    origin, size = first.output.split("\n")[:2]
    assert origin.endswith("/lantern-hill.access")
    assert size == "2"
    changed = run("key", "rotate", "--reason", "yearly", "--access-log")
    assert changed.exit_code == 0, changed.output
    again = run(
        "checkpoint", "--access-log", "--since", "2", "--proof", "proof", "--out", "checkpoint"
    )
    assert again.exit_code == 0, again.output
    assert (folder / "checkpoint").read_text().split("\n")[1] == "4"
    checked = run("check")
    assert checked.exit_code == 0, checked.output
    assert "access last signed: the log begins with the 4 entries" in checked.output


@BACKED_UP
def test_entries_of_the_access_log_that_are_lost_are_told(folder: Path) -> None:
    """A backup from before: the record is whole, the access log is not."""
    run("backup", "copy.sqlite3")
    run("admit", "link", "--role", "plant")
    run("checkpoint", "--access-log")

    restored = run("restore", "copy.sqlite3", "--set-aside")

    assert restored.exit_code == 1
    said = " ".join(restored.output.split())
    assert "of the access log entries 1 to 1 were signed and are not here" in said
    assert run("check").exit_code == 1


def test_the_key_of_labels_is_changed(folder: Path) -> None:
    """Old labels stay genuine, or are said to be none any more."""
    assert "Key 2 prints" in run("label-key", "change").output
    told = run("label-key", "change", "--distrust-old").output
    assert "Key 3 prints" in told
    assert "flagged as not genuine" in told
    last = json.loads(run("access-log", "--json").output)[-1]
    assert last["about"] == {"key": 3, "old": "distrusted"}
