"""Plans of pick-ups: when stores break a limit or fill up, and the fewest loads that prevent it."""

from datetime import date
from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from service.api.doors import Known
from service.api.plan_views import PlanAnswer
from service.api.problems import UnfitError, documented
from service.duties import planning
from service.duties.planning import Asked, PlanError

router = APIRouter(prefix="/v1/plan", tags=["plans"])

_DAYS = r"^\d{4}-\d\d-\d\d(,\d{4}-\d\d-\d\d){0,30}$"
_IDS = r"^[a-z0-9][a-z0-9-]{0,62}(,[a-z0-9][a-z0-9-]{0,62}){0,30}$"


class PlanAsked(BaseModel):
    """What the plan is for; what is left out is as the set-up says."""

    model_config = ConfigDict(extra="forbid")

    days: int = Field(default=planning.DAYS, ge=1, le=planning.DAYS_MAX)
    load_kg: Decimal | None = Field(default=None, ge=1, le=100_000, description="Of a vehicle.")
    onward_h: Decimal | None = Field(
        default=None, ge=0, le=240, description="Hours from pick-up to treatment, with a margin."
    )
    broken: str | None = Field(
        default=None, pattern=_IDS, description="What if these vehicles stand still; by comma."
    )
    holidays: str | None = Field(
        default=None, pattern=_DAYS, description="What if there is no work on these days; by comma."
    )
    plant_closed: str | None = Field(
        default=None, pattern=_DAYS, description="What if the plant is closed then; by comma."
    )
    chamber_l: Decimal | None = Field(
        default=None, ge=1, le=100_000, description="Litres of an autoclave, to reckon its loads."
    )
    density_g_per_l: Decimal | None = Field(
        default=None, ge=1, le=10_000, description="Bulk density of the waste in it, as measured."
    )


def days_in(text: str | None) -> tuple[date, ...]:
    """Read days that are parted by commas.

    Raises:
        UnfitError: one is no day of any month.
    """
    try:
        return tuple(date.fromisoformat(part) for part in text.split(",")) if text else ()
    except ValueError as error:
        raise UnfitError("a day is written as 2026-07-31") from error


@router.get(
    "", summary="Plan pick-ups", operation_id="plan_pick_ups", responses=documented(403, 422)
)
def plan(call: Known, asked: Annotated[PlanAsked, Query()]) -> PlanAnswer:
    """Give the fewest pick-ups that keep every holding limit and overfill no store.

    It is reckoned from what stands in the stores and the rates of the past four weeks. Local codes,
    the carrier's authorisation and licensed practice come first.
    """
    wanted = Asked(
        days=asked.days,
        load_kg=asked.load_kg,
        onward_h=asked.onward_h,
        broken=tuple(asked.broken.split(",")) if asked.broken else (),
        holidays=days_in(asked.holidays),
        plant_closed=days_in(asked.plant_closed),
        chamber_l=asked.chamber_l,
        density_g_per_l=asked.density_g_per_l,
    )
    try:
        return PlanAnswer.of(planning.plan(call.store, call.caller, wanted, call.now))
    except PlanError as error:
        raise UnfitError(str(error)) from error
