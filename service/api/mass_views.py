"""The balance of treatment as it goes out; no figure is worked out here."""

from datetime import date
from typing import Self

from service.api.views import View
from service.duties.masses import MassesView
from service.statistics.mass import Balance


class BalanceView(View):
    """What went in less what came out, in grams; ``unexplained_g`` is below nought for too much."""

    went_in_g: int
    came_out_g: int
    missing_g: int
    loss_min_g: float
    loss_max_g: float
    uncertainty_g: float
    unexplained_g: float

    @classmethod
    def of(cls, found: Balance) -> Self:
        """Show a balance."""
        return cls(
            went_in_g=found.went_in.weight_g,
            came_out_g=found.came_out.weight_g,
            missing_g=found.missing_g,
            loss_min_g=float(found.loss_min_g),
            loss_max_g=float(found.loss_max_g),
            uncertainty_g=float(found.uncertainty_g),
            unexplained_g=float(found.unexplained_g),
        )


class StepView(View):
    """One step at one party; cycles without residue on record are in no balance."""

    party: str
    step: str
    cycles: int
    containers: int
    loss_share_min: float
    loss_share_max: float
    loss_source: str
    balance: BalanceView | None
    open_cycles: int
    open_g: int
    unweighed: int


class CycleView(View):
    """A cycle that neither loss nor scales explain."""

    party: str
    step: str
    cycle: str
    balance: BalanceView


class MassesAnswer(View):
    """The balance of treatment of a period."""

    first: date
    last: date
    steps: list[StepView]
    unexplained: list[CycleView]

    @classmethod
    def of(cls, view: MassesView) -> Self:
        """Show a balance of treatment."""
        return cls(
            first=view.days.first,
            last=view.days.last,
            steps=[
                StepView(
                    party=s.party,
                    step=s.step,
                    cycles=s.cycles,
                    containers=s.containers,
                    loss_share_min=float(s.loss.share_min),
                    loss_share_max=float(s.loss.share_max),
                    loss_source=s.loss.source,
                    balance=BalanceView.of(s.balance) if s.balance else None,
                    open_cycles=s.open_cycles,
                    open_g=s.open_g,
                    unweighed=s.unweighed,
                )
                for s in view.steps
            ],
            unexplained=[
                CycleView(
                    party=c.party, step=c.step, cycle=c.cycle, balance=BalanceView.of(c.balance)
                )
                for c in view.unexplained
            ],
        )
