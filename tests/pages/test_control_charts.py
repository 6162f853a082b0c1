"""Control charts laid out: every point and limit lies within the drawing, higher is higher."""

from service.duties.signals import Drawn
from service.pages.control_charts import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, laid_out
from service.statistics.charts import Reading, individuals
from service.statistics.signals import signals

ROW = [Reading(str(n), value) for n, value in enumerate([5, 6, 5, 6, 5, 6, 5, 6, 30])]


def test_points_lie_within_and_a_signal_is_marked() -> None:
    """The highest figure is at the top, the lowest limit at the bottom."""
    chart = individuals(ROW, "kg")
    laid = laid_out(Drawn("icu", "red", chart, signals(chart)))
    ys = [m.y for m in laid.marks]
    assert min(ys) == TOP
    assert all(TOP <= y <= HEIGHT - BOTTOM for y in ys)
    assert (laid.marks[0].x, laid.marks[-1].x) == (LEFT, WIDTH - RIGHT)
    assert laid.marks[-1].signal
    lowest = float(laid.lower.split()[0].split(",")[1])
    assert lowest == HEIGHT - BOTTOM


def test_a_row_that_never_varies_is_drawn() -> None:
    """All on one line, with no room to divide by."""
    chart = individuals([Reading("a", 2), Reading("b", 2)], "kg")
    laid = laid_out(Drawn("icu", "red", chart, ()))
    assert len({m.y for m in laid.marks}) == 1
