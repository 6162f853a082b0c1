"""Balances: what came in against what went out, with the error of the scales and a known loss.

Limits of error are those that ``service.custody.balance`` gives for each weighing.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

COVERAGE = Decimal(2)
"""Factor k of the expanded uncertainty, about 95 % (JCGM 100:2008, 6.2 and 6.3, from memory)."""


@dataclass(frozen=True, slots=True)
class Weight:
    """One weighing; the true weight lies within ``error_g`` of ``weight_g``."""

    weight_g: int
    error_g: Decimal
    scale: str


@dataclass(frozen=True, slots=True)
class Total:
    """Weighings together; ``uncertainty_g`` is on either side."""

    weight_g: int
    uncertainty_g: Decimal
    weighings: int


def total(weights: Iterable[Weight]) -> Total:
    """Add weighings."""
    row = list(weights)
    return Total(sum(w.weight_g for w in row), _uncertainty_g(row), len(row))


def _uncertainty_g(weights: Iterable[Weight]) -> Decimal:
    """Give the uncertainty of any sum or difference of them.

    One scale errs alike each time, so its errors add up (JCGM 100:2008, 5.2.2, note 1). Between
    scales they are independent and, each within its limit, rectangular: u = a/sqrt 3 (4.3.7),
    combined by the root of the sum of squares (5.1.2), times k. That can exceed the sum of all
    limits, which nothing real can: so never more than that sum. Clauses from memory.
    """
    by_scale: dict[str, Decimal] = defaultdict(Decimal)
    for w in weights:
        by_scale[w.scale] += w.error_g
    squares = sum((a * a / 3 for a in by_scale.values()), Decimal())
    return min(COVERAGE * squares.sqrt(), sum(by_scale.values(), Decimal()))


@dataclass(frozen=True, slots=True)
class ExpectedLoss:
    """What a process takes away: a share of the weight that went in, as a range.

    Drying, leaking and burning differ by plant: the range is the site's, with where it is from.
    """

    process: str
    share_min: Decimal
    share_max: Decimal
    source: str

    def __post_init__(self) -> None:
        if not -1 <= self.share_min <= self.share_max <= 1:
            raise ValueError(f"{self.process}: a loss from {self.share_min} to {self.share_max}")


NO_LOSS = ExpectedLoss("none", Decimal(), Decimal(), "")


@dataclass(frozen=True, slots=True)
class Balance:
    """What went in less what came out, and how much of it is explained.

    Attributes:
        missing_g: In less out; below nought where more came out than went in.
        loss_min_g, loss_max_g: What the process takes.
        uncertainty_g: Of the difference, by the scales.
        unexplained_g: What neither loss nor scales explain; nought where they do; below nought
            where there is too much.
    """

    went_in: Total
    came_out: Total
    missing_g: int
    loss_min_g: Decimal
    loss_max_g: Decimal
    uncertainty_g: Decimal
    unexplained_g: Decimal


def balance(
    went_in: Sequence[Weight], came_out: Sequence[Weight], loss: ExpectedLoss = NO_LOSS
) -> Balance:
    """Balance a container, consignment, machine or quarter: what went in against what came out.

    A scale on both sides is not taken to cancel: the loads differ, and so may its error.
    """
    before, after = total(went_in), total(came_out)
    missing_g = before.weight_g - after.weight_g
    uncertainty_g = _uncertainty_g([*went_in, *came_out])
    least_g, most_g = before.weight_g * loss.share_min, before.weight_g * loss.share_max
    low, high = least_g - uncertainty_g, most_g + uncertainty_g
    unexplained_g = max(missing_g - high, Decimal()) + min(missing_g - low, Decimal())
    return Balance(before, after, missing_g, least_g, most_g, uncertainty_g, unexplained_g)


@dataclass(frozen=True, slots=True)
class Stage:
    """A count of the same things at one place of their way, as needles registered, cut, buried."""

    place: str
    count: int


@dataclass(frozen=True, slots=True)
class Step:
    """From one stage to the next; ``fewer`` is below nought where there are more than before."""

    from_place: str
    to_place: str
    fewer: int


def steps(stages: Sequence[Stage]) -> tuple[Step, ...]:
    """Follow a count along its way: a count is exact, so any difference is to be explained."""
    return tuple(Step(a.place, b.place, a.count - b.count) for a, b in pairwise(stages))
