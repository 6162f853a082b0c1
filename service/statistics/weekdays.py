"""Figures freed of the weekday: theatres do not run on Sundays, and that is no signal."""

from collections.abc import Sequence
from datetime import date
from math import fsum

WEEKS_MIN = 3


def without_weekdays(
    days: Sequence[tuple[date, float]], basis: Sequence[int] | None = None
) -> list[float]:
    """Take from each day's figure what its weekday usually adds or leaves out.

    A weekday's part is its mean in the basis less the mean of all weekdays' means. What is left
    can be charted as individuals or EWMA. Common practice, no source.

    Raises:
        ValueError: A weekday of the row is in the basis fewer than three times.
    """
    by_weekday: dict[int, list[float]] = {day.weekday(): [] for day, _ in days}
    for i in range(len(days)) if basis is None else basis:
        day, value = days[i]
        by_weekday[day.weekday()].append(value)
    few = min((len(values) for values in by_weekday.values()), default=0)
    if few < WEEKS_MIN:
        raise ValueError(f"the usual of a weekday needs {WEEKS_MIN} of it, not {few}")
    means = {weekday: fsum(values) / len(values) for weekday, values in by_weekday.items()}
    middle = fsum(means.values()) / len(means)
    return [value - means[day.weekday()] + middle for day, value in days]
