"""Times and lethality on straight pieces: exact, additive, monotone, however often read."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.treatment.pieces import AtLeast, Floats, above, at_most, stays
from service.treatment.sterilisation import MOIST, Reference, lethality_min

temperatures = st.floats(20, 140).map(lambda c: round(c, 2))
lines = st.lists(st.tuples(st.integers(1, 600), temperatures), min_size=3, max_size=25).map(
    lambda pairs: (np.cumsum([float(d) for d, _ in pairs]), np.array([c for _, c in pairs]))
)
Line = tuple[Floats, Floats]


def f0(line: Line, reference: Reference = MOIST) -> float:
    """F of a whole line."""
    return lethality_min(*line, np.ones(len(line[0]) - 1, dtype=bool), reference)


def finer(line: Line, parts: int) -> Line:
    """The same line with readings between the readings."""
    time_s = np.concatenate(
        [np.linspace(a, b, parts, endpoint=False) for a, b in pairwise(line[0])] + [line[0][-1:]]
    )
    return time_s, np.interp(time_s, *line)


@given(lines, st.integers(2, 7))
def test_reading_more_often_changes_nothing(line: Line, parts: int) -> None:
    """F is that of the lines, not of the readings."""
    assert f0(finer(line, parts)) == pytest.approx(f0(line), rel=1e-9, abs=1e-15)


@given(lines, st.integers(2, 7), st.floats(100, 130))
def test_stays_are_those_of_the_lines(line: Line, parts: int, bound: float) -> None:
    """Nor does reading more often change for how long a bound was kept."""
    assume(np.abs(line[1] - bound).min() > 1e-6)
    found = [
        stays(t, [AtLeast(c, bound)], np.ones(len(t) - 1, dtype=bool)).total_s
        for t, c in (line, finer(line, parts))
    ]
    assert found[0] == pytest.approx(found[1], abs=1e-6)


@given(lines, st.data())
def test_f0_adds_up(line: Line, data: st.DataObject) -> None:
    """F of a cycle is F of its first part and F of the rest."""
    cut = data.draw(st.integers(1, len(line[0]) - 2))
    first, rest = (line[0][: cut + 1], line[1][: cut + 1]), (line[0][cut:], line[1][cut:])
    assert f0(first) + f0(rest) == pytest.approx(f0(line), rel=1e-12, abs=1e-18)


@given(lines, st.floats(0, 10))
def test_hotter_kills_more(line: Line, by_k: float) -> None:
    """Never less F for a hotter line; by z kelvins more, ten times."""
    assert f0((line[0], line[1] + by_k)) >= f0(line) * (1 - 1e-12)
    assert f0((line[0], line[1] + 10)) == pytest.approx(10 * f0(line), rel=1e-9)


@given(lines)
def test_f0_lies_between_the_coldest_and_the_hottest(line: Line) -> None:
    """F is at least that of the coldest temperature for all the time, at most of the hottest."""
    minutes = (line[0][-1] - line[0][0]) / 60
    least, most = (minutes * 10 ** ((c - 121.1) / 10) for c in (line[1].min(), line[1].max()))
    assert least * (1 - 1e-9) <= f0(line) <= most * (1 + 1e-9)


@given(lines, st.data())
def test_a_gap_never_adds(line: Line, data: st.DataObject) -> None:
    """What is not counted takes away just its own part."""
    counted = np.array(
        data.draw(st.lists(st.booleans(), min_size=len(line[0]) - 1, max_size=len(line[0]) - 1))
    )
    with_gaps = lethality_min(*line, counted, MOIST)
    without = lethality_min(*line, ~counted, MOIST)
    assert with_gaps <= f0(line) * (1 + 1e-12)
    assert with_gaps + without == pytest.approx(f0(line), rel=1e-9, abs=1e-18)


@given(lines, st.floats(20, 140))
def test_stays_hold_and_do_not_touch(line: Line, bound: float) -> None:
    """Within a stay the line is at the bound or above; between two it is below."""
    time_s, celsius = line
    everything = np.ones(len(time_s) - 1, dtype=bool)
    found = list(stays(time_s, [AtLeast(celsius, bound)], everything))
    for stay in found:
        middle = np.interp(np.linspace(stay.from_s, stay.until_s, 9), time_s, celsius)
        assert (middle >= bound - 1e-6).all()
    for one, other in pairwise(found):
        assert one.until_s <= other.from_s
        between = np.interp((one.until_s + other.from_s) / 2, time_s, celsius)
        assert between <= bound + 1e-6


TIME = np.array([0.0, 100.0, 200.0, 300.0])
LINE = np.array([111.0, 131.0, 121.0, 101.0])
ALL = np.ones(3, dtype=bool)


def test_the_crossing_is_exact() -> None:
    """121 °C is crossed half way up, touched at 200 s, and left there: 150 s."""
    (stay,) = stays(TIME, [AtLeast(LINE, 121)], ALL)
    assert stay == (50.0, 200.0)


def test_above_is_not_at() -> None:
    """A line that rests at the bound is at least it, never above it."""
    flat = np.full(4, 1200.0)
    assert list(stays(TIME, [AtLeast(flat, 1200)], ALL)) == [(0.0, 300.0)]
    assert list(stays(TIME, [above(flat, 1200)], ALL)) == []


def test_both_conditions_together() -> None:
    """Between two bounds: once going up, once coming down."""
    found = stays(TIME, [AtLeast(LINE, 121), at_most(LINE, 126)], ALL)
    assert list(found) == [(50.0, 75.0), (150.0, 200.0)]
    assert (found.longest, found.total_s, found.span_s) == ((150.0, 200.0), 75.0, 150.0)
    never = stays(TIME, [AtLeast(LINE, 140)], ALL)
    assert (never.longest, never.total_s, never.span_s) == (None, 0.0, 0.0)


def test_a_piece_that_does_not_count_breaks_a_stay() -> None:
    """A gap in the middle leaves what lies on both sides, not the sum."""
    flat = np.full(4, 121.0)
    found = stays(TIME, [AtLeast(flat, 121)], np.array([True, False, True]))
    assert list(found) == [(0.0, 100.0), (200.0, 300.0)]


@pytest.mark.parametrize("bad", [(121.1, 0, 1.5), (121.1, 10, 0), (float("nan"), 10, 1.5)])
def test_no_such_reference(bad: tuple[float, float, float]) -> None:
    """z and D are above zero and all are numbers."""
    with pytest.raises(ValueError, match=r"above zero|finite"):
        Reference("F0", *bad)
