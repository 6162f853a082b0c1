"""Who holds a container, followed from hand-over to hand-over, and where the chain is broken."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from service.custody.events import (
    Collected,
    Dispatched,
    Disposed,
    Received,
    Refused,
    Registered,
    Stored,
    Treated,
)
from service.custody.history import Happened
from service.custody.site import Site

HAND_OVERS = (Collected, Stored, Dispatched, Received, Refused, Treated, Disposed)
"""The kinds that tell who holds a container."""


@dataclass(slots=True)
class Custody:
    """A container's custody after all that happened.

    Attributes:
        holder: The party that holds it.
        since: The event by which it came to hold it.
        broken: The events at which the chain is broken, each with a sentence that says how.
    """

    holder: str
    since: Happened
    broken: list[tuple[Happened, str]] = field(default_factory=list)
    _carrier: str = ""
    _on_the_road: bool = False

    def follow(self, h: Happened, site: Site) -> None:
        """Take the next hand-over; custody follows it even where the chain is broken."""
        sentence = self._take(h, site)
        if sentence:
            self.broken.append((h, sentence))

    def _take(self, h: Happened, site: Site) -> str:
        event, holder = h.event, self.holder
        match event:
            case Collected():
                self._to(event.to_party, h)
                return _differs(event.from_party, holder, "collected from")
            case Stored():
                store = site.stores.get(event.store)
                keeper = store.party if store else holder
                self._to(keeper, h)
                return _differs(keeper, holder, f"stored in {event.store} by")
            case Dispatched():
                self._to(event.carrier, h)
                self._on_the_road, self._carrier = True, event.carrier
                never = f"left with {event.carrier} but was never collected"
                return never if holder in site.units else ""
            case Received():
                on_the_road, self._on_the_road = self._on_the_road, False
                self._to(event.party, h)
                return "" if on_the_road else f"received by {event.party} but never dispatched"
            case Refused():
                self._on_the_road = bool(self._carrier)
                self._to(self._carrier or holder, h)
                return ""
            case Treated() | Disposed():
                self._to(event.party, h)
                did = "treated" if isinstance(event, Treated) else "disposed of"
                return _differs(event.party, holder, f"{did} by")
            case _:
                return ""

    def _to(self, party: str, h: Happened) -> None:
        if party != self.holder:
            self.holder, self.since = party, h


def _differs(party: str, holder: str, did: str) -> str:
    if party == holder:
        return ""
    return f"{did} {party}, while {holder} held it: no hand-over between them is recorded"


def custody(sealed: Happened | None, hand_overs: Iterable[Happened], site: Site) -> Custody | None:
    """Follow custody from the unit that sealed the container; None if it was never registered."""
    if sealed is None or not isinstance(sealed.event, Registered):
        return None
    followed = Custody(sealed.event.unit, sealed)
    for h in hand_overs:
        if h.order > sealed.order:
            followed.follow(h, site)
    return followed
