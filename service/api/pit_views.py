"""Pits and needles as they go out; no figure is worked out here."""

from datetime import date
from typing import Self

from service.api.mass_views import BalanceView
from service.api.views import View
from service.duties.needles import NeedlesLine, NeedlesView
from service.duties.pits import PitsView, PitView


class Flagged(View):
    """What is wrong with a pit, and the clause it rests on."""

    said: str
    clause: str


class PitStateView(View):
    """A pit with its room in litres; of two figures the first is the least, the second the most.

    `days_left` and `full_on`: the soonest and the latest; null where too few weeks are known, or no
    end can be told.
    """

    pit: str
    name: str
    party: str
    outlet: str | None
    containers: int
    weight_g: int
    unweighed: int
    usable_l: float | None
    filled_l: tuple[float, float] | None
    left_l: tuple[float, float] | None
    litres_a_day: tuple[float, float] | None
    days_left: tuple[int, int | None] | None
    full_on: tuple[date, date | None] | None
    measured_on: date | None
    closed_on: date | None
    flags: list[Flagged]

    @classmethod
    def of(cls, view: PitView) -> Self:
        """Show a pit."""
        m, s = view.machine, view.state

        def pair(found: tuple[object, object] | None) -> tuple[float, float] | None:
            return None if found is None else (float(str(found[0])), float(str(found[1])))

        return cls(
            pit=m.id,
            name=m.name,
            party=m.party,
            outlet=m.pit.outlet.value if m.pit else None,
            containers=s.containers if s else 0,
            weight_g=s.weight_g if s else 0,
            unweighed=s.unweighed if s else 0,
            usable_l=float(s.usable_l) if s else None,
            filled_l=pair(s.filled_l if s else None),
            left_l=pair(s.left_l if s else None),
            litres_a_day=pair(s.litres_a_day if s else None),
            days_left=s.days_left if s else None,
            full_on=s.full_on if s else None,
            measured_on=s.measured_on if s else None,
            closed_on=s.closed_on if s else None,
            flags=[Flagged(said=said, clause=clause) for said, clause in view.flags],
        )


class PitsAnswer(View):
    """The pits of the register, and how many containers ended in a pit that is not told."""

    day: date
    pits: list[PitStateView]
    untold: int

    @classmethod
    def of(cls, view: PitsView) -> Self:
        """Show all pits."""
        return cls(day=view.day, pits=[PitStateView.of(p) for p in view.pits], untold=view.untold)


class NeedlesLineView(View):
    """Needles of a unit, used against cut; of the facility (`unit` null), cut against ended.

    `missing` is before less after; `unexplained` is what the counts' own plus and minus leave of
    it. It says that counts do not agree, and nothing of any person.
    """

    unit: str | None
    before: int
    after: int
    counts: int
    missing: int | None
    uncertainty: float | None
    unexplained: float | None

    @classmethod
    def of(cls, line: NeedlesLine) -> Self:
        """Show a line."""
        found = None if line.balance is None else BalanceView.of(line.balance)
        return cls(
            unit=line.unit,
            before=line.before,
            after=line.after,
            counts=line.counts,
            missing=found.missing_g if found else None,
            uncertainty=found.uncertainty_g if found else None,
            unexplained=found.unexplained_g if found else None,
        )


class NeedlesAnswer(View):
    """The needles of a period, unit by unit, then of the facility."""

    first: date
    last: date
    lines: list[NeedlesLineView]

    @classmethod
    def of(cls, view: NeedlesView) -> Self:
        """Show the balance."""
        lines = [NeedlesLineView.of(line) for line in view.lines]
        return cls(first=view.days.first, last=view.days.last, lines=lines)
