"""Tails of the Poisson, binomial and Student distributions, and the points that cut them off.

Both incomplete functions are written out here so that the service needs no numerical library for
a handful of intervals; the tests hold them against one.
"""

import math
from collections.abc import Callable
from functools import lru_cache

_TINY = 1e-300
_SMALL = 1e-15
_TERMS_MAX = 100_000


def poisson_at_least(count: int, mean: float) -> float:
    """Give the chance of ``count`` or more when ``mean`` are expected.

    It is the regularised lower incomplete gamma function P(count, mean) (NIST Digital Library of
    Mathematical Functions, 8.4.10 and 8.11.1).
    """
    return 1.0 if count <= 0 else _gamma_lower(count, mean)


def binomial_at_least(count: int, of: int, share: float) -> float:
    """Give the chance of ``count`` or more out of ``of`` when each is one with chance ``share``.

    It is the regularised incomplete beta function I_share(count, of - count + 1) (DLMF 8.17.5).
    """
    if count <= 0:
        return 1.0
    return 0.0 if count > of else _beta(share, count, of - count + 1)


def student_beyond(t: float, freedom: int) -> float:
    """Give the chance that Student's t is ``t`` or more, for ``t`` not below 0 (DLMF 8.17.1)."""
    return _beta(freedom / (freedom + t * t), freedom / 2, 0.5) / 2


@lru_cache(256)
def student_point(tail: float, freedom: int) -> float:
    """Give the t that is exceeded with chance ``tail``, for a tail under one half."""
    high = 2.0
    while student_beyond(high, freedom) > tail:
        high *= 2
    return where(lambda t: tail - student_beyond(t, freedom), 0.0, high)


def where(rising: Callable[[float], float], low: float, high: float) -> float:
    """Halve [low, high] until it holds the root of a function that rises, to the last digit."""
    while low < (middle := (low + high) / 2) < high:
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
    return high


def _gamma_lower(a: float, x: float) -> float:
    if x <= 0:
        return 0.0
    scale = math.exp(a * math.log(x) - x - math.lgamma(a))
    if x < a + 1:  # the series DLMF 8.7.1
        term = total = 1 / a
        for n in range(1, _TERMS_MAX):
            term *= x / (a + n)
            total += term
            if term < total * _SMALL:
                return scale * total
        raise _unsettled()
    odd = x + 1 - a  # else the continued fraction DLMF 8.9.2, from above
    return 1.0 - scale * _fraction(lambda n: (n * (a - n), odd + 2 * n), odd)


def _beta(x: float, a: float, b: float) -> float:
    if x <= 0 or x >= 1:
        return 0.0 if x <= 0 else 1.0
    if x > (a + 1) / (a + b + 2):  # DLMF 8.17.4, so that the fraction settles fast
        return 1.0 - _beta(1 - x, b, a)
    log_beta = math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)
    scale = math.exp(a * math.log(x) + b * math.log1p(-x) - log_beta) / a

    def step(n: int) -> tuple[float, float]:  # DLMF 8.17.23
        m = n // 2
        if n % 2:
            return -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)), 1.0
        return m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)), 1.0

    return scale * _fraction(step, 1.0)


def _fraction(step: Callable[[int], tuple[float, float]], first: float) -> float:
    """Give 1/(first + p1/(q1 + p2/(q2 + …))), by the modified Lentz method (DLMF 3.10(iii))."""
    d = 1 / (first or _TINY)
    c, value = 1 / _TINY, d
    for n in range(1, _TERMS_MAX):
        p, q = step(n)
        d = 1 / ((q + p * d) or _TINY)
        c = (q + p / c) or _TINY
        value *= c * d
        if abs(c * d - 1) < _SMALL:
            return value
    raise _unsettled()


def _unsettled() -> ArithmeticError:
    return ArithmeticError("counts too large for an exact interval")
