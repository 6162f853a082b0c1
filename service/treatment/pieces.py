"""Straight pieces between readings: for how long a trace stood where it had to, exactly.

A trace is taken as straight lines from reading to reading. Every time given here is the exact one
of those lines, however many readings lie on them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Marks = NDArray[np.bool_]


class Stay(NamedTuple):
    """An unbroken time during which all conditions held, in seconds of the trace."""

    from_s: float
    until_s: float

    @property
    def minutes(self) -> float:
        """How long it was."""
        return (self.until_s - self.from_s) / 60


@dataclass(frozen=True)
class Stays:
    """Unbroken times in their order, as two lists of their beginnings and ends, seconds."""

    from_s: Floats
    until_s: Floats

    @property
    def longest(self) -> Stay | None:
        """The longest, the first of several as long, or None where there is none."""
        if not self.from_s.size:
            return None
        number = int((self.until_s - self.from_s).argmax())
        return Stay(float(self.from_s[number]), float(self.until_s[number]))

    @property
    def total_s(self) -> float:
        """All of them together."""
        return float((self.until_s - self.from_s).sum())

    @property
    def span_s(self) -> float:
        """From the beginning of the first to the end of the last; 0 where there is none."""
        return float(self.until_s[-1] - self.from_s[0]) if self.from_s.size else 0.0

    def __iter__(self) -> Iterator[Stay]:
        """Give them one by one."""
        pairs = zip(self.from_s.tolist(), self.until_s.tolist(), strict=True)
        return (Stay(*pair) for pair in pairs)


class AtLeast(NamedTuple):
    """The condition that a line lies at or above a bound."""

    line: Floats
    bound: float


def at_most(line: Floats, bound: float) -> AtLeast:
    """Give the condition that a line lies at or below a bound."""
    return AtLeast(-line, -bound)


def above(line: Floats, bound: float) -> AtLeast:
    """Give the condition that a line lies above a bound, not at it."""
    return AtLeast(line, float(np.nextafter(bound, np.inf)))


def _part(condition: AtLeast) -> tuple[Floats, Floats]:
    """Give from where to where of each piece, 0 to 1, the condition holds; none if from > to."""
    start, end = condition.line[:-1], condition.line[1:]
    starts, ends = start >= condition.bound, end >= condition.bound
    first = np.where(starts, 0.0, 1.0)
    last = np.where(ends, 1.0, 0.0)
    crosses = np.flatnonzero(starts != ends)
    at = (condition.bound - start[crosses]) / (end[crosses] - start[crosses])
    rises = ends[crosses]
    first[crosses[rises]] = at[rises]
    last[crosses[~rises]] = at[~rises]
    return first, last


def stays(time_s: Floats, conditions: Sequence[AtLeast], counted: Marks) -> Stays:
    """Give each unbroken time in which all conditions held, over the pieces that are counted."""
    first, last = np.zeros(len(counted)), np.ones(len(counted))
    for condition in conditions:
        from_, to = _part(condition)
        np.maximum(first, from_, out=first)
        np.minimum(last, to, out=last)
    holds = counted & (first <= last)
    goes_on = holds[:-1] & holds[1:] & (last[:-1] == 1) & (first[1:] == 0)
    begins = np.flatnonzero(holds & ~np.append(False, goes_on))
    stops = np.flatnonzero(holds & ~np.append(goes_on, False))
    length = np.diff(time_s)
    return Stays(
        time_s[begins] + first[begins] * length[begins],
        time_s[stops] + last[stops] * length[stops],
    )
