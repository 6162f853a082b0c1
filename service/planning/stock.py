"""What waits and what will come: containers with due times, stores, and each unit's usual rate."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from service.planning.free_time import Blocked


@dataclass(frozen=True, slots=True)
class Waiting:
    """A container in a store, or one to come.

    Attributes:
        ready_at: From when it stands in the store.
        due_at: The last allowed instant as untreated waste; None where no limit runs.
        expected: Whether it is reckoned from a unit's usual rate.
    """

    container: str
    store: str
    weight_g: int
    ready_at: datetime
    due_at: datetime | None
    expected: bool = False

    def __post_init__(self) -> None:
        if self.ready_at.tzinfo is None or (self.due_at and self.due_at.tzinfo is None):
            raise ValueError(f"{self.container}: times need their offset")
        if self.weight_g < 0:
            raise ValueError(f"{self.container}: {self.weight_g} g is no weight")


@dataclass(frozen=True, slots=True)
class StoreRoom:
    """A store; ``capacity_g`` None is: not told, never full."""

    id: str
    capacity_g: int | None = None

    def __post_init__(self) -> None:
        if self.capacity_g is not None and self.capacity_g < 0:
            raise ValueError(f"{self.id}: a store cannot hold {self.capacity_g} g")


@dataclass(frozen=True, slots=True)
class Usual:
    """What a unit usually makes of a category, and where it goes.

    Attributes:
        container_g: The weight at which a container is usually sealed.
        held_h: The holding limit from sealing; None where the text has none.
        carried_h: From sealing to the store.
    """

    unit: str
    category: str
    store: str
    weight_g_per_day: int
    container_g: int
    held_h: float | None
    carried_h: float = 0.0

    def __post_init__(self) -> None:
        if self.weight_g_per_day < 0 or self.container_g <= 0:
            raise ValueError(f"{self.unit}, {self.category}: a rate and a weight of no container")
        if self.carried_h < 0 or (self.held_h is not None and self.held_h < 0):
            raise ValueError(f"{self.unit}, {self.category}: hours below nought")


@dataclass(frozen=True, slots=True)
class Situation:
    """All that a plan is made from.

    Attributes:
        from_at, until_at: The horizon; ``from_at`` is now.
        waiting: What stands in the stores now and what will come.
        vehicles: The fleet; a pick-up needs one that is free.
        load_g: What a vehicle can take; None where it takes whatever waits.
        onward_h: From pick-up to the treatment that ends the holding time, with any margin.
    """

    from_at: datetime
    until_at: datetime
    waiting: tuple[Waiting, ...]
    stores: tuple[StoreRoom, ...]
    vehicles: tuple[str, ...] = ("vehicle",)
    load_g: int | None = None
    onward_h: float = 0.0
    blocked: tuple[Blocked, ...] = ()

    def __post_init__(self) -> None:
        if self.from_at.tzinfo is None or self.until_at.tzinfo is None:
            raise ValueError("a plan needs times with their offset")
        if self.until_at <= self.from_at:
            raise ValueError("a plan ends before it begins")
        if not self.vehicles:
            raise ValueError("a plan needs a vehicle")
        if self.onward_h < 0 or (self.load_g is not None and self.load_g <= 0):
            raise ValueError("a way below nought hours, or a vehicle that takes nothing")
        strangers = {w.store for w in self.waiting} - {s.id for s in self.stores}
        if strangers:
            raise ValueError(f"no store is called {', '.join(sorted(strangers))}")
        names = [w.container for w in self.waiting]
        if len(set(names)) < len(names):
            twice = next(n for n in names if names.count(n) > 1)
            raise ValueError(f"a container waits twice: {twice}")


def expected(usual: Iterable[Usual], from_at: datetime, until_at: datetime) -> tuple[Waiting, ...]:
    """Give the containers that the usual rates will bring, evenly over the time.

    The first of a unit comes after one whole interval: what is filling now is not known.
    """
    return tuple(w for u in usual for w in _of_unit(u, from_at, until_at))


def _of_unit(usual: Usual, from_at: datetime, until_at: datetime) -> Iterator[Waiting]:
    if not usual.weight_g_per_day:
        return
    number = 0
    while True:
        number += 1
        days = Fraction(number * usual.container_g, usual.weight_g_per_day)
        sealed_at = from_at + timedelta(microseconds=round(days * 86_400 * 10**6))
        ready_at = sealed_at + timedelta(hours=usual.carried_h)
        if ready_at > until_at:
            return
        yield Waiting(
            f"expected {usual.unit} {usual.category} {number}",
            usual.store,
            usual.container_g,
            ready_at,
            None if usual.held_h is None else sealed_at + timedelta(hours=usual.held_h),
            expected=True,
        )
