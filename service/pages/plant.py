"""The plant's pages: take over what came in a consignment, and load a machine."""

from datetime import datetime
from typing import Annotated, Any
from urllib.parse import urlencode
from uuid import uuid4

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import Field

from service.custody.acts import Step
from service.custody.events import Event, Received, Treated
from service.custody.fields import Name
from service.custody.identifiers import grouped
from service.custody.site import Party
from service.custody.verdict import Code, Violation
from service.duties import cycles, finding, lookup, plant
from service.duties.finding import Coded, category_of
from service.duties.lookup import NotFoundError
from service.duties.plant import Foreseen
from service.pages.frame import Look, Looking, PageRoute
from service.pages.happenings import KINDS, name_of

router = APIRouter(route_class=PageRoute, include_in_schema=False)

CHECKED_MOST = 50
"""Containers looked at in one request."""
Codes = Annotated[list[Annotated[str, Field(max_length=120)]], Query(max_length=CHECKED_MOST)]
Weights = Annotated[list[Annotated[int, Field(ge=0, le=2_000_000)]], Query(max_length=CHECKED_MOST)]


@router.get("/receive", operation_id="see_receive")
def receive(
    look: Looking,
    consignment: Name | None = None,
    scanned: Annotated[str | None, Query(max_length=120)] = None,
) -> Response:
    """Show what is on its way here, or one consignment to be counted in.

    A scanned container opens the consignment in which it is under way.
    """
    if consignment is not None:
        return _receipt(look, consignment)
    why = ""
    if scanned is not None:
        try:
            travels_in = plant.travels_in(look.store, look.caller, scanned, look.now)
        except (ValueError, NotFoundError) as error:
            why = str(error)
        else:
            return RedirectResponse(f"/receive?{urlencode({'consignment': travels_in})}", 303)
    way = plant.under_way(look.store, look.caller)
    return look.page("receive_list.html", way=way, why=why, **_words(look))


def _receipt(look: Look, consignment: str) -> HTMLResponse:
    expected = plant.expected(look.store, look.caller, consignment)
    rows = plant.rows_of(look.store, look.caller, expected.consignment)
    parties = _parties(look)
    return look.page(
        "receive.html",
        expected=expected,
        cargo=expected.consignment.cargo,
        rows=rows,
        parties=parties,
        party=expected.consignee,
        **_words(look),
    )


@router.get("/receive/check", operation_id="see_receive")
def check_receipt(
    look: Looking,
    consignment: Name,
    party: Name,
    code: Codes,
    weight_g: Weights = [],  # noqa: B006 - read only
    scale: Name | None = None,
    seal: Name | None = None,
    seal_intact: bool | None = None,
) -> HTMLResponse:
    """Show what would be flagged if these were received now: part of a page.

    ``weight_g`` stands for the code in the same place; 0 is: not weighed.
    """
    weights = [*weight_g, *([0] * len(code))]
    cargo = {
        row.container: row
        for row in plant.expected(look.store, look.caller, consignment).consignment.cargo
    }

    def received(container: str, weight: int) -> Received:
        return Received(
            id=uuid4(), containers=(container,), occurred_at=look.now, actor=look.caller.name,
            party=party, consignment=consignment, weight_g=weight or None,
            scale=scale if weight else None, seal=seal, seal_intact=seal_intact,
        )  # fmt: skip

    looked = [
        _looked(look, one, lambda c, w=weight: received(c, w))
        for one, weight in zip(code, weights, strict=False)
    ]
    return look.page("receive_check.html", looked=looked, cargo=cargo, **_words(look))


@router.get("/load", operation_id="see_load")
def load(look: Looking) -> HTMLResponse:
    """Show how a load is put together, scanned and recorded."""
    rules = lookup.rules(look.store, look.caller)
    day = look.site.local_day(look.now)
    listed = {
        act
        for route in rules.regime.route
        if route.in_force(day)
        for s in route.stages
        for act in s
    }
    return look.page(
        "load.html",
        parties=_parties(look),
        machines=cycles.machines(look.store, look.caller),
        steps=[s for s in Step if s in listed],
        other_steps=[s for s in Step if s not in listed],
        **_words(look),
    )


@router.get("/load/check", operation_id="see_load")
def check_load(look: Looking, step: Step, party: Name, code: Codes) -> HTMLResponse:
    """Show whether these may go into a load, with the reason when not: part of a page."""

    def treated(container: str) -> Treated:
        return Treated(
            id=uuid4(), containers=(container,), occurred_at=look.now, actor=look.caller.name,
            step=step, party=party, cycle="-",
        )  # fmt: skip

    looked = [_looked(look, one, treated) for one in code]
    return look.page("load_check.html", looked=looked, step=step, **_words(look))


def _looked(look: Look, code: str, event: Any) -> dict[str, Any]:
    """Give what a code is, and what would be flagged of it; or why it cannot be read."""
    try:
        coded: Coded = finding.coded(look.store, look.caller, code)
    except ValueError as error:
        return {"code": code, "why": str(error), "one": None, "flagged": (), "seal": ()}
    made: Event = event(coded.container)
    one: Foreseen = plant.foresee(look.store, look.caller, coded, made, look.now)
    seal = [v for v in one.violations if v.code is Code.TRANSPORT_SEAL_CHANGED]
    flagged: list[Violation] = [v for v in one.violations if v not in seal]
    return {"code": code, "why": "", "one": one, "flagged": flagged, "seal": seal}


def _parties(look: Look) -> tuple[Party, ...]:
    """Those that the person may act for, plants first."""
    found = plant.acting(lookup.rules(look.store, look.caller), look.caller)
    return tuple(sorted(found, key=lambda p: p.kind != "plant"))


def _words(look: Look) -> dict[str, Any]:
    rules = lookup.rules(look.store, look.caller)

    def moment(at: datetime) -> str:
        return look.language.moment(at, look.site.zone)

    return {
        "kinds": KINDS,
        "grouped": grouped,
        "name_of": lambda id_: name_of(look.site, id_),
        "category_of": lambda id_, at: category_of(rules, id_, at),
        "moment": moment,
    }
