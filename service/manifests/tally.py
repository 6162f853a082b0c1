"""Sums of containers and grams: whole grams, and those without a weight counted, never guessed."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Generic, Self, TypeVar


@dataclass(frozen=True, slots=True)
class Amount:
    """So many containers and the grams of those weighed; ``unweighed`` have no weight."""

    containers: int = 0
    grams: int = 0
    unweighed: int = 0

    def __add__(self, other: Self) -> Self:
        return type(self)(
            self.containers + other.containers,
            self.grams + other.grams,
            self.unweighed + other.unweighed,
        )


@dataclass(frozen=True, slots=True)
class Period:
    """The part of a quarter that has passed, and the moment up to which things are known.

    Attributes:
        start: First instant of the quarter.
        until: First instant after its passed part: the quarter's end, or just after ``now``.
        now: The moment of the reckoning.
    """

    start: datetime
    until: datetime
    now: datetime

    def holds(self, at: datetime | None) -> bool:
        """Say whether the instant lies in the passed part of the quarter."""
        return at is not None and self.start <= at < self.until


KeyT = TypeVar("KeyT", bound=Any)


class Sums(Generic[KeyT]):
    """Containers and their grams added up one by one, each under a key."""

    def __init__(self) -> None:
        self._sums: dict[KeyT, list[int]] = {}

    def add(self, key: KeyT, grams: int | None) -> None:
        """Count a container; None grams are those of one that was never weighed."""
        found = self._sums.setdefault(key, [0, 0, 0])
        found[0] += 1
        if grams is None:
            found[2] += 1
        else:
            found[1] += grams

    def of(self, key: KeyT) -> Amount:
        """Give what came together under a key."""
        return Amount(*self._sums.get(key, (0, 0, 0)))

    def by_key(self) -> dict[KeyT, Amount]:
        """Give all sums in the order of their keys; of equal keys the one that came first."""
        return {key: Amount(*self._sums[key]) for key in sorted(self._sums)}
