"""`custody plan` and `custody returns`: what they print, write and end with."""

import json
from pathlib import Path

import openpyxl
import pytest

from tests.test_cli import HOSPITAL, run


@pytest.fixture
def set_up(folder: Path) -> Path:
    """A facility with nothing in its stores."""
    run("setup", str(HOSPITAL), "--administrator", "p-head", "--name", "Ila Marrow")
    return folder


def test_an_empty_yard_needs_no_pick_up(set_up: Path) -> None:
    """By JSON and in words; what if a vehicle is broken is answered too."""
    told = run("plan", "--json", "--broken", "van-1")
    assert told.exit_code == 0
    plan = json.loads(told.output)
    assert (plan["loads"], plan["breaks_left"], plan["proved_least"]) == ([], 0, True)
    assert "proved least" in run("plan").output


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (("--broken", "van-9"), "no vehicle of the fleet is called van-9"),
        (("--days", "99"), "1 to 31 days"),
        (("--load-kg", "much"), "is no number"),
        (("--load-kg", "0.0001"), "takes nothing"),
        (("--holiday", "soon"), "a day is written as 2026-07-31"),
    ],
)
def test_what_cannot_be_planned_ends_with_a_sentence(
    set_up: Path, options: tuple[str, ...], why: str
) -> None:
    """And with status 2."""
    told = run("plan", *options)
    assert told.exit_code == 2
    assert why in " ".join(told.output.split())


def test_returns_are_listed_and_filled_into_a_file(set_up: Path) -> None:
    """As a workbook and as JSON, with what the record does not hold left open."""
    assert "monthly-record" in run("returns").output
    assert run("returns", "form-iv", "2026", "--out", "r.xlsx").exit_code == 0
    assert openpyxl.load_workbook("r.xlsx").sheetnames == ["return"]
    assert run("returns", "form-iv", "2026", "--out", "r.json").exit_code == 0
    filled = json.loads(Path("r.json").read_text(encoding="utf-8"))
    assert {f["name"]: f["said"] for f in filled["fields"]}["GPS coordinates"] is None
    for words, why in (
        (("form-x", "2026", "--out", "x.json"), "no return 'form-x'"),
        (("form-iv", "2026-Q1", "--out", "x.json"), "is written as 2026"),
        (("form-iv",), "into a file"),
    ):
        told = run("returns", *words)
        assert told.exit_code == 2
        assert why in " ".join(told.output.split())
