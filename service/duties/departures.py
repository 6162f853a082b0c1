"""What left together, as the note says it that goes with a consignment."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from service.custody.events import Dispatched
from service.custody.rules import Rules
from service.custody.site import Party
from service.duties import lookup
from service.duties.access import Caller
from service.duties.lookup import PAGE_MAX, Consignment, ContainerFilter
from service.duties.rounds import Lot, Standing, category_of, lots_of, standing_of
from service.store.store import Store


@dataclass(frozen=True, slots=True)
class Left:
    """A consignment as its note tells it.

    Attributes:
        departure: What was said when it left.
        cargo: Each container with what it is and what it weighed when it left.
        lots: The same by category; nothing of them is due on the note.
    """

    consignment: str
    departure: Dispatched
    left_at: datetime
    carrier: Party | None
    consignee: Party | None
    cargo: tuple[Standing, ...]
    lots: tuple[Lot, ...]
    weight_g: int
    unweighed: int


def left(store: Store, caller: Caller, consignment_id: str, now: datetime) -> Left:
    """Give a consignment for its note, as far as the caller's scope reaches.

    Raises:
        NotFoundError: no consignment of that id left here, or nothing of it is within the scope.
    """
    rules = lookup.rules(store, caller)
    found = lookup.consignment(store, caller, consignment_id)
    first = min(found.cargo, key=lambda row: row.left_at)
    cargo = _cargo(store, caller, rules, found, now)
    lots = lots_of(cargo, now, timedelta())
    return Left(
        consignment=consignment_id,
        departure=_departure(store, caller, first.container, consignment_id, now),
        left_at=first.left_at,
        carrier=rules.site.parties.get(first.carrier),
        consignee=rules.site.parties.get(first.consignee),
        cargo=tuple(cargo),
        lots=lots,
        weight_g=sum(lot.weight_g for lot in lots),
        unweighed=sum(lot.unweighed for lot in lots),
    )


def _cargo(
    store: Store, caller: Caller, rules: Rules, consignment: Consignment, now: datetime
) -> list[Standing]:
    """Give what a consignment carried; what has left again since is looked up one by one."""
    asked = ContainerFilter(consignment=consignment.id, limit=PAGE_MAX)
    page = lookup.containers(store, caller, asked)
    last = {row.container: standing_of(rules, row) for row in page}
    while len(page) == PAGE_MAX:
        page = lookup.containers(store, caller, replace(asked, after=page[-1].container))
        last |= {row.container: standing_of(rules, row) for row in page}
    told = []
    for row in consignment.cargo:
        one = last.get(row.container)
        if one is None:
            standing = lookup.container(store, caller, row.container, now).standing
            category = category_of(rules, standing.category, standing.sealed_at)
            one = Standing(row.container, category, None, None, None)
        told.append(replace(one, weight_g=row.sent_g))
    return told


def _departure(
    store: Store, caller: Caller, container: str, consignment_id: str, now: datetime
) -> Dispatched:
    happened = lookup.container(store, caller, container, now).history.happened
    return next(
        h.event
        for h in happened
        if isinstance(h.event, Dispatched) and h.event.consignment == consignment_id
    )
