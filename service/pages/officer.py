"""The officer's pages: what is wrong, the balance, the quarter, the rules, who may come in."""

from collections.abc import Callable
from datetime import date
from urllib.parse import urlencode

from babel.dates import format_date
from fastapi import APIRouter, HTTPException
from fastapi.responses import HTMLResponse

from service.access.permissions import BY_BADGE, MAY_RECORD, OPERATIONS
from service.custody.identifiers import grouped
from service.custody.regime import Category
from service.custody.site import Site
from service.custody.verdict import Code
from service.custody.words import Role, Severity
from service.duties import (
    administrator,
    balance,
    desk,
    lookup,
    masses,
    officer,
    returns,
    settings,
    verifying,
)
from service.pages.charts import Chart, charts
from service.pages.figures import period
from service.pages.frame import Look, Looking, PageRoute

router = APIRouter(route_class=PageRoute, include_in_schema=False)
QUARTERS = 8
"""How many quarters back are offered; any other can be written into the address."""
FORMS = {
    "zip": ("application/zip", "Everything, with what proves it (ZIP)"),
    "pdf": ("application/pdf", "Paper (PDF)"),
    "xlsx": (
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        "Workbook (XLSX)",
    ),
    "csv": ("text/csv", "Table (CSV)"),
    "jsonld": ("application/ld+json", "Events (GS1 EPCIS 2.0)"),
}
"""What a quarter can be fetched as: ending, media type, name."""


@router.get("/desk", operation_id="see_desk")
def see_desk(
    look: Looking,
    severity: str = "",
    code: str = "",
    unit: str = "",
    party: str = "",
    page: int = 1,
) -> HTMLResponse:
    """Show what stands open now, the most urgent first."""
    asked = {"severity": severity, "code": code, "unit": unit, "party": party}
    try:
        wanted = desk.Wanted(
            Severity(severity) if severity else None,
            Code(code) if code else None,
            unit or None,
            party or None,
            page,
        )
    except ValueError as error:
        raise HTTPException(422, "there is no severity or rule of that name") from error
    return look.page(
        "desk.html",
        returns=returns.due(look.store, look.caller, look.now),
        at_once=returns.at_once(look.store, look.caller, look.now),
        view=desk.desk(look.store, look.caller, wanted, look.now),
        asked=asked,
        rows=desk.ROWS,
        severities=desk.URGENCY,
        codes=sorted(Code),
        name=_namer(look.site),
        grouped=grouped,
        categories=_categories(look),
        page_at=lambda number: _address("/desk", asked, number),
        address=lambda **other: _address("/desk", {**asked, **other}),
    )


@router.get("/balance", operation_id="see_balance")
def see_balance(
    look: Looking, first: str = "", last: str = "", page: int = 1, treatment: str = ""
) -> HTMLResponse:
    """Show what left against what arrived, and what was made week by week.

    The balance of treatment is read from every cycle of the period, so only where it is asked for.
    """
    days = period(look, first, last)
    view = balance.balance(look.store, look.caller, days, page, look.now)
    asked = {"first": str(days.first), "last": str(days.last)}
    categories = _categories(look)
    weeks = [format_date(week.days.first, "d MMM", look.language.locale) for week in view.weeks]
    made = [sum(grams for _, grams in w.by_category.values()) / 1000 for w in view.weeks]
    return look.page(
        "balance.html",
        view=view,
        masses=masses.masses(look.store, look.caller, days) if treatment else None,
        days=days,
        name=_namer(look.site),
        grouped=grouped,
        categories=categories,
        page_at=lambda number: _address("/balance", asked, number),
        whole=charts({"all": made}, weeks)[0],
        by_category=_series(view, weeks, lambda week: week.by_category),
        by_unit=_series(view, weeks, lambda week: week.by_unit),
        week_names=weeks,
    )


