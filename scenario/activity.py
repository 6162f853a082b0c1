"""What the invented hospital's units make: how much, when, of which category, in what, how heavy.

The figures are invented to look like a busy hospital; none is a published rate.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import accumulate
from math import log
from random import Random

from scenario.bags import Bag

SUNDAY = 6
DAY_S = 86_400
HOUR_S = 3_600

WEEKDAYS = (1.10, 1.08, 1.06, 1.05, 1.07, 0.92, 0.66)
"""Monday to Sunday, against a mean day."""

_HOURS = {
    "round-the-clock": (2, 2, 2, 2, 2, 3, 5, 6, 6, 6, 6, 6, 6, 5, 5, 5, 5, 5, 5, 5, 4, 3, 3, 2),
    "day": (0, 0, 0, 0, 0, 0, 0, 1, 5, 8, 10, 10, 9, 7, 8, 8, 7, 5, 3, 1, 0, 0, 0, 0),
}


@dataclass(frozen=True, slots=True)
class UnitActivity:
    """One unit's share of the containers, its hours, its Sundays and its mix of categories."""

    share: float
    hours: str
    sunday: float
    mix: Mapping[str, float]


_WARD = {"yellow-c": 46, "red": 27, "white": 11, "blue-a": 9, "yellow-g": 5, "yellow-d2": 2}
_ROUND, _DAY = "round-the-clock", "day"

UNITS: dict[str, UnitActivity] = {
    "icu": UnitActivity(9, _ROUND, 1.0, _WARD),
    "theatres": UnitActivity(
        13,
        _DAY,
        0.3,
        {"yellow-c": 48, "red": 24, "white": 8, "blue-a": 4, "yellow-g": 7, "yellow-a": 7}
        | {"blue-b": 2},
    ),
    "emergency": UnitActivity(11, _ROUND, 1.1, _WARD | {"yellow-a": 1}),
    "labour-ward": UnitActivity(
        8,
        _ROUND,
        1.0,
        {"yellow-c": 44, "red": 20, "white": 8, "blue-a": 6, "yellow-g": 8, "yellow-a": 14},
    ),
    "surgical-ward": UnitActivity(9, _ROUND, 0.8, _WARD),
    "medical-ward": UnitActivity(9, _ROUND, 0.9, _WARD),
    "bone-ward": UnitActivity(
        5, _ROUND, 0.7, {"yellow-c": 55, "red": 24, "white": 8, "blue-a": 5, "yellow-g": 6}
        | {"blue-b": 2},
    ),
    "children-ward": UnitActivity(6, _ROUND, 0.9, _WARD),
    "oncology-day": UnitActivity(
        5, _DAY, 0.1, {"yellow-c": 22, "yellow-d1": 52, "red": 18, "white": 8}
    ),
    "dialysis": UnitActivity(
        6, _DAY, 0.4, {"yellow-c": 28, "red": 55, "white": 9, "blue-a": 4, "yellow-e": 4}
    ),
    "laboratory": UnitActivity(
        6,
        _ROUND,
        0.6,
        {"yellow-h": 46, "red": 18, "white": 12, "blue-a": 14, "yellow-e": 4, "yellow-f": 6},
    ),
    "blood-centre": UnitActivity(
        3, _DAY, 0.4, {"yellow-h": 38, "yellow-c": 26, "red": 22, "white": 10, "blue-a": 4}
    ),
    "outpatients": UnitActivity(
        6, _DAY, 0.1, {"yellow-c": 58, "red": 20, "white": 13, "blue-a": 7, "yellow-d2": 2}
    ),
    "pharmacy": UnitActivity(
        1.5, _DAY, 0.1, {"yellow-d2": 55, "yellow-d1": 20, "yellow-e": 10, "blue-a": 15}
    ),
    "imaging": UnitActivity(
        2, _DAY, 0.4, {"yellow-c": 40, "red": 38, "white": 14, "yellow-f": 8}
    ),
    "animal-house": UnitActivity(
        1.5, _DAY, 0.3, {"yellow-b": 55, "yellow-c": 15, "yellow-h": 10, "red": 14, "white": 6}
    ),
}  # fmt: skip

_KINDS: dict[str, tuple[str, ...]] = {
    "yellow-d1": ("bag", "bag", "bag", "sharps_container"),
    "yellow-e": ("bag", "bottle"),
    "yellow-f": ("bottle",),
    "yellow-h": ("bag", "bag", "bag", "box"),
    "red": ("bag", "bag", "bag", "bag", "bag", "bag", "bag", "rigid_bin"),
    "white": ("sharps_container",),
    "blue-a": ("box",),
    "blue-b": ("box",),
}
"""Kinds as often as they are used; anything else goes in a bag."""

_MEDIAN_G = {
    "yellow-a": 3_200, "yellow-b": 2_600, "yellow-c": 4_100, "yellow-d1": 2_300,
    "yellow-d2": 2_000, "yellow-e": 3_000, "yellow-f": 4_500, "yellow-g": 5_600,
    "yellow-h": 3_400, "red": 4_300, "white": 1_900, "blue-a": 4_000, "blue-b": 2_800,
}  # fmt: skip
_LIGHTEST_G, _HEAVIEST_G, _HEAVIEST_HARD_G = 600, 19_000, 9_000

_UNIT_IDS = tuple(UNITS)
_HOUR_SUMS = {name: tuple(accumulate(hours)) for name, hours in _HOURS.items()}
_MIX = {u: (tuple(a.mix), tuple(accumulate(a.mix.values()))) for u, a in UNITS.items()}


def containers_on(rng: Random, mean: int, weekday: int) -> int:
    """Give how many containers are sealed on a day of the week (0 is Monday)."""
    level = WEEKDAYS[weekday] * 7 / sum(WEEKDAYS)
    return max(1, round(mean * level * rng.uniform(0.95, 1.05)))


def seal(rng: Random, day: int, weekday: int, count: int) -> list[Bag]:
    """Make the day's containers in order of sealing; they have no id yet."""
    shares = [a.share * (a.sunday if weekday == SUNDAY else 1) for a in UNITS.values()]
    bags = [
        _bag(rng, day, unit)
        for unit in rng.choices(_UNIT_IDS, cum_weights=tuple(accumulate(shares)), k=count)
    ]
    return sorted(bags, key=lambda bag: bag.sealed_s)


def _bag(rng: Random, day: int, unit: str) -> Bag:
    names, sums = _MIX[unit]
    category = rng.choices(names, cum_weights=sums)[0]
    kind = rng.choice(_KINDS.get(category, ("bag",)))
    hour = rng.choices(range(24), cum_weights=_HOUR_SUMS[UNITS[unit].hours])[0]
    at_s = day * DAY_S + hour * HOUR_S + rng.randrange(HOUR_S)
    heaviest = _HEAVIEST_G if kind in ("bag", "rigid_bin", "box") else _HEAVIEST_HARD_G
    weight_g = round(rng.lognormvariate(log(_MEDIAN_G[category]), 0.42))
    return Bag(
        category=category,
        kind=kind,
        unit=unit,
        sealed_s=max(at_s, HOUR_S),
        weight_g=min(max(weight_g, _LIGHTEST_G), heaviest),
        fill_percent=rng.randint(35, 74),
    )
