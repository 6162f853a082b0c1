"""Charts: what is drawn stands for what is said, on one scale."""

import pytest

from service.pages.charts import HEIGHT, LEFT, TOP, WIDTH, charts, rounded_up

WEEKS = ["29 Jun", "6 Jul", "13 Jul"]


@pytest.mark.parametrize(
    ("value", "top"),
    [(0, 1), (0.2, 1), (1, 1), (1.01, 1.5), (7, 8), (8.1, 10), (202.5, 250), (999, 1000)],
)
def test_a_scale_ends_at_a_round_figure_not_far_above(value: float, top: float) -> None:
    """And never below the highest value."""
    assert rounded_up(value) == top


def test_all_series_have_one_scale() -> None:
    """So that a bar twice as high is twice as much, in whichever chart."""
    one, other = charts({"a": [10, 20, 40], "b": [5, 0, 20]}, WEEKS)
    assert one.top == other.top == 40
    assert one.marks[1].height == pytest.approx(other.marks[2].height)
    assert one.marks[2].height == pytest.approx(2 * one.marks[1].height)
    assert other.marks[1].height == 0


def test_marks_stand_in_their_order_within_the_drawing() -> None:
    """Each with its week and its value."""
    [chart] = charts({"a": [3, 1, 2]}, WEEKS)
    assert [(m.label, m.value) for m in chart.marks] == list(zip(WEEKS, [3, 1, 2], strict=True))
    edges = [x for m in chart.marks for x in (m.x, m.x + m.width)]
    assert edges == sorted(edges)
    assert edges[0] >= LEFT
    assert edges[-1] <= WIDTH
    for mark in chart.marks:
        assert TOP <= mark.y <= chart.base <= HEIGHT
        assert mark.y + mark.height == pytest.approx(chart.base)
    assert len(chart.points.split()) == 3


def test_nothing_at_all_can_be_drawn() -> None:
    """An empty period, and one in which nothing was sealed."""
    assert charts({}, WEEKS) == []
    [chart] = charts({"a": [0, 0, 0]}, WEEKS)
    assert {mark.height for mark in chart.marks} == {0}
    assert charts({"a": []}, [])[0].marks == []
