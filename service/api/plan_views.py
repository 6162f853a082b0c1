"""A plan of pick-ups as it goes out; no figure is worked out here."""

from typing import Literal, Self

from service.api.views import Moment, View
from service.duties.planning import PlanView, StorePlan
from service.planning.loads import Load
from service.planning.outcome import Break
from service.planning.windows import Window


class BreakView(View):
    """A holding limit that is not kept, or a store from the instant it holds too much."""

    kind: Literal["holding", "capacity"]
    store: str
    at: Moment
    container: str | None
    over_g: int

    @classmethod
    def of(cls, found: Break) -> Self:
        """Show what breaks."""
        return cls(
            kind=found.kind,
            store=found.store,
            at=found.at,
            container=found.container.container if found.container else None,
            over_g=found.over_g,
        )


class SafeView(View):
    """The latest safe pick-up, and what it is for; ``missed``: it could not be in time."""

    at: Moment
    container: str | None
    missed: bool

    @classmethod
    def of(cls, window: Window) -> Self:
        """Show the end of a window."""
        named = window.container.container if window.container else None
        return cls(at=window.until_at, container=named, missed=window.missed)


class StorePlanView(View):
    """One store."""

    store: str
    containers: int
    weight_g: int
    capacity_g: int | None
    expected: int
    first_break: BreakView | None
    latest_safe: SafeView | None

    @classmethod
    def of(cls, plan: StorePlan) -> Self:
        """Show a store."""
        capacity_kg = plan.store.capacity_kg
        return cls(
            store=plan.store.id,
            containers=plan.containers,
            weight_g=plan.weight_g,
            capacity_g=None if capacity_kg is None else int(capacity_kg * 1000),
            expected=plan.expected,
            first_break=BreakView.of(plan.first_break) if plan.first_break else None,
            latest_safe=SafeView.of(plan.latest_safe) if plan.latest_safe else None,
        )


class LoadView(View):
    """What one vehicle takes at one instant; what is only expected is counted, not named."""

    at: Moment
    weight_g: int
    containers: list[str]
    expected: int

    @classmethod
    def of(cls, load: Load) -> Self:
        """Show a load."""
        here = [w.container for w in load.containers if not w.expected]
        return cls(
            at=load.at,
            weight_g=load.weight_g,
            containers=here,
            expected=len(load.containers) - len(here),
        )


class WhatIfView(View):
    """Breaks with the usual timetable kept to, and with one made anew."""

    unchanged: int
    anew: int
    avoided: int
    further_loads: int


class PlanAnswer(View):
    """A plan: it rests on usual rates, and tomorrow need not be usual."""

    from_at: Moment
    until_at: Moment
    stores: list[StorePlanView]
    loads: list[LoadView]
    at_least: int
    proved_least: bool
    at_most_times: float
    missed: list[SafeView]
    too_heavy: list[str]
    breaks_if_nobody_collects: int
    breaks_left: list[BreakView]
    breaks_avoided: int
    what_if: WhatIfView
    autoclave_g: int
    autoclave_loads: int | None
    assumed: list[str]
    unweighed: int

    @classmethod
    def of(cls, view: PlanView) -> Self:
        """Show a plan."""
        table, found = view.timetable, view.what_if
        return cls(
            from_at=view.situation.from_at,
            until_at=view.situation.until_at,
            stores=[StorePlanView.of(store) for store in view.stores],
            loads=[LoadView.of(load) for load in table.loads],
            at_least=table.at_least,
            proved_least=table.proved_least,
            at_most_times=float(table.at_most_times),
            missed=[SafeView.of(window) for window in table.missed],
            too_heavy=[w.container for w in table.too_heavy],
            breaks_if_nobody_collects=len(view.uncollected),
            breaks_left=[BreakView.of(one) for one in view.left],
            breaks_avoided=view.avoided,
            what_if=WhatIfView(
                unchanged=len(found.unchanged),
                anew=len(found.left),
                avoided=found.avoided,
                further_loads=found.further_loads,
            ),
            autoclave_g=view.autoclave_g,
            autoclave_loads=view.autoclave_loads,
            assumed=list(view.assumed),
            unweighed=view.unweighed,
        )
