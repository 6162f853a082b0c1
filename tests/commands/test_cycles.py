"""`custody cycle`: a plant's operator records runs and their evidence at a desk."""

import json
from pathlib import Path

import pytest

from tests.machines import FAILING, PASSING
from tests.test_cli import HOSPITAL, printed_ids, run

RUN = (
    "cycle", "run", "--machine", "kiln-autoclave-1", "--actor", "operator-1",
    "--started", "2026-07-01T10:00:00Z", "--ended", "2026-07-01T11:21:00Z",
)  # fmt: skip
SPORES = ("cycle", "spores", "kiln-autoclave-1", "--actor", "operator-1")


@pytest.fixture
def plant(folder: Path) -> str:
    """A facility with printed labels and two logger's files in the folder; the first label's id."""
    run("setup", str(HOSPITAL), "--administrator", "p-head", "--name", "Ila Marrow")
    run("labels", "--count", "2", "--out", "two.pdf")
    Path("passing.csv").write_bytes(PASSING)
    Path("failing.csv").write_bytes(FAILING)
    return printed_ids(folder / "two.pdf")[0]


def test_a_run_with_load_and_trace_is_judged_at_once(plant: str) -> None:
    """61 min at 121.5 °C pass; given again, it is the same run, load and trace."""
    words = (*RUN, "--number", "K-1", "--container", plant, "--trace", "passing.csv")
    first = run(*words)
    assert first.exit_code == 0, first.output
    assert "verdict: PASS" in first.output
    assert "load: 1 containers" in first.output
    assert run(*words).exit_code == 0
    told = json.loads(run("cycle", "show", "K-1", "--json").stdout)
    assert (told["outcome"], told["load"]) == ("pass", [plant])
    assert len(told["judged"]) == 1
    assert not [f for f in told["findings"] if "two cycles" in f["message"]]


def test_a_trace_that_comes_later_and_fails_ends_with_1(plant: str) -> None:
    """Before it there is no verdict; 50 min are not 60."""
    without = run(*RUN, "--number", "K-2")
    assert without.exit_code == 1
    assert "NO TRACE YET" in without.output
    failed = run("cycle", "trace", "K-2", "failing.csv")
    assert failed.exit_code == 1
    assert "verdict: FAIL" in failed.output


def test_an_indicator_that_did_not_turn_unmakes_the_cycle(plant: str) -> None:
    """Whatever the trace, and however many others turned."""
    run(*RUN, "--number", "K-3", "--trace", "passing.csv")
    words = ("cycle", "indicator", "K-3", "--actor", "operator-1", "--at", "2026-07-01T11:25:00Z")
    assert run(*words, "--turned").exit_code == 0
    unturned = run(*words, "--not-turned", "--position", "drain")
    assert unturned.exit_code == 1
    assert "did not turn" in unturned.output


def test_a_spore_test_stands_in_the_machines_register(plant: str) -> None:
    """Growth ends with 1 and is a finding of the next cycle; without growth before it, none is."""
    assert run(*SPORES, "--no-growth", "--ran", "2026-06-30T10:00:00Z").exit_code == 0
    told = run(*RUN, "--number", "K-4", "--trace", "passing.csv")
    assert "spore test" not in told.output
    assert run(*SPORES, "--grew", "--ran", "2026-07-01T09:00:00Z").exit_code == 1
    assert "the spore test of kiln-autoclave-1 before this cycle grew" in run(
        "cycle", "show", "K-4"
    ).output.replace("\n", " ")


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("cycle", "show", "K-9"), "nothing is on record about cycle K-9"),
        (("cycle", "trace", "K-9", "passing.csv"), "nothing is on record about cycle K-9"),
        (("cycle", "trace", "K-9", "none.csv"), "cannot be read"),
        ((*RUN[:3], "kiln-autoclave-l", *RUN[4:]), "no machine 'kiln-autoclave-l'"),
        ((*RUN, "--started", "2026-07-01T12:00:00Z"), "the cycle ends before it starts"),
        ((*RUN, "--started", "noon"), "is not a time"),
        ((*RUN, "--container", "NOT-AN-ID"), "NOT-AN-ID"),
        (("cycle", "indicator", "K-9", "--turned", "--actor", "o-1"), "nothing is on record"),
    ],
)
def test_what_cannot_be_ends_with_a_sentence(plant: str, words: tuple[str, ...], why: str) -> None:
    """And with status 2; an indicator of a cycle that is not there is kept, and it is said."""
    told = run(*words)
    assert told.exit_code == 2
    assert why in " ".join(told.output.split())
