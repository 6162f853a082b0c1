"""The pages of cycles: those that were run, one with its trace and verdict, and the machines."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from service.custody.identifiers import grouped
from service.duties import cycles
from service.duties.cycles import CycleFilter
from service.duties.figures import usual_period
from service.pages.frame import Look, Looking, PageRoute
from service.pages.happenings import KINDS, name_of
from service.pages.trace_chart import trace_chart

router = APIRouter(route_class=PageRoute, include_in_schema=False)

LATEST = 50
TESTS_SHOWN = 5

VERDICTS = {
    "pass": ("good", "passed"),
    "fail": ("unsafe", "failed"),
    "cannot_be_judged": ("wrong", "cannot be judged"),
    "no_trace": ("late", "no trace yet"),
}
"""Each verdict as people say it, with the look of its mark."""


@router.get("/cycles", operation_id="see_cycles")
def latest(look: Looking, machine: str = "") -> HTMLResponse:
    """Show the cycles run last, each with its verdict."""
    asked = CycleFilter(machine or None, latest=True, limit=LATEST)
    found = cycles.cycles(look.store, look.caller, asked)
    days = usual_period(look.store, look.caller, look.now, None, None)
    loose = cycles.untied_evidence(look.store, look.caller, days)
    return look.page(
        "cycles.html", cycles=found, machine=machine, days=days, loose=loose, **_words(look)
    )


@router.get("/cycles/{cycle:path}", operation_id="see_cycle")
def one(look: Looking, cycle: str) -> HTMLResponse:
    """Show a cycle: its verdict and why, its traces drawn, its load, what the register has."""
    view = cycles.cycle(look.store, look.caller, cycle)
    charts = [trace_chart(t.curves, t.figures) if t.curves else None for t in view.traces]
    return look.page(
        "cycle.html",
        view=view,
        proof=view.proof,
        run=view.cycle.run,
        traces=list(zip(view.traces, charts, strict=True)),
        may_record=cycles.may_attach(look.caller),
        **_words(look),
    )


@router.get("/machines", operation_id="see_machines")
def machines(look: Looking) -> HTMLResponse:
    """Show the register of machines with their last spore tests."""
    held = cycles.machines(look.store, look.caller)
    tests = {m.id: cycles.spore_tests(look.store, look.caller, m, TESTS_SHOWN) for m in held}
    day = look.site.local_day(look.now)
    return look.page(
        "machines.html",
        machines=held,
        tests=tests,
        valid={
            m.id: (
                max((i.until for i in m.validation if i.on <= day), default=None),
                max((i.until for i in m.calibration if i.on <= day), default=None),
            )
            for m in held
        },
        today=day,
        may_record=cycles.may_attach(look.caller),
        **_words(look),
    )


def _words(look: Look) -> dict[str, Any]:
    return {
        "verdicts": VERDICTS,
        "kinds": KINDS,
        "grouped": grouped,
        "name_of": lambda id_: name_of(look.site, id_),
        "moment": lambda at: look.language.moment(at, look.site.zone),
    }
