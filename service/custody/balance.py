"""Weights against scale error: what a scale may err by, and whether two weighings disagree.

Limits of error are those of OIML R 76-1 (2006), table 6, for initial verification; an instrument
in service may err by a factor more, which the regime's weight rows give.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from service.custody.events import DoubleBagged, Received, Registered, Treated, Weighed
from service.custody.history import Happened, History
from service.custody.site import Scale, Site

_STEPS_E: dict[str, tuple[int, int]] = {
    "I": (50_000, 200_000),
    "II": (5_000, 20_000),
    "III": (500, 2_000),
    "IIII": (50, 200),
}
"""Loads, in verification intervals, up to which 0.5 e and 1 e hold; beyond, 1.5 e."""
_HALF, _MOST = Decimal("0.5"), Decimal("1.5")


def permissible_error_g(load_g: int, scale: Scale) -> Decimal:
    """Give the maximum permissible error at verification for a load, in grams (OIML R 76-1 T6)."""
    half, whole = _STEPS_E[scale.accuracy_class]
    interval_g = scale.interval_g
    factor = _HALF if load_g <= half * interval_g else 1 if load_g <= whole * interval_g else _MOST
    return factor * interval_g


@dataclass(frozen=True, slots=True)
class Weighing:
    """A weight of the container itself, with the outer bags put on since the one before."""

    happened: Happened
    weight_g: int
    scale: str | None
    tare_g: int = 0


@dataclass(frozen=True, slots=True)
class Difference:
    """What two weighings one after the other differ by.

    Attributes:
        difference_g: Later less earlier, the earlier with the tare put on in between.
        tolerance_g: The sum of both scales' permissible errors in service.
    """

    difference_g: int
    tolerance_g: Decimal

    @property
    def disagree(self) -> bool:
        """Whether scale error alone cannot explain the difference."""
        return abs(self.difference_g) > self.tolerance_g


@dataclass(frozen=True, slots=True)
class Comparison(Difference):
    """Two weighings one after the other."""

    earlier: Weighing
    later: Weighing


def weighings(history: History) -> Iterator[Weighing]:
    """Give the container's weighings before any treatment, in order."""
    tare_g = 0
    for h in history.happened:
        event = h.event
        if isinstance(event, Treated):
            return
        if isinstance(event, DoubleBagged):
            tare_g += event.tare_g
        elif isinstance(event, (Registered, Weighed, Received)) and event.weight_g and h.direct:
            yield Weighing(h, event.weight_g, event.scale, tare_g)
            tare_g = 0


def comparisons(history: History, site: Site, in_service_factor: Decimal) -> list[Comparison]:
    """Compare each weighing with the one before it; a site without scales says nothing of error."""
    row = list(weighings(history)) if site.scale else []
    return [
        Comparison(
            later.weight_g - earlier.weight_g - later.tare_g,
            in_service_factor * (_error_g(earlier, site) + _error_g(later, site)),
            earlier,
            later,
        )
        for earlier, later in pairwise(row)
    ]


def _error_g(weighing: Weighing, site: Site) -> Decimal:
    """A weighing on a scale that is not named is taken as by the coarsest of the site."""
    scale = site.scales.get(weighing.scale or "")
    if scale is not None:
        return permissible_error_g(weighing.weight_g, scale)
    return max(permissible_error_g(weighing.weight_g, s) for s in site.scale)
