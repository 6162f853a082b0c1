"""Figures of segregation: activity, rates, shares, control charts, sorting errors, drops."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from service.api.cycle_views import UntiedAnswer, UntiedView
from service.api.doors import Call, Known
from service.api.figure_views import (
    ActivityList,
    ChartsAnswer,
    CountView,
    DropsAnswer,
    ErrorsAnswer,
    RatesAnswer,
    SharesAnswer,
)
from service.api.mass_views import MassesAnswer
from service.api.pit_views import NeedlesAnswer, PitsAnswer
from service.api.problems import UnfitError, documented
from service.custody.fields import Day, Name
from service.duties import figures, signals
from service.duties.balance import Days, PeriodError
from service.duties.cycles import untied_evidence
from service.duties.figures import usual_period
from service.duties.masses import masses as balance_of
from service.duties.needles import needles as balance_of_needles
from service.duties.pits import pits as pits_today

router = APIRouter(prefix="/v1/figures", tags=["figures"])

_FIRST = "First day, by the facility's own calendar; thirteen weeks before `last` if left out."
_LAST = "Last day, included; today if left out."


class PeriodAsked(BaseModel):
    """The days asked for."""

    model_config = ConfigDict(extra="forbid")

    first: Day | None = Field(default=None, description=_FIRST)
    last: Day | None = Field(default=None, description=_LAST)


class ChartsAsked(PeriodAsked):
    """Which charts are asked for; all if nothing is said."""

    unit: Name | None = None
    category: Name | None = None


class DropsAsked(BaseModel):
    """The weeks that are looked at and those they are compared with."""

    model_config = ConfigDict(extra="forbid")

    last: Day | None = Field(default=None, description="A day; today if left out.")
    weeks: int = Field(default=signals.NOW, ge=1, le=13, description="Weeks looked at.")
    before: int = Field(default=signals.BEFORE, ge=3, le=52, description="Weeks before them.")


def days_of(call: Call, first: date | None, last: date | None) -> Days:
    """Give the period that was asked for.

    Raises:
        UnfitError: it ends before it begins, or is too long.
    """
    try:
        return usual_period(call.store, call.caller, call.now, first, last)
    except PeriodError as error:
        raise UnfitError(str(error)) from error


@router.get(
    "/activity",
    summary="List counts of activity",
    operation_id="list_activity",
    responses=documented(403, 422),
)
def activity(call: Known, asked: Annotated[PeriodAsked, Query()]) -> ActivityList:
    """Give the counts of occupied bed-days and procedures that hold, by day and unit."""
    days = days_of(call, asked.first, asked.last)
    found = figures.activity(call.store, call.caller, days)
    return ActivityList(first=days.first, last=days.last, counts=[CountView.of(c) for c in found])


@router.get(
    "/rates",
    summary="Waste per occupied bed-day or procedure",
    operation_id="read_rates",
    responses=documented(403, 422),
)
def rates(call: Known, asked: Annotated[PeriodAsked, Query()]) -> RatesAnswer:
    """Give grams per occupied bed-day, or per procedure, by unit and category, over weeks."""
    days = days_of(call, asked.first, asked.last)
    return RatesAnswer.of(figures.rates(call.store, call.caller, days))


@router.get(
    "/shares",
    summary="Shares by category, beside published figures",
    operation_id="compare_shares",
    responses=documented(403, 422),
)
def shares(call: Known, asked: Annotated[PeriodAsked, Query()]) -> SharesAnswer:
    """Give each category's share of the weight sealed. A published figure is no target."""
    days = days_of(call, asked.first, asked.last)
    return SharesAnswer.of(figures.shares(call.store, call.caller, days))


@router.get(
    "/charts",
    summary="Control charts with their signals",
    operation_id="draw_charts",
    responses=documented(403, 422),
)
def charts(call: Known, asked: Annotated[ChartsAsked, Query()]) -> ChartsAnswer:
    """Give charts week by week. A signal says that something probably changed, and not what."""
    days = days_of(call, asked.first, asked.last)
    view = signals.charts(call.store, call.caller, days, asked.unit, asked.category)
    return ChartsAnswer.of(view)


@router.get(
    "/errors",
    summary="Sorting errors found by inspections",
    operation_id="read_sorting_errors",
    responses=documented(403, 422),
)
def errors(call: Known, asked: Annotated[PeriodAsked, Query()]) -> ErrorsAnswer:
    """Give wrong items per item seen by unit, each with its confidence interval."""
    days = days_of(call, asked.first, asked.last)
    return ErrorsAnswer.of(figures.sorting_errors(call.store, call.caller, days))


@router.get(
    "/masses",
    summary="Balance of treatment by step",
    operation_id="balance_masses",
    responses=documented(403, 422),
)
def masses(call: Known, asked: Annotated[PeriodAsked, Query()]) -> MassesAnswer:
    """Give what went into cycles, what each step may take, the residue, and what is unexplained."""
    days = days_of(call, asked.first, asked.last)
    return MassesAnswer.of(balance_of(call.store, call.caller, days))


@router.get(
    "/needles",
    summary="Needles used, cut, ended",
    operation_id="balance_needles",
    responses=documented(403, 422),
)
def needles(call: Known, asked: Annotated[PeriodAsked, Query()]) -> NeedlesAnswer:
    """Balance counts of needles: used against cut in a unit, cut against ended in the facility."""
    days = days_of(call, asked.first, asked.last)
    return NeedlesAnswer.of(balance_of_needles(call.store, call.caller, days))


@router.get(
    "/pits",
    summary="Pits: how full, how long they last",
    operation_id="read_pits",
    responses=documented(403, 422),
)
def pits(call: Known) -> PitsAnswer:
    """Give how full each pit is today, how long it lasts, and what is wrong with it."""
    return PitsAnswer.of(pits_today(call.store, call.caller, call.now))


@router.get(
    "/untied-evidence",
    summary="Evidence that belongs to no cycle",
    operation_id="list_untied_evidence",
    responses=documented(403, 422),
)
def untied(call: Known, asked: Annotated[PeriodAsked, Query()]) -> UntiedAnswer:
    """Give indicators, spore tests, observations and traces that name no cycle on record.

    They are kept. One that came before its run is tied when the run comes; one with a wrong number
    is put right by an amendment.
    """
    days = days_of(call, asked.first, asked.last)
    found = untied_evidence(call.store, call.caller, days)
    return UntiedAnswer(
        first=days.first, last=days.last, untied=[UntiedView.of(one) for one in found]
    )


@router.get(
    "/drops",
    summary="Unusual drops of sharps or plastics",
    operation_id="find_drops",
    responses=documented(403, 422),
)
def drops(call: Known, asked: Annotated[DropsAsked, Query()]) -> DropsAnswer:
    """Compare the last weeks with those before, in standard errors.

    A drop can mean that waste left by another way. It mostly means something else, and says nothing
    about any person.
    """
    last = days_of(call, None, asked.last).last
    try:
        view = signals.drops(call.store, call.caller, last, asked.weeks, asked.before)
    except PeriodError as error:
        raise UnfitError(str(error)) from error
    return DropsAnswer.of(view)
