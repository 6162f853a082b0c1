"""What lies in pits by the record, and how they were covered."""

from collections.abc import Collection
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import Connection, or_, select

from service.custody.acts import Outlet
from service.custody.counted import PitCovered
from service.custody.events import Amended, Disposed, Entry
from service.custody.history import Happened, effective
from service.store.entries import Entries
from service.store.masses import inside, weights
from service.store.tables import RECORD


class Buried(NamedTuple):
    """A container that ended in a pit; ``pit`` None: not told in which of the party's."""

    at: datetime
    outlet: Outlet
    party: str
    pit: str | None
    weight_g: int | None


def buried(connection: Connection, facility: str, outlets: Collection[Outlet]) -> list[Buried]:
    """Give all that ever ended in such outlets, in order; a cart counts as what it held then."""
    words = [f'"outlet":"{outlet.value}"' for outlet in outlets]
    told = _holding(connection, facility, "disposed", words)
    gone = [
        (h.at, h.event) for h in told if isinstance(h.event, Disposed) and h.event.outlet in outlets
    ]
    named = {c for _, event in gone for c in event.containers}
    stays = inside(connection, facility, named)
    known = weights(connection, facility, named.union(*({s[0] for s in x} for x in stays.values())))
    found = []
    for at, event in gone:
        held = set(event.containers)
        for one in event.containers:
            held |= {child for child, a, b in stays[one] if a <= at and (not b or at <= b)}
        found += [
            Buried(at, event.outlet, event.party, event.pit, known[one].weight_g)
            for one in sorted(held & known.keys())
        ]
    return found


def covers(connection: Connection, facility: str) -> list[tuple[datetime, PitCovered]]:
    """Give all covers of pits as they hold, in order."""
    told = _holding(connection, facility, "pit_covered", ['"pit":'])
    return [(h.at, h.event) for h in told if isinstance(h.event, PitCovered)]


def _holding(
    connection: Connection, facility: str, kind: str, words: Collection[str]
) -> list[Happened]:
    """Give the events of a kind that say any of the words, at first or by a correction."""
    r, reader = RECORD.c, Entries(connection, facility)
    says = or_(*(r.body.contains(word, autoescape=True) for word in words))
    asked = select(r.seq).where(r.facility == facility, r.kind.in_((kind, "amended")), says)
    told: dict[int, Entry] = reader.by_seq(list(connection.execute(asked).scalars()))
    superseded = {e.event.supersedes for e in told.values() if isinstance(e.event, Amended)}
    told |= dict(reader.by_id(superseded).values())
    told |= dict(reader.amending({e.event.id for e in told.values()} | superseded))
    return effective(told.values())
