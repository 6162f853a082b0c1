"""Letting people in from the command line: codes and PINs shown once, badges on paper."""

import json
import re
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader
from typer.testing import Result

import scenario
from service.access.caller import Caller, Kind
from service.custody.words import Role
from service.duties import signing_in
from service.duties.attempts import SignInError
from service.duties.signing_in import NewPinError
from service.store.store import Store
from tests.labels.camera import by_zxing, picture, raster
from tests.test_cli import run

HOSPITAL = Path(scenario.__file__).parent / "hospital.toml"
PLACE = "lantern-hill"
PASSWORD = "seven damp kettles humming"
CODE = re.compile(r"^(?:[0-9A-Z]{5}-){4}[0-9A-Z]{5}$", re.MULTILINE)
TABLET = Caller(PLACE, "tablet", Role.WARD, kind=Kind.DEVICE, device="tablet")


@pytest.fixture
def folder(folder: Path) -> Path:
    """A working folder with a facility set up in it."""
    assert run("setup", str(HOSPITAL)).exit_code == 0
    return folder


def added(person_id: str = "p-ila", role: str = "ward", *more: str) -> str:
    """Somebody taken on; the code that was shown."""
    words = ("people", "add", "--name", "Ila Marrow", "--role", role, "--id", person_id, *more)
    result = run(*words)
    assert result.exit_code == 0, result.output
    return CODE.findall(result.output)[0]


def listed() -> dict[str, dict[str, object]]:
    """Everybody by id."""
    return {each["id"]: each for each in json.loads(run("people", "list", "--json").output)}


def flat(result: Result) -> str:
    """The output with its lines joined."""
    return " ".join(result.output.split())


def sets_a_password(database: str, code: str) -> str:
    """Use a code up, as the service does; gives whose it was."""
    store = Store(database)
    try:
        return signing_in.set_password(store, None, code, PASSWORD, "", datetime.now(UTC))
    finally:
        store.close()


def test_somebody_is_added_and_sets_a_password_by_the_code(folder: Path, database: str) -> None:
    """The code is shown once; no list and no log has it."""
    code = added("p-ila", "ward", "--unit", "icu", "--unit", "theatres")

    assert listed()["p-ila"] == {
        "id": "p-ila",
        "name": "Ila Marrow",
        "role": "ward",
        "units": ["icu", "theatres"],
        "parties": [],
        "valid_until": None,
        "disabled_at": None,
    }
    shown = run("people", "list").output + run("access-log").output
    assert "Ila Marrow" in shown
    assert code not in shown
    assert sets_a_password(database, code) == "p-ila"
    with pytest.raises(SignInError):
        sets_a_password(database, code)


def test_an_id_is_made_where_none_is_given(folder: Path) -> None:
    """It is printed: they sign in with it."""
    result = run("people", "add", "--name", "Ila", "--role", "ward")

    [person_id] = listed()
    assert f"Ila is '{person_id}'" in result.output


def test_a_last_day_ends_at_the_facilitys_midnight(folder: Path) -> None:
    """Asia/Kolkata is 5 h 30 min ahead of UTC: the day after begins at 18:30."""
    added("p-see", "inspector", "--until", "2026-09-30")
    assert listed()["p-see"]["valid_until"] == "2026-09-30T18:30:00+00:00"
    run("people", "change", "p-see", "--until", "2026-09-30T12:00:00Z")
    assert listed()["p-see"]["valid_until"] == "2026-09-30T12:00:00+00:00"


def test_what_is_left_out_of_a_change_stays(folder: Path) -> None:
    """Reach and end are taken back by words of their own."""
    added("p-ila", "ward", "--unit", "icu", "--until", "2026-12-31")

    assert run("people", "change", "p-ila", "--role", "handler").exit_code == 0
    changed = listed()["p-ila"]
    assert (changed["role"], changed["units"]) == ("handler", ["icu"])
    run("people", "change", "p-ila", "--whole", "--no-end", "--name", "Ila Fell")
    changed = listed()["p-ila"]
    assert (changed["name"], changed["units"], changed["valid_until"]) == ("Ila Fell", [], None)


