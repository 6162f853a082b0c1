"""Charts: limits that fit the exposure, a basis one may choose, figures that are none."""

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

KG = "kg per occupied bed-day"


def row(*values: float) -> list[Reading]:
    """Figures of consecutive weeks."""
    return [Reading(f"week {i}", value) for i, value in enumerate(values, 1)]


def test_limits_come_from_the_basis_alone() -> None:
    """A week known to be odd stays on the chart and out of its limits."""
    with_odd, without = row(5, 6, 5, 20, 5, 6), row(5, 6, 5, 5, 6)
    basis = [0, 1, 2, 4, 5]
    chosen, plain = individuals(with_odd, KG, basis), individuals(without, KG)
    assert chosen.points[0].upper == plain.points[0].upper
    assert chosen.points[3].value == 20


def test_a_small_ward_has_wide_limits() -> None:
    """Counts per bed-day: a quarter of the bed-days doubles the distance to the limit."""
    small, large = u_chart([Counted("a", 10, 10), Counted("b", 40, 40)], "bags a bed-day").points
    assert small.upper - small.centre == pytest.approx(2 * (large.upper - large.centre))


def test_points_of_unequal_exposure_compare_when_standardised() -> None:
    """10 % of 400 is further out than 10 % of 100 where 5 % is usual."""
    points = p_chart([Counted("few", 10, 100), Counted("many", 40, 400)], "", [0, 1]).points
    assert [p.standardised for p in points] == [0, 0]
    base = [Counted("base", 50, 1000), Counted("few", 10, 100), Counted("many", 40, 400)]
    _, few, many = p_chart(base, "", basis=[0]).points
    assert many.standardised == pytest.approx(2 * few.standardised)


def test_the_mean_that_forgets_starts_with_narrow_limits() -> None:
    """The first has the reading's own weight; the limits widen to those that stay."""
    points = ewma(row(*[5] * 20), KG, weight=0.3, centre=5, sigma=1).points
    assert points[0].upper - 5 == pytest.approx(3 * 0.3)
    widths = [p.upper - 5 for p in points]
    assert widths == sorted(widths)


def test_a_mean_that_forgets_all_is_the_reading() -> None:
    """With weight 1 it is the chart of individuals."""
    readings = row(5, 7, 4, 6, 9)
    assert [p.value for p in ewma(readings, KG, weight=1).points] == [5, 7, 4, 6, 9]
    assert [p.upper for p in ewma(readings, KG, weight=1).points] == [
        pytest.approx(p.upper) for p in individuals(readings, KG).points
    ]


def test_the_moving_range_has_one_point_less() -> None:
    """Each step stands at the later week."""
    chart = moving_range(row(5, 8, 6), KG)
    assert [(p.label, p.value) for p in chart.points] == [("week 2", 3), ("week 3", 2)]


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_figure_is_refused(value: float) -> None:
    """With the label of the figure."""
    with pytest.raises(ValueError, match="week 3"):
        Reading("week 3", value)


def test_what_gives_no_rate_is_refused() -> None:
    """No bed-days, fewer than nothing, more wrong than seen, too few for limits, no such weight."""
    for count, exposure in ((1, 0), (-1, 5), (1, float("inf"))):
        with pytest.raises(ValueError, match="gives no rate"):
            Counted("week 3", count, exposure)
    with pytest.raises(ValueError, match="is no share"):
        p_chart([Counted("week 3", 6, 5)], "")
    with pytest.raises(ValueError, match="at least two"):
        individuals(row(5), KG)
    with pytest.raises(ValueError, match="no figures"):
        u_chart([], KG)
    with pytest.raises(ValueError, match="weight"):
        ewma(row(5, 6), KG, weight=0)
