"""Machine loads, hours, bins and floor that a weight of waste needs: whole numbers, exactly.

Bulk density and fill differ by waste and machine: both are measured at the site. Everything is
reckoned in grams, litres and fractions, for a rounding error would make a load too many.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil

Exact = int | Decimal | Fraction


@dataclass(frozen=True, slots=True)
class Chamber:
    """A machine or bin that holds ``volume_l``, of which ``fill`` may be used.

    Attributes:
        fill: Over 0, at most 1; three quarters is ``Fraction(3, 4)``.
        density_g_per_l: Bulk density of the waste as loaded.
    """

    volume_l: Exact
    fill: Exact
    density_g_per_l: Exact

    def __post_init__(self) -> None:
        if self.volume_l <= 0 or not 0 < self.fill <= 1 or self.density_g_per_l <= 0:
            raise ValueError("a chamber needs a volume, a fill up to 1 and a density over nought")

    @property
    def holds_g(self) -> Fraction:
        """What one filling weighs."""
        return Fraction(self.volume_l) * Fraction(self.fill) * Fraction(self.density_g_per_l)

    def fillings(self, weight_g: int) -> int:
        """Give how many fillings a weight takes."""
        if weight_g < 0:
            raise ValueError(f"{weight_g} g is no weight")
        return ceil(weight_g / self.holds_g)


def machine_minutes(fillings: int, cycle_min: int, between_min: int, machines: int = 1) -> int:
    """Give the minutes from the first load's start until all are done.

    Args:
        fillings: Loads to run.
        cycle_min: Length of a cycle.
        between_min: Unloading and loading, after each.
        machines: Alike, running side by side.
    """
    if machines < 1 or fillings < 0:
        raise ValueError("loads need a machine")
    return -(-fillings // machines) * (cycle_min + between_min)


def store_litres(weight_g_per_day: int, held_days: Exact, stacked: Chamber) -> Fraction:
    """Give the volume a store needs for what comes in ``held_days``, as ``stacked`` would hold it.

    The volume of ``stacked`` itself does not matter, its fill and density do.
    """
    per_l = Fraction(stacked.fill) * Fraction(stacked.density_g_per_l)
    return weight_g_per_day * Fraction(held_days) / per_l
