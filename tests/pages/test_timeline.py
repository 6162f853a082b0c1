"""The drawing of a path: lanes follow custody, marks cover nothing, lines stand right."""

from datetime import timedelta
from itertools import pairwise

from scenario.hospital import load_site
from service.pages.timeline import LANES, MARK, drawn
from tests.trade import at, bag

SITE = load_site()
T0 = at("2026-07-06 10:00")
HOUR = timedelta(hours=1)


def test_nothing_happened_is_no_drawing() -> None:
    """A label alone that nobody told of."""
    assert drawn(bag().history(), SITE, None, T0) is None


def test_a_stretch_ends_where_the_next_lane_begins() -> None:
    """So that one reads along one line; who it passed to stands in another lane."""
    story = bag().sealed(T0).collected(T0 + HOUR).stored(T0 + 2 * HOUR).dispatched(T0 + 5 * HOUR)
    drawing = drawn(story.received(T0 + 6 * HOUR).history(), SITE, None, T0 + 8 * HOUR)
    assert drawing is not None
    lanes = dict(drawing.lanes)
    assert [h.y for h in drawing.held] == [lanes[name] for name in LANES]
    assert all(a.until_x == b.from_x for a, b in pairwise(drawing.held))
    assert drawing.held[-1].until_x == drawing.now_x


def test_marks_of_one_minute_stand_apart_in_their_order() -> None:
    """Numbered as in the table, each within the drawing, none over another."""
    story = bag().sealed(T0)
    for minute in range(40):
        story.weighed(T0 + timedelta(minutes=minute), 3400)
    drawing = drawn(story.history(), SITE, T0 + 30 * 24 * HOUR, T0 + HOUR)
    assert drawing is not None
    assert [m.number for m in drawing.marks] == list(range(1, 42))
    assert all(b.x - a.x >= MARK for a, b in pairwise(drawing.marks))
    assert all(0 < m.x < drawing.width for m in drawing.marks)


def test_the_limit_and_now_stand_at_their_times() -> None:
    """The limit between, now at the end; of what is disposed of, no now."""
    story = bag().sealed(T0)
    drawing = drawn(story.history(), SITE, T0 + 2 * HOUR, T0 + 4 * HOUR)
    assert drawing is not None
    assert drawing.limit_x is not None
    assert drawing.now_x is not None
    begin = drawing.marks[0].at_x
    assert abs((drawing.limit_x - begin) - (drawing.now_x - begin) / 2) < 0.2
    gone = drawn(
        story.treated(T0 + HOUR).disposed(T0 + 2 * HOUR).history(), SITE, None, T0 + 4 * HOUR
    )
    assert gone is not None
    assert gone.now_x is None


def test_the_axis_has_few_round_times() -> None:
    """From minutes to years."""
    for hours in (1, 30, 24 * 20, 24 * 900):
        end = T0 + hours * HOUR
        drawing = drawn(bag().sealed(T0).stored(end).history(), SITE, None, end)
        assert drawing is not None
        assert 1 <= len(drawing.ticks) <= 9
        assert all(t.at.minute % 15 == 0 for t in drawing.ticks)
