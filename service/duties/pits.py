"""The register of pits: how full each is, how long it lasts, what is wrong with it."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from service.custody.acts import Outlet
from service.custody.regime import Limit
from service.custody.rules import GOOD_PRACTICE
from service.custody.site import Machine, Site
from service.duties.access import Caller, demand
from service.store import pits as queries
from service.store.pits import Buried
from service.store.store import Store
from service.treatment.pits import Covering, Load, PitState, pit_state

OUTLETS = frozenset({Outlet.DEEP_BURIAL, Outlet.SHARPS_PIT, Outlet.PLACENTA_PIT})


@dataclass(frozen=True, slots=True)
class PitView:
    """A pit of the register; without a shape in the set-up its state cannot be told.

    Attributes:
        flags: What is wrong, and the clause it rests on.
    """

    machine: Machine
    state: PitState | None
    flags: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PitsView:
    """All pits on a day, and how many containers ended in a pit that nobody can tell."""

    day: date
    pits: tuple[PitView, ...]
    untold: int


def pits(store: Store, caller: Caller, now: datetime) -> PitsView:
    """Say how the pits of the register stand, as far as the scope reaches."""
    demand(caller, "read_pits")
    with store.viewing() as connection:
        rules = store.rules_in(connection, caller.facility)
        buried = queries.buried(connection, caller.facility, OUTLETS)
        covered = queries.covers(connection, caller.facility)
    site, day = rules.site, rules.site.local_day(now)
    rows = {r.id: r for r in reversed(rules.regime.limit) if r.in_force(day)}
    of = {id_: list[Buried]() for id_ in site.pits}
    untold = 0
    for one in buried:
        pit = one.pit or _only(site, one)
        if pit in of:
            of[pit].append(one)
        else:
            untold += 1

    def cite(row: Limit | None) -> str:
        return rules.cite(row) if row else GOOD_PRACTICE

    views = []
    for machine in site.pits.values():
        if not (caller.scope.whole or machine.party in caller.scope.parties):
            continue
        covers = [
            Covering(site.local_day(at), event.cover, event.layer_cm, event.free_cm)
            for at, event in covered
            if event.pit == machine.id
        ]
        state: PitState | None = None
        flags: tuple[tuple[str, str], ...] = (("its size is not in the set-up", GOOD_PRACTICE),)
        if machine.pit is not None:
            loads = _loads(of[machine.id], site.zone)
            state = pit_state(machine.pit, loads, covers, day, rows.get)
            flags = tuple((flag.said, cite(flag.row)) for flag in state.flags)
        views.append(PitView(machine, state, flags))
    return PitsView(day, tuple(views), untold if caller.scope.whole else 0)


def _only(site: Site, one: Buried) -> str | None:
    """The pit of the party for that outlet, where it has but one."""
    some = [
        m.id
        for m in site.pits.values()
        if m.party == one.party and m.pit is not None and m.pit.outlet is one.outlet
    ]
    return some[0] if len(some) == 1 else None


def _loads(some: Iterable[Buried], zone: ZoneInfo) -> list[Load]:
    days: dict[date, list[Buried]] = defaultdict(list)
    for one in some:
        days[one.at.astimezone(zone).date()].append(one)
    return [
        Load(
            day,
            sum(one.weight_g or 0 for one in held),
            len(held),
            sum(one.weight_g is None for one in held),
        )
        for day, held in sorted(days.items())
    ]
