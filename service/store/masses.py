"""What went into cycles of treatment and what came out of them, by weight."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import Connection, select

from service.access.caller import WHOLE, Scope
from service.custody.events import Entry, Registered, Treated
from service.custody.history import effective
from service.store.entries import Entries, chunks
from service.store.reach import of_container
from service.store.tables import CONTAINER, RECORD, STAY

Between = tuple[datetime, datetime]


class Weighed(NamedTuple):
    """A weight and the scale that gave it; None: never weighed, or not told."""

    weight_g: int | None
    scale: str | None


@dataclass(slots=True)
class Cycle:
    """One step of one cycle.

    Attributes:
        went_in: The weight of each container, by its id.
        came_out: That of each residue, likewise.
    """

    party: str
    step: str
    cycle: str
    went_in: dict[str, Weighed] = field(default_factory=dict)
    came_out: dict[str, Weighed] = field(default_factory=dict)


def cycles(
    connection: Connection, facility: str, between: Between, scope: Scope = WHOLE
) -> list[Cycle]:
    """Give the cycles of a period with what is within the scope; a cart counts as what it held."""
    held = _of_kind(connection, facility, Treated, between)
    treated = [(h.at, h.event) for h in effective(held.values()) if isinstance(h.event, Treated)]
    named = {c for _, event in treated for c in event.containers}
    stays = inside(connection, facility, named)
    found: dict[tuple[str, str, str], set[str]] = defaultdict(set)
    for at, event in treated:
        for container in event.containers:
            group = found[event.party, event.step.value, event.cycle]
            group.add(container)
            group |= {child for child, a, b in stays[container] if a <= at and (not b or at <= b)}
    known = weights(connection, facility, set().union(*found.values()), scope)
    made = []
    for key, containers in sorted(found.items()):
        went_in = {c: known[c] for c in sorted(containers) if c in known}
        if went_in:
            made.append(Cycle(*key, went_in))
    _residues(connection, facility, between, made)
    return made


def _of_kind(
    connection: Connection,
    facility: str,
    kind: type[Treated] | type[Registered],
    between: Between,
    holding: str = "",
) -> dict[int, Entry]:
    r, reader = RECORD.c, Entries(connection, facility)
    name = kind.model_fields["kind"].default
    wanted = [r.facility == facility, r.kind == name, r.at >= between[0], r.at < between[1]]
    if holding:
        wanted.append(r.body.contains(holding))
    told = reader.by_seq(list(connection.execute(select(r.seq).where(*wanted)).scalars()))
    return told | dict(reader.amending({e.event.id for e in told.values()}))


_Stay = tuple[str, datetime, datetime | None]


def inside(connection: Connection, facility: str, parents: Iterable[str]) -> dict[str, list[_Stay]]:
    """Give what was ever inside each of the containers, and when."""
    found: dict[str, list[_Stay]] = defaultdict(list)
    s = STAY.c
    for chunk in chunks(sorted(parents)):
        asked = select(s.parent, s.child, s.from_at, s.until_at).where(
            s.facility == facility, s.parent.in_(chunk)
        )
        for parent, child, from_at, until_at in connection.execute(asked):
            found[parent].append((child, from_at, until_at))
    return found


def weights(
    connection: Connection, facility: str, containers: Collection[str], scope: Scope = WHOLE
) -> dict[str, Weighed]:
    """Give the last weight before treatment of each registered container within the scope."""
    c = CONTAINER.c
    found: dict[str, Weighed] = {}
    for chunk in chunks(sorted(containers)):
        asked = select(c.container, c.weight_g, c.scale, c.received_g, c.received_scale).where(
            c.facility == facility,
            c.container.in_(chunk),
            c.sealed_at.is_not(None),
            *of_container(scope),
        )
        for container, weight_g, scale, received_g, received_scale in connection.execute(asked):
            at_receipt = received_g is not None
            found[container] = (
                Weighed(received_g, received_scale) if at_receipt else Weighed(weight_g, scale)
            )
    return found


def _residues(
    connection: Connection, facility: str, between: Between, made: Iterable[Cycle]
) -> None:
    """Put residue beside the last step of the cycle that left it."""
    last = {cycle.cycle: cycle for cycle in made}
    held = _of_kind(connection, facility, Registered, between, '"from_cycle":')
    for h in effective(held.values()):
        event = h.event
        if isinstance(event, Registered) and event.from_cycle in last:
            last[event.from_cycle].came_out[event.containers[0]] = Weighed(
                event.weight_g, event.scale
            )
