"""An unusual drop: less came than the activity lets expect, by so many standard errors.

Less plastic or fewer sharps than usual can mean that waste leaves by another way. It mostly means
something else. The words here say what the figures show, and never that anybody did anything.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.statistics.rates import Period, level

PERIODS_MIN = 20
"""Periods before, fewer of which do not tell the usual scatter well. Common practice, no source."""
UNUSUAL = 3.0
"""Standard errors below, from which a drop is called unusual: the width of control limits."""
LOOK_FIRST = (
    "fewer or other patients and procedures than the activity figures say",
    "containers recorded late, or under another unit or category",
    "another supply or size of container, another scale",
    "sorting that became better or worse",
)


@dataclass(frozen=True, slots=True)
class Change:
    """What came against what was to be expected.

    Attributes:
        expected: By the rate before and the activity now.
        standard_errors: How far the difference is from nought; below nought for less; None where
            nothing varied before.
        said: The same in words.
    """

    expected: float
    seen: int
    standard_errors: float | None
    unusual_drop: bool
    said: str


def change(before: Sequence[Period], now: Sequence[Period], what: str, unit: str = "g") -> Change:
    """Compare what came now with the rate before.

    With X and x the activity before and now, s the spread before (``Level``): the standard error
    of the difference is sqrt(s x (1 + x/X)), the prediction from a rate through the origin. Both
    rows should be of whole weeks, so that weekdays weigh alike.

    Args:
        before: At least twenty periods, none of them also in ``now``.
        now: At least one.
        what: As it is said: ``sharps of theatre 2``.
        unit: Of the amounts.

    Raises:
        ValueError: Too few periods.
    """
    if len(before) < PERIODS_MIN or not now:
        raise ValueError(
            f"a change needs {PERIODS_MIN} periods before and one now, "
            f"not {len(before)} and {len(now)}"
        )
    usual, seen = level(before), level(now)
    expected = usual.rate * seen.exposure
    error = math.sqrt((usual.spread or 0.0) * seen.exposure * (1 + seen.exposure / usual.exposure))
    off = (seen.amount - expected) / error if error else None
    unusual = off is not None and off <= -UNUSUAL
    return Change(
        expected, seen.amount, off, unusual, _said(what, unit, expected, seen.amount, off)
    )


def _said(what: str, unit: str, expected: float, seen: int, off: float | None) -> str:
    figures = f"{what}: {seen} {unit} came where {expected:.0f} {unit} were to be expected"
    if off is None:
        return f"{figures}. Nothing varied before, so no standard error can be given."
    side = "below" if off < 0 else "above"
    counted = f"{figures}: {abs(off):.1f} standard errors {side}."
    if off > -UNUSUAL:
        return f"{counted} That is within what comes and goes, or no drop."
    return (
        f"{counted} An unusual drop. It says that the figures changed, not why, and nothing about "
        f"any person. Look first for: {'; '.join(LOOK_FIRST)}. If none of these explains it, check "
        "the path of the containers from the unit on."
    )
