"""Control charts against published worked examples."""

import pytest

from service.statistics.charts import (
    Counted,
    Reading,
    ewma,
    individuals,
    moving_range,
    p_chart,
    u_chart,
)
from service.statistics.signals import signals

# NIST/SEMATECH e-Handbook of Statistical Methods, 2012, doi:10.18434/M32189, 6.3.2.2 Individuals
# Control Charts. Data from memory; answers read in a verification table that quotes it.
FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)

# The same, 6.3.2.4 EWMA Control Charts: data before the ten above, target 50, s 2.0539, weight 0.3;
# the mean after each reading, from the target on. Read in a public test file that quotes it.
DRIFT = (52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW)
MEANS = (
    *(50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33),
    *(50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99),
)

# R package qcc (commit af35099, 2026-05-04), data set viscosity and its vignette's output, read.
VISCOSITY = (
    *(34.05, 34.40, 33.59, 35.96, 34.70, 33.51, 33.79, 34.04, 34.52, 33.75),
    *(33.27, 33.71, 34.03, 34.58, 34.02, 33.97, 34.05, 34.04, 33.73, 34.05),
)

# The same, data set orangejuice (trial samples): cans that leak, of 50 each; vignette, read.
ORANGE_JUICE = (
    *(12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22),
    *(8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6),
)

# NIST, as above, 6.3.3.1 Counts Control Charts: defects a wafer, from memory.
WAFERS = (
    *(16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14),
    *(16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13),
)


def readings(row: tuple[float, ...]) -> list[Reading]:
    """Figures numbered from 1, as the sources number them."""
    return [Reading(str(i), value) for i, value in enumerate(row, 1)]


def counted(row: tuple[int, ...], exposure: float) -> list[Counted]:
    """Counts of equal exposure."""
    return [Counted(str(i), count, exposure) for i, count in enumerate(row, 1)]


def test_individuals_nist_6_3_2_2() -> None:
    """Mean, mean moving range and limits as printed."""
    chart = individuals(readings(FLOW), "flow")
    point = chart.points[0]
    assert point.centre == pytest.approx(50.81, abs=0.005)
    assert moving_range(readings(FLOW), "flow").points[0].centre == pytest.approx(1.8778, abs=5e-5)
    assert (point.upper, point.lower) == (
        pytest.approx(55.8041, abs=5e-5),
        pytest.approx(45.8159, abs=5e-5),
    )
    assert not any(s.rule.id == "beyond" for s in signals(chart))


def test_ewma_nist_6_3_2_4() -> None:
    """Each mean to the two places printed; the limits settle on those printed; none is out."""
    chart = ewma(readings(DRIFT), "flow", weight=0.3, centre=50, sigma=2.0539)
    assert [p.value for p in chart.points] == [pytest.approx(m, abs=0.0051) for m in MEANS]
    last = chart.points[-1]
    assert (last.upper, last.lower) == (
        pytest.approx(52.5884, abs=1e-4),
        pytest.approx(47.4115, abs=1e-4),
    )
    assert signals(chart) == ()


def test_individuals_qcc_viscosity() -> None:
    """Standard deviation and limits as printed; d2 is 1.128, not its exact value."""
    point = individuals(readings(VISCOSITY), "viscosity").points[0]
    assert point.sigma == pytest.approx(0.5076521, abs=5e-8)
    assert (point.lower, point.upper) == (
        pytest.approx(32.56504, abs=5e-6),
        pytest.approx(35.61096, abs=5e-6),
    )
    out = [s for s in signals(individuals(readings(VISCOSITY), "")) if s.rule.id == "beyond"]
    assert [(s.first + 1, s.side) for s in out] == [(4, "above")]


def test_p_qcc_orange_juice() -> None:
    """Centre, limits and the two samples out, as printed; and the limits without them."""
    row = counted(ORANGE_JUICE, 50)
    chart = p_chart(row, "of cans")
    point = chart.points[0]
    assert point.centre == pytest.approx(0.2313333, abs=5e-8)
    assert point.sigma == pytest.approx(0.05963526, abs=5e-9)
    assert (point.lower, point.upper) == (
        pytest.approx(0.05242755, abs=5e-9),
        pytest.approx(0.4102391, abs=5e-8),
    )
    assert [s.first + 1 for s in signals(chart) if s.rule.id == "beyond"] == [15, 23]

    calm = p_chart(row, "of cans", basis=[i for i in range(30) if i + 1 not in (15, 23)]).points[0]
    assert calm.centre == pytest.approx(0.215, abs=5e-4)
    assert (calm.lower, calm.upper) == (
        pytest.approx(0.04070284, abs=5e-9),
        pytest.approx(0.3892972, abs=5e-8),
    )


# The same package's vignette of a p-chart with unequal samples of 25, 50 and 100, read in part:
# for samples of 25 the lower limit is cut off at 0 and the upper one printed is .4613.
def test_p_with_few_looked_at_is_cut_off_at_nought() -> None:
    """A share of less than nothing is no limit; each sample has limits of its own."""
    row = [Counted("few", 5, 25), Counted("some", 9, 50), Counted("many", 24, 100)]
    few, some, many = p_chart(row, "of cans").points
    assert few.lower == 0
    assert few.upper > some.upper > many.upper
    assert 0 < some.lower < many.lower


# The same package's data set circuit, its vignette's output, read: mean count and limits.
def test_counts_qcc_circuit() -> None:
    """From the published mean count 19.84615 of 26 boards, 516 in all, follow the limits."""
    point = u_chart([Counted(str(i), 19 + (i < 22), 1) for i in range(26)], "a board").points[0]
    assert point.centre == pytest.approx(19.84615, abs=5e-6)
    assert (point.lower, point.upper) == (
        pytest.approx(6.481447, abs=5e-7),
        pytest.approx(33.21086, abs=5e-6),
    )


def test_counts_nist_6_3_3_1() -> None:
    """Mean 16, limits 28 and 4: the 31 is out, the 28 at the limit is not."""
    chart = u_chart(counted(WAFERS, 1), "a wafer")
    point = chart.points[0]
    assert (point.centre, point.upper, point.lower) == (16, 28, 4)
    assert [s.first + 1 for s in signals(chart) if s.rule.id == "beyond"] == [24]
