"""What the simulation has in hand: the pen, the containers on the wards and in the store, carts."""

from collections import deque
from dataclasses import dataclass, field
from random import Random

from scenario.activity import HOUR_S
from scenario.bags import Bag
from scenario.writing import Hand, Pen
from service.custody.identifiers import new_id
from service.custody.site import Site

OFFICE = Hand("waste-office-1", "label-printer", "handlers")
"""Who prints the labels."""


@dataclass(slots=True)
class Cart:
    """A closed transport cart with its own label."""

    id: str
    run: str = ""
    bags: list[Bag] = field(default_factory=list)
    ready_s: int = 0


@dataclass(slots=True)
class World:
    """The state of the simulation."""

    rng: Random
    pen: Pen
    site: Site
    last_s: int
    overhauls: frozenset[int] = frozenset()
    """Days on which the incinerator stands still."""
    bags: list[Bag] = field(default_factory=list)
    on_wards: dict[str, list[Bag]] = field(default_factory=dict)
    in_store: list[Cart] = field(default_factory=list)
    loose: list[Bag] = field(default_factory=list)
    feed_s: dict[str, int] = field(default_factory=dict)
    """From when each plant's incinerator takes the next container."""
    machine_s: dict[str, int] = field(default_factory=dict)
    """When each autoclave ended its last cycle."""
    loads: int = 0
    traces: dict[str, bytes] = field(default_factory=dict)
    cycle_faults: list[tuple[str, Bag, int, str]] = field(default_factory=list)
    """Code, container, when and what happened, of each fault of a cycle."""
    _carts: deque[tuple[int, str]] = field(default_factory=deque)
    _numbers: dict[str, int] = field(default_factory=dict)

    def new_id(self) -> str:
        """Draw a container id."""
        return new_id(lambda below: int(self.rng.random() * below))

    def take_cart(self, at_s: int, run: str = "") -> Cart:
        """Take an empty cart, a new one when all are out."""
        if self._carts and self._carts[0][0] <= at_s:
            return Cart(self._carts.popleft()[1], run)
        cart = Cart(self.new_id(), run)
        made_s = max(60, at_s - HOUR_S)
        self.pen.write("labelled", made_s, OFFICE, [cart.id], count=1, layout="cart-plate")
        return cart

    def give_back(self, cart: Cart, at_s: int) -> None:
        """Have the empty cart back in the yard at that time."""
        self._carts.append((at_s, cart.id))

    def number(self, series: str) -> str:
        """Give the next number of a series of consignments, seals, cycles or receipts."""
        self._numbers[series] = self._numbers.get(series, 0) + 1
        return f"{series}-{self._numbers[series]:05d}"

    def reading_g(self, true_g: int, scale: str) -> int:
        """Read a scale: rounded to its interval, off by less than its error in service."""
        e = int(self.site.scales[scale].interval_g)
        return max(e, round(true_g / e + self.rng.uniform(-0.35, 0.35)) * e)
