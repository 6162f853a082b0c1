"""Confidence intervals for counts and shares: what the true rate may be, given what was seen."""

from dataclasses import dataclass
from statistics import NormalDist

from service.statistics.tails import binomial_at_least, poisson_at_least, where

USUAL = 0.95


@dataclass(frozen=True, slots=True)
class Interval:
    """The values that do not sit ill with what was seen.

    Attributes:
        confidence: How often intervals made in this way hold the true value, at least (exact) or
            about (Wilson).
        method: Name and source of the method.
    """

    low: float
    high: float
    confidence: float
    method: str


def poisson_exact(count: int, confidence: float = USUAL) -> Interval:
    """Give the exact interval for the mean of a count that came out as ``count``.

    Garwood, Fiducial limits for the Poisson distribution, Biometrika 28 (1936): each end is the
    mean under which the count, or one further out, has half of what is left to chance.

    Raises:
        ValueError: The count is negative, or the confidence not between 0 and 1.
    """
    tail = _tail(confidence)
    if count < 0:
        raise ValueError(f"a count cannot be negative: {count}")
    far = 2.0 * count + 20
    while 1 - poisson_at_least(count + 1, far) > tail:
        far *= 2
    low = where(lambda m: poisson_at_least(count, m) - tail, 0.0, far) if count else 0.0
    high = where(lambda m: poisson_at_least(count + 1, m) - (1 - tail), 0.0, far)
    return Interval(low, high, confidence, "exact Poisson (Garwood 1936)")


def binomial_exact(count: int, of: int, confidence: float = USUAL) -> Interval:
    """Give the exact interval for a share of which ``count`` in ``of`` were seen.

    Clopper and Pearson, The use of confidence or fiducial limits illustrated in the case of the
    binomial, Biometrika 26 (1934). It never covers less than it says, and so is wide for few.

    Raises:
        ValueError: As for ``wilson``.
    """
    tail = _tail(confidence)
    _check_share(count, of)
    low = where(lambda p: binomial_at_least(count, of, p) - tail, 0.0, 1.0) if count else 0.0
    high = (
        where(lambda p: binomial_at_least(count + 1, of, p) - (1 - tail), 0.0, 1.0)
        if count < of
        else 1.0
    )
    return Interval(low, high, confidence, "exact binomial (Clopper and Pearson 1934)")


def wilson(count: int, of: int, confidence: float = USUAL) -> Interval:
    """Give the score interval for a share of which ``count`` in ``of`` were seen.

    Wilson, Probable inference, the law of succession, and statistical inference, Journal of the
    American Statistical Association 22 (1927). Covers what it says on the average, not always.

    Raises:
        ValueError: Nothing was looked at, more were counted than looked at, or the confidence is
            not between 0 and 1.
    """
    z = NormalDist().inv_cdf(1 - _tail(confidence))
    _check_share(count, of)
    share, shrink = count / of, 1 + z * z / of
    middle = (share + z * z / (2 * of)) / shrink
    half = z * (share * (1 - share) / of + z * z / (4 * of * of)) ** 0.5 / shrink
    low = 0.0 if count == 0 else middle - half
    high = 1.0 if count == of else middle + half
    return Interval(low, high, confidence, "score (Wilson 1927)")


def _tail(confidence: float) -> float:
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence lies between 0 and 1: {confidence}")
    return (1 - confidence) / 2


def _check_share(count: int, of: int) -> None:
    if not 0 <= count <= of or of == 0:
        raise ValueError(f"{count} out of {of} is no share")
