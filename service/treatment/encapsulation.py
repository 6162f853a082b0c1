"""Cement and pits: mixes by weight, what a drum takes, how long a sharps pit lasts.

Quantities are exact: Decimal, grams or litres as whole numbers where pieces are counted.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

WASTE = "waste"
"""The part of a mix that is the waste itself."""


def mixed(parts: Mapping[str, int], total_kg: Decimal) -> dict[str, Decimal]:
    """Divide a weight among the parts of a mix, kg.

    WHO/EDM/PAR/99.2 (1999): lime, cement and water 15:15:5 over encapsulated waste (s. 2.3, read);
    waste, lime, cement and water 65:15:15:5 to make it inert (s. 2.4, from memory).

    Raises:
        ValueError: the weight is not above zero.
    """
    _demand_positive(total_kg, "the weight")
    whole = sum(parts.values())
    return {name: total_kg * part / whole for name, part in parts.items()}


def mixed_with(parts: Mapping[str, int], waste_kg: Decimal) -> dict[str, Decimal]:
    """Give what goes with so much waste in a mix that has it as a part, kg, the waste too.

    Raises:
        ValueError: the mix has no waste, or the weight is not above zero.
    """
    if WASTE not in parts:
        raise ValueError("this mix has no part for the waste")
    _demand_positive(waste_kg, "the weight of waste")
    return {name: waste_kg * part / parts[WASTE] for name, part in parts.items()}


@dataclass(frozen=True)
class Drum:
    """A container to be filled with waste and then with mortar, litres.

    Attributes:
        nominal_l: its volume.
        waste_l: waste in it, as it lies there.
        fraction_max: part of the volume that waste may take.
    """

    nominal_l: Decimal
    waste_l: Decimal
    fraction_max: Decimal

    def __post_init__(self) -> None:
        """Refuse what cannot be.

        Raises:
            ValueError: no volume, waste below nothing or beyond the brim, a fraction outside 0..1.
        """
        _demand_positive(self.nominal_l, "the volume")
        if not 0 <= self.waste_l <= self.nominal_l:
            raise ValueError(f"{self.waste_l} l of waste are not in a drum of {self.nominal_l} l")
        if not 0 < self.fraction_max <= 1:
            raise ValueError("the part that waste may take lies between 0 and 1")

    @property
    def usable_l(self) -> Decimal:
        """What the drum may hold of waste."""
        return self.nominal_l * self.fraction_max

    @property
    def overfilled(self) -> bool:
        """Whether there is more waste than it may hold; exactly as much is allowed."""
        return self.waste_l > self.usable_l

    def fill_l(self, void_fraction: Decimal = Decimal(0)) -> Decimal:
        """Give the mortar that fills it to the brim; voids between the waste take theirs.

        Bulk waste has large voids that nobody knows beforehand: record what went in.
        """
        return self.nominal_l - self.waste_l + void_fraction * self.waste_l


def containers_needed(pieces: int, per_container: int) -> int:
    """Give how many containers so many pieces need, as syringes and safety boxes."""
    if pieces < 0 or per_container <= 0:
        raise ValueError("pieces cannot be below zero, and a container takes one at least")
    return -(-pieces // per_container)


@dataclass(frozen=True)
class Deposit:
    """Something put into a pit on a day, litres as it lies there."""

    day: date
    litres: Decimal


def filling_rate_l(deposits: list[Deposit], until: date) -> Decimal | None:
    """Give litres a day from the first deposit until a day; None with less than a day between.

    Raises:
        ValueError: a deposit is below nothing, or after that day.
    """
    for deposit in deposits:
        if deposit.litres < 0 or deposit.day > until:
            raise ValueError(f"{deposit.litres} l on {deposit.day} cannot be a deposit by {until}")
    days = (until - min(d.day for d in deposits)).days if deposits else 0
    return sum((d.litres for d in deposits), Decimal(0)) / days if days > 0 else None


@dataclass(frozen=True)
class Pit:
    """A sharps pit.

    Attributes:
        usable_l: volume below where it is closed with concrete, litres.
        filled_l: what lies in it.
    """

    usable_l: Decimal
    filled_l: Decimal = Decimal(0)

    @property
    def left_l(self) -> Decimal:
        """What still goes in; never below zero."""
        return max(Decimal(0), self.usable_l - self.filled_l)

    def days_left(self, litres_a_day: Decimal) -> int | None:
        """Give whole days until it is full at that rate; None where nothing is put in."""
        if litres_a_day < 0:
            raise ValueError("a pit is not filled by less than nothing")
        if litres_a_day == 0:
            return None
        return int((self.left_l / litres_a_day).to_integral_value(ROUND_FLOOR))

    def full_on(self, today: date, litres_a_day: Decimal) -> date | None:
        """Give the last day on which a day's sharps still go in; None where nothing is put in."""
        days = self.days_left(litres_a_day)
        return None if days is None else today + timedelta(days=min(days, (date.max - today).days))


def burial_loads(depth_m: Decimal, fraction_max: Decimal, load_m: Decimal, cover_m: Decimal) -> int:
    """Give how many loads a burial pit takes below its limit, each under its cover of soil.

    BMW Rules Schedule II: half the depth of waste and cover, 10 cm of soil after each load; then
    lime to within 50 cm of the surface, then soil.

    Raises:
        ValueError: a depth is not above zero.
    """
    for name, value in (("depth", depth_m), ("load", load_m), ("cover", cover_m)):
        _demand_positive(value, f"the {name}")
    room_m = depth_m * fraction_max
    return int((room_m / (load_m + cover_m)).to_integral_value(ROUND_FLOOR))


def bins_needed(kg: Decimal, kg_per_l: Decimal, nominal_l: Decimal, fraction: Decimal) -> int:
    """Give how many bins a weight needs, each filled to a part of its volume."""
    for name, value in (("density", kg_per_l), ("volume", nominal_l), ("fraction", fraction)):
        _demand_positive(value, f"the {name}")
    return int((kg / kg_per_l / (nominal_l * fraction)).to_integral_value(ROUND_CEILING))


def reopen_on(last_use: date, years: int) -> date:
    """Give the first day on which a pit that rests for years may be opened (Specification 575)."""
    try:
        return last_use.replace(year=last_use.year + years)
    except ValueError:  # 29 February in a year that has none
        return date(last_use.year + years, 3, 1)


def _demand_positive(value: Decimal, name: str) -> None:
    if not value > 0:
        raise ValueError(f"{name} must be above zero, not {value}")
