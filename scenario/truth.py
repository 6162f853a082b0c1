"""What must be found wrong at the quarter's end, by plain arithmetic on the simulation's times."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from scenario.activity import HOUR_S
from scenario.bags import Bag
from scenario.counted import (
    DROP_CATEGORY,
    DROP_UNIT,
    DROP_WEEKS,
    HEAVY_CATEGORY,
    HEAVY_UNIT,
    Changes,
)
from scenario.needles import DIFFERING_UNIT
from scenario.stories import HOLDING_HOURS

NEAR_HOURS = 6
TRANSIT_HOURS = 24


@dataclass(frozen=True, slots=True)
class FiguresTruth:
    """Which unit and category must stand out, and when: in a hospital of full size, for in a small
    one the scatter hides it.

    Attributes:
        signal: Unit and category whose week from ``signal_week`` lies above the limit.
        drop: Unit and category of which an unusual drop is the largest of all, in the
            ``drop_weeks`` up to ``drop_last``.
        needles: The one unit whose counts of needles differ by more than they may be off.
    """

    signal: tuple[str, str]
    signal_week: date
    drop: tuple[str, str]
    drop_weeks: int
    drop_last: date
    needles: str


def expected_figures(first_day: date, days: int) -> FiguresTruth:
    """Give what the figures of a quarter must show."""
    changes = Changes.of(first_day, days)
    return FiguresTruth(
        (HEAVY_UNIT, HEAVY_CATEGORY),
        changes.heavy_monday,
        (DROP_UNIT, DROP_CATEGORY),
        DROP_WEEKS,
        changes.drop_sunday,
        DIFFERING_UNIT,
    )


def wrongs(bag: Bag, heard_s: int, now_s: int) -> tuple[str, ...]:
    """Give the codes of everything wrong with a container at ``now_s``, repeats included.

    What happened after ``heard_s`` is not known to anybody yet.
    """
    return (*bag.codes, *_holding(bag, heard_s, now_s), *_transit(bag, heard_s, now_s))


def expected(bags: Iterable[Bag], heard_s: int, now_s: int) -> tuple[tuple[str, str], ...]:
    """Give (container, code) for everything wrong, sorted, repeats included."""
    return tuple(sorted((bag.id, code) for bag in bags for code in wrongs(bag, heard_s, now_s)))


def _holding(bag: Bag, heard_s: int, now_s: int) -> list[str]:
    hours = HOLDING_HOURS.get(bag.category)
    if hours is None:
        return []
    held_s = _until(bag.treated_s, heard_s, now_s) - bag.sealed_s
    codes = ["holding.near"] if held_s > (hours - NEAR_HOURS) * HOUR_S else []
    return [*codes, "holding.exceeded"] if held_s > hours * HOUR_S else codes


def _transit(bag: Bag, heard_s: int, now_s: int) -> list[str]:
    if bag.dispatched_s is None or bag.dispatched_s > heard_s:
        return []
    on_road_s = _until(bag.received_s, heard_s, now_s) - bag.dispatched_s
    return ["custody.overdue"] if on_road_s > TRANSIT_HOURS * HOUR_S else []


def _until(ended_s: int | None, heard_s: int, now_s: int) -> int:
    """The end as far as it is known; else it still goes on."""
    return now_s if ended_s is None or ended_s > heard_s else ended_s
