"""Chambers of an incinerator: hot enough from when they first were until they last were."""

from datetime import date

import pytest

from service.regimes.load import assemble
from service.treatment.machines import Machine
from service.treatment.verdict import Judgement, Told, judge_text

DAY = date(2026, 7, 1)
HEADER = "time_s,temperature_primary_c,temperature_secondary_c"


def judged(
    *rows: tuple[float, float, float],
    header: str = HEADER,
    regime: str = "india-2016",
    machine: Machine = Machine.INCINERATOR,
    residence_s: float | None = 2.0,
) -> Judgement:
    """Readings as minutes, primary and secondary chamber."""
    text = "\n".join([header, *(f"{60 * m},{a},{b}" for m, a, b in rows)])
    return judge_text(text, machine, assemble(regime), Told(residence_s=residence_s), today=DAY)


BURN = [(0, 20, 20), (1, 790, 990), (2, 810, 1010), (3, 800, 1000), (4, 815, 1020), (5, 300, 400)]


@pytest.mark.parametrize(
    ("number", "reading", "verdict"),
    [
        (3, (3, 800, 1000), "pass"),  # at the least of both chambers
        (3, (3, 799.9, 1000), "fail"),
        (3, (3, 800, 999.9), "fail"),
        (1, (1, 100, 100), "pass"),  # heating up is outside
        (5, (5, 20, 20), "pass"),  # burning out too
    ],
)
def test_both_chambers_all_the_time(
    number: int, reading: tuple[float, float, float], verdict: str
) -> None:
    """800 and 1000 °C: each chamber its own, without a moment below in between."""
    rows = list(BURN)
    rows[number] = reading
    assert judged(*rows).verdict == verdict


@pytest.mark.parametrize(
    ("residence_s", "verdict"), [(2.0, "pass"), (1.99, "fail"), (None, "cannot_be_judged")]
)
def test_residence_is_told_besides(residence_s: float | None, verdict: str) -> None:
    """Two seconds, inclusive; a trace alone does not show it."""
    assert judged(*BURN, residence_s=residence_s).verdict == verdict


def test_a_chamber_that_never_was_hot_enough() -> None:
    """Told with the highest reading."""
    found = judged((0, 20, 20), (1, 805, 950), (2, 805, 960), (3, 700, 500))
    assert found.verdict == "fail"
    assert any("960 °C at the highest" in reason.said for reason in found.reasons)


def test_a_gap_while_burning() -> None:
    """Three minutes without a reading: nobody knows; and nothing is credited."""
    found = judged(*BURN[:4], (8, 815, 1020), (9, 20, 20))
    assert found.verdict == "cannot_be_judged"
    assert any("in gaps of the trace" in reason.said for reason in found.reasons)


def test_a_row_without_a_chamber_speaks_of_the_last() -> None:
    """WHO's 850 °C: the secondary chamber where there is one, else every probe."""
    assert judged(*BURN, regime="who-2014").verdict == "pass"
    one = judged(*BURN, regime="who-2014", header="time_s,temperature_a_c,temperature_b_c")
    assert one.verdict == "fail", "the first probe is below 850 °C"


@pytest.mark.parametrize(("peak", "verdict"), [(1200, "fail"), (1200.1, "pass")])
def test_above_1200_is_not_at_1200(peak: float, verdict: str) -> None:
    """For cytotoxics the text says above: at 1200.0 °C it is not met."""
    rows = [(0, 900, 20), (1, 901, peak), (2, 900, peak), (3, 900, 300)]
    assert judged(*rows, machine=Machine.INCINERATOR_1200).verdict == verdict
