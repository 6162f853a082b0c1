"""Control charts: a row of figures with the centre and limits that its own past gives.

Formulas as in the NIST/SEMATECH e-Handbook of Statistical Methods (2012), sections 6.3.2.2,
6.3.2.4, 6.3.3.1 and 6.3.3.2 (doi:10.18434/M32189).
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import TypeVar

D2 = 1.128
"""Mean range of two in standard deviations, to the three places of the published tables."""
D4 = 3.267
"""Upper limit of the range of two in mean ranges, as published tables have it."""
WIDTH = 3.0
"""Limits lie this many standard deviations from the centre."""


class Kind(StrEnum):
    """What is drawn."""

    INDIVIDUALS = "individuals"
    MOVING_RANGE = "moving_range"
    EWMA = "ewma"
    U = "u"
    P = "p"

    @property
    def independent(self) -> bool:
        """Whether each point stands for itself, so that runs of points say something."""
        return self in (Kind.INDIVIDUALS, Kind.U, Kind.P)


@dataclass(frozen=True, slots=True)
class Reading:
    """One figure, with the day, week or number it stands for."""

    label: str
    value: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise ValueError(f"{self.label}: {self.value} is no figure")


@dataclass(frozen=True, slots=True)
class Counted:
    """How many of something, in how much: items wrong in items seen, containers in bed-days."""

    label: str
    count: int
    exposure: float

    def __post_init__(self) -> None:
        if self.count < 0 or not 0 < self.exposure < math.inf:
            raise ValueError(f"{self.label}: {self.count} in {self.exposure} gives no rate")


@dataclass(frozen=True, slots=True)
class Point:
    """A figure on a chart.

    Attributes:
        sigma: The standard deviation to be expected of this point when nothing changes.
        lower, upper: The limits, never outside what the figure can be.
    """

    label: str
    value: float
    centre: float
    sigma: float
    lower: float
    upper: float

    @property
    def standardised(self) -> float:
        """How many standard deviations from the centre; comparable between unequal exposures."""
        return (self.value - self.centre) / self.sigma if self.sigma else 0.0


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart; ``measure`` says what the figures are, as ``kg per occupied bed-day``."""

    kind: Kind
    measure: str
    points: tuple[Point, ...]


Basis = Collection[int] | None
"""Which points, by index, give centre and limits; None is all of them."""

_Row = TypeVar("_Row")


def individuals(readings: Sequence[Reading], measure: str, basis: Basis = None) -> Chart:
    """Draw each figure for itself, limits from the mean moving range: 3 MR / 1.128 (6.3.2.2).

    Raises:
        ValueError: Fewer than two readings to give limits.
    """
    centre, sigma = _from_moving_range(_chosen(readings, basis))
    return Chart(
        Kind.INDIVIDUALS,
        measure,
        tuple(_point(r.label, r.value, centre, sigma, low=-math.inf) for r in readings),
    )


def moving_range(readings: Sequence[Reading], measure: str, basis: Basis = None) -> Chart:
    """Draw the steps between neighbours: has the scatter itself changed (6.3.2.2)?

    Raises:
        ValueError: Fewer than two readings to give limits.
    """
    _, sigma = _from_moving_range(_chosen(readings, basis))
    centre = sigma * D2
    upper = D4 * centre
    return Chart(
        Kind.MOVING_RANGE,
        measure,
        tuple(
            Point(b.label, abs(b.value - a.value), centre, (upper - centre) / WIDTH, 0.0, upper)
            for a, b in pairwise(readings)
        ),
    )


def ewma(
    readings: Sequence[Reading],
    measure: str,
    *,
    weight: float = 0.3,
    centre: float | None = None,
    sigma: float | None = None,
    basis: Basis = None,
) -> Chart:
    """Draw the mean that forgets (EWMA): slow drifts show early (6.3.2.4).

    The handbook draws the limits that are reached after some points; here each point has its own,
    narrower at first: sigma^2 w/(2-w) (1 - (1-w)^2i) (Lucas and Saccucci, Technometrics 32, 1990).

    Args:
        readings: In the order of time.
        measure: What they are.
        weight: Of the newest reading, over 0, at most 1.
        centre, sigma: Of the readings when nothing changes; else from the basis, as for
            individuals.
        basis: See there.

    Raises:
        ValueError: No such weight, or fewer than two readings to give what is not given.
    """
    if not 0 < weight <= 1:
        raise ValueError(f"the weight of the newest reading lies over 0 and up to 1: {weight}")
    if centre is None or sigma is None:
        own_centre, own_sigma = _from_moving_range(_chosen(readings, basis))
        centre = own_centre if centre is None else centre
        sigma = own_sigma if sigma is None else sigma
    points, mean = [], centre
    for i, reading in enumerate(readings, 1):
        mean = weight * reading.value + (1 - weight) * mean
        narrowed = weight / (2 - weight) * (1 - (1 - weight) ** (2 * i))
        points.append(
            _point(reading.label, mean, centre, sigma * math.sqrt(narrowed), low=-math.inf)
        )
    return Chart(Kind.EWMA, measure, tuple(points))


def u_chart(counted: Sequence[Counted], measure: str, basis: Basis = None) -> Chart:
    """Draw counts per exposure, Poisson limits that widen where the exposure is small (6.3.3.1).

    For counts only: grams are no counts, and would be given limits of the wrong width.

    Raises:
        ValueError: Nothing to give limits.
    """
    chosen = _chosen(counted, basis)
    centre = sum(c.count for c in chosen) / sum(c.exposure for c in chosen)
    return Chart(
        Kind.U,
        measure,
        tuple(
            _point(c.label, c.count / c.exposure, centre, math.sqrt(centre / c.exposure))
            for c in counted
        ),
    )


def p_chart(counted: Sequence[Counted], measure: str, basis: Basis = None) -> Chart:
    """Draw shares, binomial limits that widen where few were looked at (6.3.3.2).

    Raises:
        ValueError: Nothing to give limits, or more counted than looked at.
    """
    for c in counted:
        if c.count > c.exposure:
            raise ValueError(f"{c.label}: {c.count} of {c.exposure} is no share")
    chosen = _chosen(counted, basis)
    centre = sum(c.count for c in chosen) / sum(c.exposure for c in chosen)
    return Chart(
        Kind.P,
        measure,
        tuple(
            _point(
                c.label,
                c.count / c.exposure,
                centre,
                math.sqrt(centre * (1 - centre) / c.exposure),
                high=1.0,
            )
            for c in counted
        ),
    )


def _chosen(row: Sequence[_Row], basis: Basis) -> list[_Row]:
    chosen = list(row) if basis is None else [row[i] for i in sorted(basis)]
    if not chosen:
        raise ValueError("no figures to draw limits from")
    return chosen


def _from_moving_range(readings: Sequence[Reading]) -> tuple[float, float]:
    if len(readings) < 2:
        raise ValueError("limits need at least two figures")
    ranges = [abs(b.value - a.value) for a, b in pairwise(readings)]
    return math.fsum(r.value for r in readings) / len(readings), math.fsum(ranges) / len(
        ranges
    ) / D2


def _point(
    label: str,
    value: float,
    centre: float,
    sigma: float,
    low: float = 0.0,
    high: float = math.inf,
) -> Point:
    lower, upper = max(low, centre - WIDTH * sigma), min(high, centre + WIDTH * sigma)
    return Point(label, value, centre, sigma, lower, upper)
