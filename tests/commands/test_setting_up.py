"""Setting up: from a file or by questions, with the first administrator."""

import re
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

import scenario
from service.cli import app
from service.duties.setup_file import read_site
from tests.test_cli import run

HOSPITAL = Path(scenario.__file__).parent / "hospital.toml"
CODE = re.compile(r"^(?:[0-9A-Z]{5}-){4}[0-9A-Z]{5}$", re.MULTILINE)
CONTACT = ["Officer on duty", "1 Mill Lane", "000-100", ""]
UNITS = ["theatre", "Theatres", "block-a", "", ""]
PARTIES = [
    "porters", "Porters", "1", "block-a", "", "",
    "kiln", "Kiln", "plant", "kiln-moor", "2 Kiln Moor", "000-200",
    "y", "treat", "*", "2026-01-01", "2026-12-31", "A-7", "n",
    "",
]  # fmt: skip
STORES = ["yard", "Yard", "block-a", "porters", "ambient", ""]
SCALES = ["scale-1", "Ward scale", "III", "10", ""]
FIRST = ["mill-house", "Mill House", "Asia/Kolkata", "good-practice", "", "temperate", "0"]
ANSWERS = [*FIRST, *CONTACT, *UNITS, *PARTIES, *STORES, *SCALES]
REST = ["", "p-head", "Ila Marrow"]
"""The file's name as it is offered, and the first administrator."""


def answered(*answers: str, words: tuple[str, ...] = ()) -> Result:
    """Set up by questions."""
    said = "".join(f"{answer}\n" for answer in answers)
    return CliRunner().invoke(app, ["setup", *words], input=said)


def test_a_facility_is_set_up_by_questions(folder: Path) -> None:
    """The file it writes is one that can be changed and set up again; somebody can sign in."""
    result = answered(*ANSWERS, *REST)

    assert result.exit_code == 0, result.output
    site = read_site(folder / "mill-house.toml")
    assert (site.id, site.regime, site.time_zone) == ("mill-house", "good-practice", "Asia/Kolkata")
    assert [u.id for u in site.unit] == ["theatre"]
    assert [p.kind for p in site.party] == ["handler", "plant"]
    assert site.parties["kiln"].authorisation[0].reference == "A-7"
    assert site.stores["yard"].party == "porters"
    assert site.scales["scale-1"].interval_g == 10
    assert "set-up 1 is in force" in result.output
    assert len(CODE.findall(result.output)) == 1
    assert "p-head" in run("people", "list").output
    again = run("setup", "mill-house.toml")
    assert again.exit_code == 0
    assert "set-up 2 is in force" in again.output


@pytest.mark.parametrize(
    ("place", "wrong", "says"),
    [
        ("mill-house", "Mill House", "an id has small letters"),
        ("Asia/Kolkata", "Mars/Base", "no time zone is called so"),
        ("good-practice", "atlantis", "give one of those or its number"),
        ("Officer on duty", "", ""),
        ("plant", "99", "give one of those or its number"),
        ("2026-12-31", "2025-12-31", "it ends before it begins"),
        ("2026-01-01", "soon", "cannot stand"),
        ("10", "0", "it is more than 0"),
        ("kiln", "theatre", "this id is given already"),
        ("*", "purple", "there is no 'purple'"),
    ],
)
def test_an_answer_that_cannot_stand_is_asked_for_again(
    folder: Path, place: str, wrong: str, says: str
) -> None:
    """With what is wrong; what was answered before is kept."""
    at = ANSWERS.index(place)
    result = answered(*ANSWERS[:at], wrong, *ANSWERS[at:], *REST)

    assert result.exit_code == 0, result.output
    assert says in result.output
    assert read_site(folder / "mill-house.toml").id == "mill-house"


def test_a_file_that_is_there_is_not_written_over(folder: Path) -> None:
    """Another name is asked for."""
    (folder / "mill-house.toml").write_text("mine")
    result = answered(*ANSWERS, "mill-house.toml", "other.toml", *REST[1:])

    assert result.exit_code == 0, result.output
    assert (folder / "mill-house.toml").read_text() == "mine"
    assert tomllib.loads((folder / "other.toml").read_text())["id"] == "mill-house"


def test_questions_that_are_broken_off_leave_nothing(folder: Path) -> None:
    """Neither a file nor a database."""
    result = answered(*ANSWERS[:9])
    assert result.exit_code != 0
    assert list(folder.iterdir()) == []


def test_the_first_administrator_is_named_beside_the_file(folder: Path) -> None:
    """The code is shown once; no token is printed."""
    result = run("setup", str(HOSPITAL), "--administrator", "p-head", "--name", "Ila Marrow")

    assert result.exit_code == 0, result.output
    assert len(CODE.findall(result.output)) == 1
    assert "token" not in result.output.lower()
    assert "p-head" in run("people", "list").output


def test_without_one_it_says_how_to_add_one(folder: Path) -> None:
    """Nothing is asked where nobody sits at a terminal; a later set-up says nothing of it."""
    assert "custody people add" in run("setup", str(HOSPITAL)).output
    assert "custody people add" not in run("setup", str(HOSPITAL)).output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--administrator", "p-head"), "give --administrator and --name together"),
        (("--administrator", "P Head", "--name", "Ila"), "nobody was added: an id has"),
    ],
)
def test_an_administrator_who_cannot_stand_is_told(
    folder: Path, words: tuple[str, ...], says: str
) -> None:
    """Exit 2; whatever of the set-up is in force is said."""
    result = run("setup", str(HOSPITAL), *words)
    assert result.exit_code == 2
    assert says in " ".join(result.output.split())
