"""``custody judge`` as an operator uses it: apart from any record, with figures for a script."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.outside.trace_table import TRACES
from tests.test_cli import run

FOLDER = Path(__file__).parents[1] / "outside" / "traces"
GOOD = str(FOLDER / "gravity-121-61.csv")
CLOCK = str(FOLDER / "clock-without-zone.csv")
RULES = ("--machine", "gravity", "--regime", "india-2016")


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder where nothing is set up: judging needs no record and makes none."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CUSTODY_DATABASE_URL", "sqlite:////nowhere/custody.sqlite3")


def figures(*words: str) -> dict[str, Any]:
    """What the command prints for a script."""
    told: dict[str, Any] = json.loads(run("judge", *words, "--json").stdout)
    return told


def test_figures_for_a_script(tmp_path: Path) -> None:
    """Verdict, F0 with its reference, log reduction, dwell in each window, reasons with clause."""
    found = figures(GOOD, *RULES, "--on", "2026-07-01")
    assert found["verdict"] == "pass"
    assert (found["reference_c"], found["z_k"], found["d_min"]) == (121.1, 10, 1.5)
    assert found["f0_min"] == pytest.approx(71.2, abs=0.1)
    assert found["log_reduction"] == pytest.approx(found["f0_min"] / 1.5)
    assert [round(w["dwell_min"]) for w in found["windows"]] == [61, 0, 0]
    assert found["reasons"][0]["clause"] == "Schedule II, autoclave"
    assert found["day"] == "2026-07-01"
    assert list(tmp_path.iterdir()) == []


def test_another_reference() -> None:
    """121 °C instead of 121.1 °C is 2.3 % more F0, and is said."""
    usual = figures(GOOD, *RULES)
    other = figures(GOOD, *RULES, "--reference-c", "121", "--d-value", "2")
    assert other["f0_min"] / usual["f0_min"] == pytest.approx(10**0.01)
    assert (other["reference_c"], other["d_min"]) == (121, 2)
    assert (
        figures(str(FOLDER / "dry-heat-185-91.csv"), "--machine", "dry_heat", *RULES[2:])["f0_min"]
        is None
    ), "dry heat has no F0"


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        ((GOOD, *RULES), 0, "PASS"),
        ((GOOD, *RULES, "--wet"), 1, "FAIL"),
        ((GOOD, *RULES, "--not-turned"), 1, "FAIL"),
        ((CLOCK, *RULES), 1, "CANNOT BE JUDGED"),
        ((CLOCK, *RULES, "--zone", "Asia/Kolkata"), 0, "PASS"),
        ((CLOCK, *RULES, "--zone", "Asia/Kolkata", "--started", "2026-07-01T09:30Z"), 1, "zone"),
        ((str(FOLDER / "rows.json"), *RULES), 0, "PASS"),
    ],
)
def test_status_and_word(words: tuple[str, ...], status: int, said: str) -> None:
    """0 for a pass, 1 for all else, with the word first and the caution last."""
    result = run("judge", *words)
    assert (result.exit_code, said in result.output) == (status, True)
    assert "licence and local codes come first" in " ".join(result.output.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("no.csv", *RULES), "cannot be read"),
        ((GOOD, "--machine", "kettle", *RULES[2:]), "kettle"),
        ((GOOD, *RULES[:2], "--regime", "nowhere"), "there is no regime 'nowhere'"),
        ((GOOD, *RULES, "--zone", "Atlantis"), "there is no zone 'Atlantis'"),
        ((GOOD, *RULES, "--on", "yesterday"), "is no day"),
        ((GOOD, *RULES, "--z", "0"), "must be above zero"),
    ],
)
def test_what_cannot_be_asked(words: tuple[str, ...], said: str) -> None:
    """Ends with 2 and a sentence."""
    result = run("judge", *words)
    assert result.exit_code == 2
    assert said in " ".join(result.output.split())


def test_the_command_and_the_function_say_the_same() -> None:
    """Every trace of the table that is told nothing besides, on the command line."""
    rows = [row for row in TRACES if row.told == type(row.told)()]
    assert len(rows) > 30
    for row in rows:
        words = (str(FOLDER / row.file), "--machine", row.machine, "--regime", row.regime)
        assert figures(*words)["verdict"] == row.verdict, row
