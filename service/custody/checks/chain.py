"""The chain of custody: hand-overs without a receiver, containers missing or in two places."""

from datetime import datetime, timedelta

from service.custody.events import (
    Amended,
    Collected,
    Dispatched,
    Disposed,
    Found,
    Labelled,
    Lost,
    Notified,
    Received,
    Refused,
    Registered,
    Spilled,
    Stored,
    Treated,
)
from service.custody.history import Happened
from service.custody.verdict import Case, Code
from service.custody.verdict import Found as Violations

_NOT_AN_ACT = (Labelled, Registered, Notified, Spilled)


def never_registered(case: Case) -> Violations:
    """Something happened to a container that nobody had registered at a source."""
    first = next((h for h in case.happened if not isinstance(h.event, _NOT_AN_ACT)), None)
    if first is None or (case.sealed_at is not None and first.order > _sealing(case).order):
        return
    yield case.violation(
        Code.CUSTODY_GAP,
        first.at,
        f"{_phrase(first)} although it was not registered at a source",
        first,
        closed_at=case.sealed_at,
    )


def gap(case: Case) -> Violations:
    """A hand-over has no receiver: an act by or from a party that did not hold the container."""
    sealed = case.history.registered
    if sealed is None or not isinstance(sealed.event, Registered):
        return
    custody = Custody(case, sealed.event.unit)
    for h in case.of(*HAND_OVERS):
        if h.order <= sealed.order:
            continue
        broken = custody.follow(h)
        if broken:
            yield case.violation(Code.CUSTODY_GAP, h.at, broken, h, closed_at=case.closing(h.at))


HAND_OVERS = (Collected, Stored, Dispatched, Received, Refused, Treated, Disposed)
"""The kinds that tell who holds a container."""


class Custody:
    """Who holds a container, followed event by event."""

    def __init__(self, case: Case, unit: str) -> None:
        self.case = case
        self.holder = unit
        self.since: Happened | None = case.history.registered
        self.on_the_road = False
        self.carrier = ""

    def follow(self, h: Happened) -> str:
        """Take the next event; give a sentence if the chain is broken there, else nothing."""
        event, holder = h.event, self.holder
        match event:
            case Collected():
                self._to(event.to_party, h)
                return self._differs(event.from_party, holder, "collected from")
            case Stored():
                store = self.case.rules.site.stores.get(event.store)
                keeper = store.party if store else holder
                self._to(keeper, h)
                return self._differs(keeper, holder, f"stored in {event.store} by")
            case Dispatched():
                self._to(event.carrier, h)
                self.on_the_road, self.carrier = True, event.carrier
                unit = holder in self.case.rules.site.units
                return f"left with {event.carrier} but was never collected" if unit else ""
            case Received():
                on_the_road, self.on_the_road = self.on_the_road, False
                self._to(event.party, h)
                return "" if on_the_road else f"received by {event.party} but never dispatched"
            case Refused():
                self.on_the_road = bool(self.carrier)
                self._to(self.carrier or holder, h)
                return ""
            case Treated() | Disposed():
                self._to(event.party, h)
                did = "treated" if isinstance(event, Treated) else "disposed of"
                return self._differs(event.party, holder, f"{did} by")
            case _:
                return ""

    def _to(self, party: str, h: Happened) -> None:
        if party != self.holder:
            self.holder, self.since = party, h

    def _differs(self, party: str, holder: str, did: str) -> str:
        if party == holder:
            return ""
        return f"{did} {party}, while {holder} held it: no hand-over between them is recorded"


def missing(case: Case) -> Violations:
    """The container was not where it should be."""
    for h in case.of(Lost):
        if isinstance(h.event, Lost):
            yield case.violation(
                Code.CUSTODY_MISSING,
                h.at,
                f"reported lost; last seen {h.event.last_seen or 'nowhere stated'}",
                h,
                closed_at=_seen_after(case, h),
            )
    for receipt in case.history.receipts:
        left = _departure_before(case, receipt)
        if left is None or _arrived_between(case, left, receipt):
            continue
        assert isinstance(receipt.event, Received)
        yield case.violation(
            Code.CUSTODY_MISSING,
            receipt.at,
            f"not among what {receipt.event.party} received of consignment "
            f"{receipt.event.consignment}",
            left,
            receipt,
            closed_at=_seen_after(case, receipt),
        )


def two_places(case: Case) -> Violations:
    """One label was seen in two places that nobody could reach in the time, or sealed twice."""
    site = case.rules.site
    last: tuple[Happened, str] | None = None
    sealed: Happened | None = None
    for h in case.happened:
        if not h.direct or isinstance(h.event, (Labelled, Notified, Amended, Lost)):
            continue
        twice = isinstance(h.event, Registered) and sealed is not None
        if isinstance(h.event, Registered):
            if sealed is not None:
                yield case.violation(
                    Code.CUSTODY_TWO_PLACES,
                    h.at,
                    "one label was bound to two containers",
                    sealed,
                    h,
                    closed_at=case.closing(h.at),
                )
            sealed = sealed or h
        here = site.location_of(_place(h))
        if here is None:
            continue
        if last is not None and last[1] != here and not twice:
            needed = timedelta(minutes=site.travel_minutes(last[1], here))
            if h.at - last[0].at < needed:
                yield case.violation(
                    Code.CUSTODY_TWO_PLACES,
                    h.at,
                    f"seen at {_place(last[0])} and {_place(h)} within "
                    f"{(h.at - last[0].at).total_seconds() / 60:.0f} min; the way takes "
                    f"{needed.total_seconds() / 60:.0f} min",
                    last[0],
                    h,
                    closed_at=case.closing(h.at),
                )
        last = (h, here)


def _place(h: Happened) -> str | None:
    """Where it was seen: the place that is given, or the one that the act itself implies."""
    match h.event:
        case Stored(place=place, store=store):
            return place or store
        case Registered(place=place, unit=unit):
            return place or unit
        case Received(place=place, party=party) | Refused(place=place, party=party):
            return place or party
        case Treated(place=place, party=party) | Disposed(place=place, party=party):
            return place or party
        case other:
            return other.place


def _sealing(case: Case) -> Happened:
    found = case.history.registered
    assert found is not None
    return found


def _phrase(h: Happened) -> str:
    return h.event.kind.replace("_", " ")


def _seen_after(case: Case, since: Happened) -> datetime | None:
    return next(
        (
            h.at
            for h in case.happened
            if h.direct
            and h.order > since.order
            and not isinstance(h.event, (Lost, Notified, Labelled, Spilled))
        ),
        None,
    )


def _departure_before(case: Case, receipt: Happened) -> Happened | None:
    assert isinstance(receipt.event, Received)
    wanted = receipt.event.consignment
    left = None
    for h in case.of(Dispatched):
        same = isinstance(h.event, Dispatched) and h.event.consignment == wanted
        if same and h.order < receipt.order:
            left = h
    return left


def _arrived_between(case: Case, left: Happened, receipt: Happened) -> bool:
    """Whether it was received, refused or handled at all between departure and the receipt."""
    return any(
        left.order < h.order <= receipt.order
        for h in case.of(Received, Refused, Treated, Disposed, Stored, Collected, Found)
    )
