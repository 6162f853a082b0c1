"""Probes against each other: spread and drift are told, and decide nothing."""

from datetime import date

import pytest

from service.regimes.load import assemble
from service.treatment.machines import Machine
from service.treatment.reasons import Verdict
from service.treatment.verdict import Judgement, judge_text
from tests.treatment.traces import cycle

DAY = date(2026, 7, 1)


def judged(*offsets: tuple[float, float]) -> Judgement:
    """A cycle at 124 °C with further probes, each off by so much at its start and at its end."""
    head, *lines = cycle(celsius=124).splitlines()
    names = [f"temperature_{n}_c" for n in range(len(offsets))]
    rows = []
    for number, line in enumerate(lines):
        s, c, p = line.split(",")
        part = number / (len(lines) - 1)
        further = [f"{float(c) + a + (b - a) * part:.4f}" for a, b in offsets]
        rows.append(",".join([s, c, p, *further]))
    text = "\n".join([",".join([head, *names]), *rows])
    return judge_text(text, Machine.GRAVITY, assemble("india-2016"), today=DAY)


@pytest.mark.parametrize(
    ("offsets", "rules"),
    [
        ([(0, 0)], set()),
        ([(1.5, 1.5)], set()),
        ([(2.5, 2.5)], {"probes.spread"}),
        ([(0, 1.9)], {"probes.drift"}),
        ([(0, 0.1), (0, -1.9)], {"probes.drift"}),
        ([(-1.8, 1.8)], {"probes.drift"}),
    ],
)
def test_spread_and_drift(offsets: list[tuple[float, float]], rules: set[str]) -> None:
    """Beyond 2 K apart, or 1 K of drift during exposure, a remark; the verdict stays."""
    found = judged(*offsets)
    assert {r.rule for r in found.remarks} - {"trace.day", "steam.superheated"} == rules
    assert found.verdict is Verdict.PASS


def test_the_drifting_probe_is_named() -> None:
    """Of three the one that moved against the others."""
    found = judged((0, 0.1), (0, -1.9))
    (said,) = [r.said for r in found.remarks if r.rule == "probes.drift"]
    assert said.startswith("Probe 1 drifted by -")
