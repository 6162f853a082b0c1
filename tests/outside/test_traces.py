"""Hand-made traces against the verdict that a person gives them, each with its reason."""

from datetime import date
from pathlib import Path

import pytest

from service.regimes.load import assemble
from service.treatment.machines import Machine
from service.treatment.verdict import judge_text
from tests.outside.trace_table import TRACES, Expected

FOLDER = Path(__file__).parent / "traces"
DAY = date(2026, 7, 1)


@pytest.mark.parametrize(
    "row", TRACES, ids=lambda r: f"{r.file}-{r.machine}-{r.regime}-{r.verdict}"
)
def test_the_verdict_is_a_persons(row: Expected) -> None:
    """The verdict is right, and so is what it rests on; a verdict that is no pass says why."""
    text = (FOLDER / row.file).read_text(encoding="utf-8")
    found = judge_text(text, Machine(row.machine), assemble(row.regime), row.told, today=DAY)
    said = [(reason.rule, reason.met, reason.said) for reason in found.reasons]
    assert found.verdict == row.verdict, (row.why, said)
    deciding = {"pass": True, "fail": False, "cannot_be_judged": None}[row.verdict]
    assert row.rule in {reason.rule for reason in found.reasons if reason.met is deciding}, said
    assert all(reason.clause for reason in found.reasons if reason.rule.startswith("window.")), said


def test_every_trace_has_a_row() -> None:
    """No trace lies about unjudged, and there are thirty at least."""
    files = {path.name for path in FOLDER.iterdir()}
    assert files == {row.file for row in TRACES}
    assert len(files) >= 30
