"""Signals on a control chart: patterns that a steady process seldom makes, said in words.

A signal says that something probably changed. It does not say what, and not that anybody erred.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from service.statistics.charts import WIDTH, Chart, Kind, Point

Side = Literal["above", "below"]


@dataclass(frozen=True, slots=True)
class Rule:
    """A pattern that counts as a signal.

    Attributes:
        length: How many points in a row are looked at together.
        chance: How often a point completes it, on either side, when nothing changed and the
            figures are independent and normal.
        said: The pattern in words.
    """

    id: str
    length: int
    chance: float
    said: str
    source: str
    shows: Callable[[tuple[float, ...]], bool]
    """Whether points, in standard deviations to the side looked at, show it on that side."""


_SHEWHART = "Shewhart 1931, Economic Control of Quality of Manufactured Product (from memory)"
_WESTERN = "Western Electric 1956, Statistical Quality Control Handbook (from memory)"
_NELSON = "Nelson 1984, The Shewhart control chart: tests for special causes, test 3 (from memory)"


def _at_least(few: int, past: float) -> Callable[[tuple[float, ...]], bool]:
    return lambda zs: zs[-1] > past and sum(z > past for z in zs) >= few


RULES = (
    Rule("beyond", 1, 0.0027, "{side} the limit", _SHEWHART, _at_least(1, WIDTH)),
    Rule(
        "two_of_three",
        3,
        0.00205,
        "two of three in a row far {side} the centre (over two thirds of the way to the limit)",
        _WESTERN,
        _at_least(2, 2.0),
    ),
    Rule(
        "four_of_five",
        5,
        0.00447,
        "four of five in a row {side} the centre by over one third of the way to the limit",
        _WESTERN,
        _at_least(4, 1.0),
    ),
    Rule(
        "eight", 8, 0.00781, "eight or more in a row {side} the centre", _WESTERN, _at_least(8, 0)
    ),
    Rule(
        "six_steps",
        6,
        0.00278,
        "six or more in a row, each further {side} than the one before",
        _NELSON,
        lambda zs: all(b > a for a, b in pairwise(zs)),
    ),
)


@dataclass(frozen=True, slots=True)
class Signal:
    """A pattern found: ``first`` and ``last`` are indexes of points of the chart."""

    rule: Rule
    side: Side
    first: int
    last: int
    said: str


def signals(chart: Chart) -> tuple[Signal, ...]:
    """Find every pattern, in the order of the point that completes it.

    Runs are looked for only where each point stands for itself: neighbours on an EWMA or a moving
    range share readings, and make runs by chance.
    """
    rules = RULES if chart.kind.independent else RULES[:1]
    found = [
        Signal(rule, side, first, last, _said(chart, rule, side, first, last))
        for rule in rules
        for side in ("above", "below")
        for first, last in _spans(chart.points, rule, side)
    ]
    return tuple(sorted(found, key=lambda s: (s.last, s.first)))


def _spans(points: tuple[Point, ...], rule: Rule, side: Side) -> Iterator[tuple[int, int]]:
    """Give where the pattern stands; groups that share points are one."""
    sign = 1 if side == "above" else -1
    away = tuple(sign * _deviations(p) for p in points)
    begun: tuple[int, int] | None = None
    for end in range(rule.length - 1, len(points)):
        start = end - rule.length + 1
        if not rule.shows(away[start : end + 1]):
            continue
        if begun and start <= begun[1]:
            begun = (begun[0], end)
            continue
        if begun:
            yield begun
        begun = (start, end)
    if begun:
        yield begun


def _deviations(point: Point) -> float:
    """Where nothing ever varied, any difference is beyond the limit."""
    if point.sigma:
        return point.standardised
    off = point.value - point.centre
    return 0.0 if not off else WIDTH + 1 if off > 0 else -WIDTH - 1


def _said(chart: Chart, rule: Rule, side: Side, first: int, last: int) -> str:
    pattern = rule.said.format(side=side)
    point = chart.points[last]
    where = point.label if first == last else f"{chart.points[first].label} to {point.label}"
    against = (
        f"{point.value:.4g} against a limit of "
        f"{point.upper if side == 'above' else point.lower:.4g} {chart.measure}"
        if first == last
        else f"last {point.value:.4g}, centre {point.centre:.4g} {chart.measure}"
    )
    mean = "the mean that forgets lies " if chart.kind is Kind.EWMA else ""
    return (
        f"{where}: {mean}{pattern} ({against}). Where nothing changes, about 1 point in "
        f"{round(1 / rule.chance)} does so by chance: look for what changed."
    )
