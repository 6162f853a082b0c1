"""Sums of containers and grams: whole grams, and those without a weight counted, never guessed."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol, Self, TypeVar


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


class Weighable(Protocol):
    """What counts as one container and may have a weight."""

    @property
    def grams(self) -> int | None:
        """Weight in grams, or None where it was never weighed."""


ItemT = TypeVar("ItemT", bound=Weighable)
KeyT = TypeVar("KeyT")


def amount(items: Iterable[Weighable]) -> Amount:
    """Add up containers and their grams."""
    containers = grams = unweighed = 0
    for item in items:
        containers += 1
        if item.grams is None:
            unweighed += 1
        else:
            grams += item.grams
    return Amount(containers, grams, unweighed)


def amounts(items: Iterable[ItemT], key: Callable[[ItemT], KeyT]) -> dict[KeyT, Amount]:
    """Add up by key, keys in the order in which they first come."""
    groups: dict[KeyT, list[ItemT]] = {}
    for item in items:
        groups.setdefault(key(item), []).append(item)
    return {k: amount(group) for k, group in groups.items()}
