"""The officer's page of segregation: rates, charts with signals in words, shares, drops."""

from datetime import date

from fastapi import APIRouter, HTTPException
from fastapi.responses import HTMLResponse

from service.duties.balance import Days, PeriodError
from service.duties.figures import usual_period
from service.duties.needles import needles
from service.duties.pits import pits
from service.duties.segregation import segregation
from service.pages.control_charts import laid_out
from service.pages.frame import Look, Looking, PageRoute
from service.pages.happenings import name_of

router = APIRouter(route_class=PageRoute, include_in_schema=False)
CHARTS_MAX = 12
"""Charts that are drawn where no unit is chosen: of those that signal, the first."""


@router.get("/figures", operation_id="see_figures")
def see_figures(look: Looking, first: str = "", last: str = "", unit: str = "") -> HTMLResponse:
    """Show the figures of a period, and the charts of a unit, or those that signal."""
    days = period(look, first, last)
    view = segregation(look.store, look.caller, days)
    needled = needles(look.store, look.caller, days)
    dug = pits(look.store, look.caller, look.now)
    every = view.charts.charts
    shown = [c for c in every if c.unit == unit] if unit else [c for c in every if c.signals]
    signalling = [c for c in every if c.signals]
    return look.page(
        "figures.html",
        view=view,
        needles=needled,
        pits=dug,
        days=days,
        unit=unit,
        units=sorted({r.unit for r in view.rates.rates} | {c.unit for c in every}),
        charts=[laid_out(c) for c in (shown if unit else shown[:CHARTS_MAX])],
        signalling=signalling,
        name=lambda id_: name_of(look.site, id_),
    )


def period(look: Look, first: str, last: str) -> Days:
    """Give the days that stand in the address, or the usual ones."""
    try:
        days = (date.fromisoformat(text) if text else None for text in (first, last))
        return usual_period(look.store, look.caller, look.now, *days)
    except (PeriodError, ValueError, OverflowError) as error:
        why = str(error) if isinstance(error, PeriodError) else "a day is written as 2026-07-31"
        raise HTTPException(422, why) from error
