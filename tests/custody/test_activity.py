"""Counts of activity: what one says, and which of two holds."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from pydantic import ValidationError

from service.custody.activity import ActivityCounted, Counted, holding
from service.custody.events import EVENT
from tests.trade import event_id

T0 = datetime(2026, 7, 1, 18, tzinfo=UTC)


def counted(**said: Any) -> ActivityCounted:
    """A count of ward 3."""
    usual = {
        "id": event_id(T0),
        "kind": "activity_counted",
        "occurred_at": T0,
        "actor": "officer",
        "unit": "ward-3",
        "day": "2026-07-01",
        "source": "census",
    }
    if not {"procedures", "occupied_bed_days"} & said.keys():
        said["procedures"] = 4
    event = EVENT.validate_python(usual | said)
    assert isinstance(event, ActivityCounted)
    return event


@pytest.mark.parametrize(
    "day", [datetime(2026, 7, 1, tzinfo=UTC), 1_782_864_000, "1 July", "2026-07-01T00:00"]
)
def test_a_day_is_written_as_a_day(day: Any) -> None:
    """A moment or a number might be another day elsewhere."""
    with pytest.raises(ValidationError):
        counted(day=day)


def test_a_count_gives_a_figure_and_names_no_container() -> None:
    """Nought is a figure: the ward was closed."""
    assert counted(occupied_bed_days="0").day == date(2026, 7, 1)
    with pytest.raises(ValidationError, match="occupied_bed_days, procedures or both"):
        counted(procedures=None)
    with pytest.raises(ValidationError, match="names no container"):
        counted(containers=("BAG",))


def test_of_two_counts_the_one_told_last_holds_and_the_other_is_named() -> None:
    """Whatever the order in which they are read."""
    first, second = counted(procedures=4), counted(procedures=5)
    other_day = counted(day="2026-07-02", procedures=9)
    row = [Counted(second, 8), Counted(other_day, 3), Counted(first, 7)]
    held, later = holding(row)
    assert (held.count, held.others) == (second, (first.id,))
    assert (later.count, later.others) == (other_day, ())


def test_two_counts_that_agree_are_no_conflict() -> None:
    """Told twice by two people, it is the same."""
    [held] = holding([Counted(counted(procedures=4), 1), Counted(counted(procedures=4), 2)])
    assert held.others == ()