@router.get("/quarter", operation_id="see_quarter")
def see_quarter(look: Looking, quarter: str = "") -> HTMLResponse:
    """Show a quarter's figures, where it is fetched, how the log stands, and what checks one."""
    offered = _quarters(look.now.astimezone(look.site.zone).date())
    figures = None
    if quarter:  # reckoned from the whole record of a quarter, so only where it is asked for
        try:
            figures = officer.manifest(look.store, look.caller, quarter, look.now)
        except ValueError as error:
            raise HTTPException(422, str(error)) from error
    return look.page(
        "quarter.html",
        figures=figures,
        quarter=str(figures.quarter) if figures else offered[1],
        offered=offered,
        forms=FORMS,
        log=verifying.log_state(look.keeping, look.caller),
    )


@router.get("/settings", operation_id="see_settings")
def see_settings(look: Looking) -> HTMLResponse:
    """Show what is set, and by what each is changed."""
    return look.page(
        "settings.html",
        view=settings.settings(look.keeping, look.caller, look.now),
        today=look.site.local_day(look.now),
        name=_namer(look.site),
        categories=_categories(look),
    )


@router.get("/regimes", operation_id="see_regimes")
def see_regimes(look: Looking) -> HTMLResponse:
    """Show which bodies of rules the service knows, and by which this facility goes."""
    known = [lookup.regime(id_) for id_ in lookup.regime_ids()]
    return look.page("regimes.html", regimes=known)


@router.get("/regimes/{regime}", operation_id="see_regime")
def see_regime(look: Looking, regime: str) -> HTMLResponse:
    """Show what a body of rules asks for today, each with clause and source."""
    today = look.now.astimezone(look.site.zone).date()
    return look.page("regime.html", regime=lookup.regime(regime), today=today)


@router.get("/people", operation_id="see_people")
def see_people(look: Looking) -> HTMLResponse:
    """Show who may come in, and let the administrator change it."""
    store, caller = look.store, look.caller
    changes = caller.role in OPERATIONS["add_person"]
    return look.page(
        "people.html",
        people=administrator.people(store, caller),
        clients=administrator.clients(store, caller) if changes else (),
        changes=changes,
        roles=tuple(Role),
        by_badge=BY_BADGE,
        may_record={role: sorted(kinds) for role, kinds in MAY_RECORD.items()},
        may={
            role: sorted(name for name, roles in OPERATIONS.items() if role in roles)
            for role in Role
        },
        name=_namer(look.site),
        grouped=grouped,
    )


def _namer(site: Site) -> Callable[[str | None], str]:
    """Give what says the name of a unit, store or party; what is none of them stays as it is."""
    named = {one.id: one.name for group in (site.unit, site.store, site.party) for one in group}
    return lambda id_: named.get(id_ or "", id_ or "–")


def _categories(look: Look) -> dict[str, Category]:
    """Give the categories of the regime; of one that was amended the latest text."""
    return {one.id: one for one in lookup.rules(look.store, look.caller).regime.category}


def _address(path: str, asked: dict[str, str], page: int = 1) -> str:
    said = {name: value for name, value in asked.items() if value}
    if page > 1:
        said["page"] = str(page)
    return f"{path}?{urlencode(said)}" if said else path


def _series(
    view: balance.BalanceView,
    weeks: list[str],
    group: Callable[[balance.Week], dict[str, tuple[int, int]]],
) -> list[Chart]:
    """Give a chart in kilograms for each name, the heaviest first."""
    grams: dict[str, list[float]] = {}
    for number, week in enumerate(view.weeks):
        for name, (_, weight_g) in group(week).items():
            grams.setdefault(name or "", [0.0] * len(view.weeks))[number] = weight_g / 1000
    ordered = dict(sorted(grams.items(), key=lambda row: (-sum(row[1]), row[0])))
    return charts(ordered, weeks)


def _quarters(today: date) -> list[str]:
    number = today.year * 4 + (today.month - 1) // 3
    return [f"{n // 4}-Q{n % 4 + 1}" for n in range(number, number - QUARTERS, -1)]
