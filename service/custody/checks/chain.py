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
from service.custody.verdict import Case, Code, Violations

_NOT_AN_ACT = (Labelled, Registered, Notified, Spilled)


def never_registered(case: Case) -> Violations:
    """Something happened to a container that nobody had registered at a source."""
    first = next((h for h in case.happened if not isinstance(h.event, _NOT_AN_ACT)), None)
    sealing = case.history.registered
    if first is None or (sealing is not None and first.order > sealing.order):
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
    for h, broken in case.custody.broken if case.custody else ():
        yield case.violation(Code.CUSTODY_GAP, h.at, broken, h, closed_at=case.closing(h.at))


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
    last: Happened | None = None
    for receipt in case.history.receipts:
        left = _departure_before(case, receipt)
        if left is None or left is last or _arrived_between(case, left, receipt):
            continue
        last = left  # who closes the receipt once more misses nothing more
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


_IMPLIED = {
    Stored: "store",
    Registered: "unit",
    Received: "party",
    Refused: "party",
    Treated: "party",
    Disposed: "party",
}
"""The field that says where an act was done, if its place is not given."""


def _place(h: Happened) -> str | None:
    """Where it was seen: the place that is given, or the one that the act itself implies."""
    implied = _IMPLIED.get(type(h.event))
    if h.event.place or implied is None:
        return h.event.place
    place: str = getattr(h.event, implied)
    return place


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
