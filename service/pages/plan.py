"""The officer's page of the plan: stores, pick-ups, and what it avoids."""

from datetime import date

from fastapi import APIRouter, HTTPException
from fastapi.responses import HTMLResponse

from service.duties import planning
from service.duties.planning import Asked, PlanError
from service.pages.charts import rounded_up
from service.pages.frame import Looking, PageRoute
from service.pages.happenings import name_of

BARS = ("if nobody collects", "with the usual plan kept to", "with this plan")
router = APIRouter(route_class=PageRoute, include_in_schema=False)


@router.get("/plan", operation_id="see_plan")
def see_plan(
    look: Looking,
    days: int = planning.DAYS,
    broken: str = "",
    holiday: str = "",
    plant_closed: str = "",
) -> HTMLResponse:
    """Show the fewest pick-ups that keep every limit, and what if something stands still."""
    try:
        asked = Asked(
            days,
            broken=(broken,) if broken else (),
            holidays=(date.fromisoformat(holiday),) if holiday else (),
            plant_closed=(date.fromisoformat(plant_closed),) if plant_closed else (),
        )
        view = planning.plan(look.store, look.caller, asked, look.now)
    except PlanError as error:
        raise HTTPException(422, str(error)) from error
    except ValueError as error:
        raise HTTPException(422, "a day is written as 2026-07-31") from error
    numbers = (len(view.uncollected), len(view.what_if.unchanged), len(view.left))
    bars = list(zip(BARS, numbers, strict=True))
    return look.page(
        "plan.html",
        view=view,
        asked={"days": days, "broken": broken, "holiday": holiday, "plant_closed": plant_closed},
        most=planning.DAYS_MAX,
        bars=bars,
        top=rounded_up(max(number for _, number in bars)),
        name=lambda id_: name_of(look.site, id_),
    )
