"""A pit as it stands: how full, how fast it fills, how long it lasts, and what is wrong with it.

Waste is weighed, so its volume is known no better than the weight of a litre is: every figure is
a range. What somebody measured from the surface down is taken before what is reckoned.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from statistics import mean, stdev
from typing import NamedTuple

from service.custody.acts import Outlet
from service.custody.pits import PitShape
from service.custody.regime import Limit
from service.treatment.encapsulation import Pit

LITRES = Decimal(1_000)
"""In a cubic metre."""
CM = Decimal(100)
WEEKS_LEAST = 8
"""Whole weeks from which a rate is told (common practice, no source)."""
_COVERAGE = 2
"""Standard errors on either side of the mean of the weeks, about 95 %."""


class Load(NamedTuple):
    """What was put in on a day, grams, and how many containers without a weight."""

    day: date
    weight_g: int
    containers: int
    unweighed: int


class Covering(NamedTuple):
    """A cover that was put on: its layer, and how far below the surface it lies."""

    day: date
    cover: str
    layer_cm: Decimal | None
    free_cm: Decimal | None


class Range(NamedTuple):
    """A figure that lies between two."""

    low: Decimal
    high: Decimal


class Flag(NamedTuple):
    """Something wrong with a pit, and the row that it rests on; None is good practice."""

    said: str
    row: Limit | None


@dataclass(frozen=True, slots=True)
class PitState:
    """A pit on a day.

    Attributes:
        usable_l: Room up to where it is closed.
        filled_l: Waste and covers in it.
        litres_a_day: By whole weeks since the first load; None: too few of them.
        days_left: Until it is full; the later end None: no end can be told.
        closed_on: The day of the concrete.
    """

    usable_l: Decimal
    filled_l: Range
    left_l: Range
    litres_a_day: Range | None
    days_left: tuple[int, int | None] | None
    full_on: tuple[date, date | None] | None
    containers: int
    weight_g: int
    unweighed: int
    measured_on: date | None
    closed_on: date | None
    flags: tuple[Flag, ...]


Row = Callable[[str], Limit | None]
"""Gives the number of the regime by its id, as it is in force."""


def usable_m(shape: PitShape, row: Row) -> tuple[Decimal, Limit | None]:
    """Give up to where a pit is filled from its base, and the row that says so."""
    filled, lime, close = row("pit-filled"), row("pit-lime"), row("pit-close")
    ends = [
        (shape.depth_m - r.value, r) for r in (lime,) if r and shape.outlet is Outlet.DEEP_BURIAL
    ]
    if filled and shape.outlet is Outlet.DEEP_BURIAL:
        ends.append((shape.depth_m * filled.value, filled))
    if not ends and close:
        ends.append((shape.depth_m - close.value, close))
    height, by = min(ends, key=lambda end: end[0]) if ends else (shape.depth_m, None)
    return max(height, Decimal()), by


def pit_state(
    shape: PitShape, loads: Sequence[Load], covers: Sequence[Covering], today: date, row: Row
) -> PitState:
    """Say how a pit stands on a day, from all that was ever put in and on it, in order of days."""
    height_m, by = usable_m(shape, row)
    usable_l = shape.area_m2 * height_m * LITRES
    measured = next((c for c in reversed(covers) if c.free_cm is not None), None)
    filled_l = _filled(shape, loads, covers, measured)
    left_l = Range(*(Pit(usable_l, f).left_l for f in reversed(filled_l)))
    a_day = _rate(shape, loads, covers, today)
    days_left = _days(usable_l, filled_l, a_day) if a_day else None
    closed_on = next((c.day for c in covers if c.cover == "concrete"), None)
    return PitState(
        usable_l,
        filled_l,
        left_l,
        a_day,
        days_left,
        _dates(today, days_left),
        sum(load.containers for load in loads),
        sum(load.weight_g for load in loads),
        sum(load.unweighed for load in loads),
        measured.day if measured else None,
        closed_on,
        tuple(_flags(shape, loads, covers, row, (usable_l, filled_l, by), closed_on)),
    )


def _litres(shape: PitShape, loads: Sequence[Load], covers: Sequence[Covering]) -> Range:
    kg = Decimal(sum(load.weight_g for load in loads)) / 1_000
    layers_cm = sum((c.layer_cm for c in covers if c.layer_cm is not None), Decimal())
    covers_l = shape.area_m2 * layers_cm / CM * LITRES
    least, greatest = shape.kg_per_l
    return Range(kg / greatest + covers_l, kg / least + covers_l)


def _filled(
    shape: PitShape, loads: Sequence[Load], covers: Sequence[Covering], at: Covering | None
) -> Range:
    """What was measured, and what came on the days after it."""
    if at is None or at.free_cm is None:
        return _litres(shape, loads, covers)
    then_l = shape.area_m2 * max(Decimal(), shape.depth_m - at.free_cm / CM) * LITRES
    since = _litres(
        shape, [x for x in loads if x.day > at.day], [c for c in covers if c.day > at.day]
    )
    return Range(then_l + since.low, then_l + since.high)


def _rate(
    shape: PitShape, loads: Sequence[Load], covers: Sequence[Covering], today: date
) -> Range | None:
    """Litres a day by the mean of the whole weeks since the first load, and their scatter."""
    if not loads:
        return None
    weeks = ((today - loads[0].day).days + 1) // 7
    if weeks < WEEKS_LEAST:
        return None
    made = []
    for number in range(weeks):
        since = loads[0].day + timedelta(weeks=number)
        until = since + timedelta(weeks=1)
        made.append(
            _litres(
                shape,
                [x for x in loads if since <= x.day < until],
                [c for c in covers if since <= c.day < until],
            )
        )
    ends = []
    for side, values in ((-1, [m.low for m in made]), (1, [m.high for m in made])):
        error = Decimal(stdev(values)) / Decimal(weeks).sqrt()
        ends.append(max(Decimal(), (mean(values) + side * _COVERAGE * error) / 7))
    return Range(*ends)


def _days(usable_l: Decimal, filled_l: Range, a_day: Range) -> tuple[int, int | None] | None:
    soonest = Pit(usable_l, filled_l.high).days_left(a_day.high)
    latest = Pit(usable_l, filled_l.low).days_left(a_day.low)
    return None if soonest is None else (soonest, latest)


def _dates(today: date, days: tuple[int, int | None] | None) -> tuple[date, date | None] | None:
    if days is None:
        return None
    most = (date.max - today).days
    soonest, latest = days
    return (
        today + timedelta(days=min(soonest, most)),
        None if latest is None or latest > most else today + timedelta(days=latest),
    )


def _flags(
    shape: PitShape,
    loads: Sequence[Load],
    covers: Sequence[Covering],
    row: Row,
    full: tuple[Decimal, Range, Limit | None],
    closed_on: date | None,
) -> list[Flag]:
    found = []
    usable_l, filled_l, by = full
    if filled_l.low >= usable_l:
        found.append(Flag("full: stop, cover and close it", by))
    elif filled_l.high >= usable_l:
        found.append(Flag("may be full: measure it before anything goes in", by))
    if closed_on and (late := [x for x in loads if x.day > closed_on]):
        found.append(Flag(f"something was put in on {late[-1].day}, after it was closed", None))
    soil = row("pit-soil")
    if soil and shape.outlet is Outlet.DEEP_BURIAL and loads:
        last = loads[-1].day
        if not any(c.day >= last for c in covers):
            found.append(Flag(f"no cover is on record over the load of {last}", soil))
    water, well = row("pit-groundwater"), row("pit-water-source")
    if water:
        if shape.ground_water_m is None:
            found.append(Flag("how deep the ground water stands is not told", water))
        elif shape.ground_water_m - shape.depth_m < water.value:
            below = shape.ground_water_m - shape.depth_m
            found.append(Flag(f"ground water {below} m below the base, {water.value} asked", water))
    if well and shape.water_source_m is not None and shape.water_source_m < well.value:
        said = f"a source of water {shape.water_source_m} m away, {well.value} asked"
        found.append(Flag(said, well))
    return found