def test_who_is_shut_out_can_be_let_in_again(folder: Path) -> None:
    """A new code is of no use meanwhile, and is refused."""
    added()
    assert "is shut out" in run("people", "disable", "p-ila").output
    assert "shut out" in run("people", "list").output
    refused = run("people", "activation", "p-ila")
    assert refused.exit_code == 2
    assert "let them in again first" in flat(refused)
    assert "may come in again" in run("people", "disable", "p-ila", "--undo").output
    assert listed()["p-ila"]["disabled_at"] is None


def test_a_new_code_takes_the_place_of_the_one_before(folder: Path, database: str) -> None:
    """As when the note was lost."""
    first = added()
    second = CODE.findall(run("people", "activation", "p-ila").output)[0]
    with pytest.raises(SignInError):
        sets_a_password(database, first)
    assert sets_a_password(database, second) == "p-ila"


def test_a_badge_is_printed_and_its_pin_is_not(folder: Path, database: str) -> None:
    """The code is on paper for its owner alone; the first PIN is on the terminal alone."""
    added()
    result = run("people", "badge", "p-ila", "--out", "badge.pdf")

    assert result.exit_code == 0, result.output
    file = folder / "badge.pdf"
    assert file.stat().st_mode & 0o777 == 0o600
    [code] = by_zxing(picture(raster(file.read_bytes(), 203)))
    assert code not in result.output
    [pin] = re.findall(r"shown this once: (\d{8})\n", result.output)
    text = PdfReader(BytesIO(file.read_bytes())).pages[0].extract_text()
    assert pin not in text
    assert "Marrow" not in text
    store = Store(database)
    try:
        with pytest.raises(NewPinError):  # badge and PIN are right
            signing_in.by_badge(store, TABLET, code, pin, None, datetime.now(UTC))
    finally:
        store.close()
    assert "has no badge any more" in run("people", "badge", "p-ila", "--revoke").output


def test_the_last_administrator_is_not_shut_out(folder: Path) -> None:
    """Said, and left as it was."""
    added("p-head", "administrator")
    refused = run("people", "disable", "p-head")
    assert refused.exit_code == 2
    assert "the last administrator" in flat(refused)


def test_sessions_and_second_factor_are_ended(folder: Path) -> None:
    """Also where there are none."""
    added()
    assert "0 session(s) of 'p-ila' ended" in run("people", "end-sessions", "p-ila").output
    assert "no second factor" in run("people", "reset-second-factor", "p-ila").output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("add", "--name", "A", "--role", "ward", "--id", "Ila"), "small letters"),
        (("add", "--name", "A", "--role", "ward", "--unit", "moon"), "there is no unit 'moon'"),
        (("add", "--name", "A", "--role", "inspector"), "say until when"),
        (("add", "--name", "A", "--role", "ward", "--until", "soon"), "is not a time"),
        (("change", "p-nobody", "--name", "B"), "nobody of the id 'p-nobody'"),
        (("change", "p-nobody"), "say what is to be changed"),
        (("change", "p-nobody", "--whole", "--unit", "icu"), "--whole, or the units"),
        (("change", "p-nobody", "--no-end", "--until", "2026-12-31"), "--until or --no-end"),
        (("disable", "p-nobody"), "nobody of the id"),
        (("activation", "p-nobody"), "nobody of the id"),
        (("end-sessions", "p-nobody"), "nobody of the id"),
        (("reset-second-factor", "p-nobody"), "nobody of the id"),
        (("badge", "p-nobody", "--out", "b.pdf"), "nobody of the id"),
        (("badge", "p-nobody"), "--out FILE.pdf for a new badge"),
        (("badge", "p-nobody", "--out", "no/b.pdf"), "there is no folder no"),
    ],
)
def test_what_cannot_stand_ends_with_2_and_a_sentence(
    folder: Path, words: tuple[str, ...], says: str
) -> None:
    """Nothing is changed, nothing entered and no file left."""
    before = run("access-log").output
    result = run("people", *words)

    assert result.exit_code == 2
    assert says in flat(result)
    assert run("access-log").output == before
    assert not list(folder.glob("*.pdf"))
