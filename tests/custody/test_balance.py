"""Which weighings of a container are compared, and with what."""

from datetime import timedelta
from decimal import Decimal

from service.custody.balance import comparisons, weighings
from tests.house import hospital
from tests.trade import CART, OUTER, Story, at, bag

T0, HOUR = at("2026-07-06 10:00"), timedelta(hours=1)


def pairs(story: Story) -> list[tuple[int, Decimal]]:
    """Difference and tolerance of each comparison."""
    found = comparisons(story.history(), hospital(), Decimal(2))
    return [(c.difference_g, c.tolerance_g) for c in found]


def test_each_weighing_is_compared_with_the_one_before() -> None:
    """At the ward, at the yard, at the plant: two comparisons."""
    story = bag().sealed(T0, weight_g=3_420, scale="ward-scale")
    story.weighed(T0 + HOUR, 3_410, scale="ward-scale").dispatched(T0 + HOUR)
    story.received(T0 + 2 * HOUR, weight_g=3_400, scale="plant-scale")
    assert pairs(story) == [(-10, Decimal(20)), (-10, Decimal(110))]


def test_a_weight_of_nothing_is_no_weighing() -> None:
    """No figure, or nought."""
    story = bag().sealed(T0).weighed(T0, 0).weighed(T0 + HOUR, 3_420)
    assert [w.weight_g for w in weighings(story.history())] == [3_420]
    assert pairs(story) == []


def test_outer_bags_are_counted_once_between_the_weighings_around_them() -> None:
    """Two outer bags of 40 g, then a weighing, then no more."""
    story = bag().double_bagged(T0, tare_g=99).sealed(T0 + HOUR, weight_g=1_000)
    story.double_bagged(T0 + 2 * HOUR, tare_g=40, outer=OUTER)
    story.double_bagged(T0 + 2 * HOUR, tare_g=40).weighed(T0 + 3 * HOUR, 1_080)
    story.weighed(T0 + 4 * HOUR, 1_080)
    assert [difference_g for difference_g, _ in pairs(story)] == [0, 0]


def test_the_weight_of_a_parent_is_its_own() -> None:
    """A received cart is weighed with all that is in it."""
    story = bag().sealed(T0, weight_g=3_420).packed(T0).dispatched(T0 + HOUR, CART)
    story.received(T0 + 2 * HOUR, CART, weight_g=90_000)
    assert pairs(story) == []


def test_nothing_is_compared_after_treatment() -> None:
    """Steam adds, fire takes."""
    story = bag().sealed(T0, weight_g=3_420).treated(T0 + HOUR).weighed(T0 + 2 * HOUR, 400)
    assert pairs(story) == []
