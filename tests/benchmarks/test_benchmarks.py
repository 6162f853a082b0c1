"""That the code of the benchmarks runs, at counts that measure nothing; no time is asserted."""

import shutil
from datetime import date
from pathlib import Path

import pytest

from tests.benchmarks import batches, due, importing, judging, manifests, printing, proofs, report
from tests.benchmarks.frame import Curve, Rounds, Row, Told, at_least, at_most
from tests.benchmarks.serving import load, peer, requests


def rows_of(told: Told) -> list[Row]:
    """The rows, each with as many values as there were rounds."""
    return [each for each in told if isinstance(each, Row)]


ALONE = (batches, due, importing, judging, manifests, printing, proofs)
"""Those that start no server."""


@pytest.mark.parametrize("benchmark", ALONE, ids=lambda m: m.__name__.rpartition(".")[2])
def test_a_benchmark_runs_and_gives_ratios(benchmark: object) -> None:
    """Each gives rows of ratios above nothing, and a table of how it grows."""
    told = list(benchmark.measure("tiny", 1))  # type: ignore[attr-defined]
    rows = [each for each in told if isinstance(each, Row)]

    assert rows
    assert all(ratio > 0 for row in rows for ratio in row.ratios)
    assert all(len(line) == len(c.heads) for c in told if isinstance(c, Curve) for line in c.lines)


def test_the_client_loads_a_server_and_tells_of_what_was_not_taken(tmp_path: Path) -> None:
    """All that is sent is answered; an answer that is none of success ends the measurement."""
    if shutil.which("gcc") is None:
        pytest.skip("no gcc: the client that loads servers cannot be built (install gcc)")
    with peer("ordinary", f"sqlite:///{tmp_path / 'peer.db'}") as port:
        assert load([port], 4, requests(12, ["token"])).rate > 0
        with pytest.raises(RuntimeError, match="2 of 2 were not taken"):
            load([port], 1, requests(2, ["token"], batch=2))


def test_ways_are_measured_in_turn_and_backwards_every_other_round() -> None:
    """The noise of a machine that others use hits all ways alike."""
    order: list[str] = []

    def way(name: str, value: float) -> float:
        order.append(name)
        return value

    found = Rounds.of(3, {"a": lambda: way("a", 2.0), "b": lambda: way("b", 4.0)})

    assert order == ["a", "b", "b", "a", "a", "b"]
    assert found.ratios("b", "a") == [2.0, 2.0, 2.0]


def test_a_goal_says_by_how_much_it_is_missed() -> None:
    """Of the median of the rounds, whichever way the goal points."""
    assert Row("", "", "", [1.0, 2.0, 9.0], at_least(4)).verdict == "missed, 2.00 ×"
    assert Row("", "", "", [1.0, 2.0, 9.0], at_most(2)).verdict == "met"


def test_the_table_stands_between_the_markers_of_the_page(tmp_path: Path) -> None:
    """What stood there goes, what stands around stays; a page without a place is an error."""
    page = tmp_path / "page.md"
    page.write_text("above\n<!-- x: begin -->\nold\n<!-- x: end -->\nbelow\n")
    row = Row("a thing", "1 s", "another 2 s", [0.5, 0.6, 0.7], at_most(1))
    report.put("x", report.tables([row, Curve("growth", ("n", "t"), [["1", "2"]])]), page)
    text = page.read_text()

    assert "| a thing | 1 s | another 2 s | 0.60 (0.50 to 0.70) | ≤ 1.00 | met |" in text
    assert "| 1 | 2 |" in text
    assert text.startswith("above\n") and text.endswith("\nbelow\n") and "old" not in text
    assert report.conditions(date(2026, 11, 2), 3, [1.0]).startswith("2 November 2026, 3 rounds")
    assert "Python" in report.machine()
    page.write_text("no place")
    with pytest.raises(ValueError, match="no place"):
        report.put("x", "", page)
