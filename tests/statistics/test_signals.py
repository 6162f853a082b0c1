"""Signals: each pattern, its boundary, its words, and how often chance alone makes it."""

from itertools import pairwise, product
from random import Random
from statistics import NormalDist

import pytest

from service.statistics.charts import Chart, Kind, Point
from service.statistics.signals import RULES, signals


def chart(*deviations: float, kind: Kind = Kind.INDIVIDUALS) -> Chart:
    """A chart of centre 10 and standard deviation 1, by each point's deviation."""
    return Chart(
        kind,
        "kg per occupied bed-day",
        tuple(Point(f"day {i}", 10 + d, 10, 1, 7, 13) for i, d in enumerate(deviations, 1)),
    )


def found(*deviations: float, kind: Kind = Kind.INDIVIDUALS) -> list[tuple[str, str, int, int]]:
    """Rule, side, first and last day of each signal."""
    return [
        (s.rule.id, s.side, s.first + 1, s.last + 1) for s in signals(chart(*deviations, kind=kind))
    ]


@pytest.mark.parametrize(
    ("deviations", "expected"),
    [
        ((0, 3, 0), []),
        ((0, 3.01, 0), [("beyond", "above", 2, 2)]),
        ((0, -3.01, 0), [("beyond", "below", 2, 2)]),
        ((2.1, 0, 2.1), [("two_of_three", "above", 1, 3)]),
        ((2.1, 0, 2.1, 0, 2.1), [("two_of_three", "above", 1, 5)]),
        ((2.1, 0, -2.1), []),
        ((2.1, 0, 0, 2.1), []),
        ((2, 0, 2), []),
        ((-1.1, -1.1, 0, -1.1, -1.1), [("four_of_five", "below", 1, 5)]),
        ((-1.1, -1.1, 0, -1.1, -0.9), []),
        ((0.1, 0.2) * 4, [("eight", "above", 1, 8)]),
        ((0.1, 0.2) * 3 + (0.1,), []),
        ((0.1, 0.2) * 3 + (0.1, -0.1, 0.1), []),
        ((0.1, 0.2) * 5, [("eight", "above", 1, 10)]),
        ((-0.9, -0.6, -0.3, 0.1, 0.4, 0.7), [("six_steps", "above", 1, 6)]),
        ((-0.9, -0.6, -0.3, -0.3, 0.4, 0.7), []),
        ((0.7, 0.4, 0.1, -0.3, -0.6, -0.9, -0.95), [("six_steps", "below", 1, 7)]),
    ],
)
def test_each_pattern_and_its_boundary(
    deviations: tuple[float, ...], expected: list[tuple[str, str, int, int]]
) -> None:
    """At the limit is within; one point fewer is no pattern; groups that overlap are one."""
    assert found(*deviations) == expected


@pytest.mark.parametrize("kind", [Kind.EWMA, Kind.MOVING_RANGE])
def test_runs_say_nothing_where_neighbours_share_readings(kind: Kind) -> None:
    """Only a point beyond the limit counts there."""
    assert found(*[0.5] * 12, 3.5, kind=kind) == [("beyond", "above", 13, 13)]


def test_where_nothing_ever_varied_any_difference_is_beyond() -> None:
    """No wrong item in a year, then one."""
    points = tuple(Point(f"day {i}", v, 0, 0, 0, 0) for i, v in enumerate((0, 0, 0.1), 1))
    assert [s.first for s in signals(Chart(Kind.P, "of items", points))] == [2]


def test_a_signal_says_what_where_and_how_seldom_in_words() -> None:
    """With figures and measure, and nothing of blame."""
    (signal,) = signals(chart(0, 3.4, 0))
    assert signal.said == (
        "day 2: above the limit (13.4 against a limit of 13 kg per occupied bed-day). Where "
        "nothing changes, about 1 point in 370 does so by chance: look for what changed."
    )
    (run,) = signals(chart(*[-0.1, -0.2] * 4))
    assert run.said.startswith("day 1 to day 8: eight or more in a row below the centre")


@pytest.mark.parametrize("rule", RULES, ids=lambda r: r.id)
def test_the_chance_of_each_rule_is_what_it_states(rule) -> None:  # type: ignore[no-untyped-def]
    """Every way a group can fall into the zones of the rule, weighed by the normal law.

    Six that rise are one of 720 orders, and so are six that fall.
    """
    if rule.id == "six_steps":
        assert rule.chance == pytest.approx(2 / 720, rel=0.01)
        return
    cuts = [-9, 0, 1, 2, 3, 9]
    law = NormalDist()
    zones = [((a + b) / 2, law.cdf(b) - law.cdf(a)) for a, b in pairwise(cuts)]
    if rule.length == 8:
        zones = [(-1, 0.5), (1, 0.5)]
    chance = 0.0
    for group in product(zones, repeat=rule.length):
        if rule.shows(tuple(z for z, _ in group)):
            weight = 1.0
            for _, share in group:
                weight *= share
            chance += weight
    assert rule.chance == pytest.approx(2 * chance, rel=0.01)


# Champ and Woodall, Exact results for Shewhart control charts with supplementary runs rules,
# Technometrics 29 (1987), from memory: the four Western Electric rules together give a false signal
# every 91.75 points on the average.
def test_the_four_western_rules_together_err_every_92_points() -> None:
    """On a steady process, 600 runs by a seeded die; three standard errors are 11."""
    die, lengths = Random(6), []
    for _ in range(600):
        past = chart()
        while not (firsts := [s.last for s in signals(past) if s.rule.id != "six_steps"]):
            past = chart(*(p.value - 10 for p in past.points), *(die.gauss() for _ in range(150)))
        lengths.append(min(firsts) + 1)
    assert sum(lengths) / len(lengths) == pytest.approx(91.75, abs=11)
