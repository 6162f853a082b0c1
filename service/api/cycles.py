"""Cycles of machines: record a run with its load, attach its trace, see what it proves."""

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, HTTPException, Path, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.bodies import schema
from service.api.cycle_views import (
    CycleDetail,
    CycleRecorded,
    CyclesPage,
    CycleSummary,
    TraceKept,
    Verdict,
)
from service.api.doors import Known, Submitted
from service.api.events import DeviceTime, told
from service.api.examples import CYCLE_ORDER
from service.api.paging import Page
from service.api.problems import UnfitError, documented
from service.api.views import EventOutcome
from service.custody.cycle_events import Digest
from service.custody.fields import Name
from service.duties import cycles
from service.duties.cycles import CycleFilter, TooLargeError
from service.web.house import Here

router = APIRouter(prefix="/v1/cycles", tags=["cycles"])

_FILE: dict[str, Any] = {
    "text/csv": {
        "schema": {"type": "string"},
        "examples": {"a logger's file": {"value": "time_s,temperature_c,pressure_kpa\n0,25,101\n"}},
    }
}
CycleId = Annotated[str, Path(examples=["K-88"])]


class CyclesAsked(Page):
    """Which cycles, and where to go on in the list."""

    machine: Name | None = Field(default=None, description="Of this machine alone.")
    verdict: Verdict | None = Field(default=None, description="With this verdict alone.")
    after: Name | None = Field(default=None, description="`next` of the page before.")


@router.post(
    "",
    status_code=201,
    summary="Record a cycle with its load",
    operation_id="run_cycle",
    responses={
        200: {"description": "The same was recorded before", "model": CycleRecorded},
        **documented(403, 413, 422),
    },
    openapi_extra=schema("CycleOrder", examples=CYCLE_ORDER),
)
def run(
    call: Known, submitted: Submitted, response: Response, device_time: DeviceTime = None
) -> CycleRecorded:
    """Record that a machine ran a cycle, and what was in it.

    The body is a `cycle_run` event with `containers`; these become one `treated` event. Without a
    number of its own the cycle is given one. By trained operators only: pressure vessels and fire.
    """
    if not isinstance(submitted, dict):
        raise UnfitError("the body is not an object")
    if submitted.get("kind", "cycle_run") != "cycle_run":
        raise UnfitError("only a 'cycle_run' event records a cycle")
    name, outcomes = cycles.run_cycle(call.store, call.caller, submitted, told(call, device_time))
    shown = [EventOutcome.of(outcome, call.now) for outcome in outcomes]
    refused = next((one for one in shown if one.outcome == "refused"), None)
    if refused is not None:
        every = [one.model_dump(mode="json") for one in shown]
        raise UnfitError(refused.reason, outcomes=every)
    if all(one.outcome == "repeated" for one in shown):
        response.status_code = 200
    response.headers["Location"] = f"/v1/cycles/{quote(name, safe='')}"
    return CycleRecorded(cycle=name, outcomes=shown)


@router.get("", summary="List cycles", operation_id="list_cycles", responses=documented(403, 422))
def listed(call: Known, asked: Annotated[CyclesAsked, Query()]) -> CyclesPage:
    """Give cycles by number, each with its verdict and why."""
    wanted = CycleFilter(asked.machine, asked.verdict, asked.after, limit=asked.limit)
    found = cycles.cycles(call.store, call.caller, wanted)
    return CyclesPage(
        cycles=[CycleSummary.of(proof) for proof in found],
        next=found[-1].cycle if len(found) == asked.limit else None,
    )


async def _brought(request: Request, _: Known) -> bytes:
    return await request.body()


@router.put(
    "/{cycle:path}/trace",
    summary="Attach a trace",
    operation_id="attach_trace",
    responses=documented(403, 404, 413, 422),
    openapi_extra={"requestBody": {"required": True, "content": _FILE}},
)
def attach(
    call: Known,
    here: Here,
    request: Request,
    cycle: CycleId,
    content: Annotated[bytes, Depends(_brought)],
) -> TraceKept:
    """Keep a logger's file of a cycle, and judge the cycle by it.

    CSV, or JSON with `Content-Type: application/json`; see the page on treatment for its columns.
    The same bytes again change nothing; other bytes are a further trace, and both are kept: one
    that fails outweighs one that passes. What cannot be judged is kept too, and it is said why.
    """
    kind = request.headers.get("content-type", "")
    try:
        outcome = cycles.attach_trace(
            call.store, call.caller, cycle, content, kind, told(call, None), here.trace_bytes_max
        )
    except TooLargeError as error:
        raise HTTPException(413, str(error)) from error
    except ValueError as error:
        raise UnfitError(str(error)) from error
    if outcome.outcome == "refused":
        raise UnfitError(outcome.reason)
    view = cycles.cycle(call.store, call.caller, cycle)
    return TraceKept(outcome=EventOutcome.of(outcome, call.now), cycle=CycleDetail.of_view(view))


class TraceAsked(BaseModel):
    """Which of a cycle's traces."""

    model_config = ConfigDict(extra="forbid")

    sha256: Digest | None = Field(
        default=None, description="That of these bytes; left out, the one attached last."
    )


@router.get(
    "/{cycle:path}/trace",
    summary="Fetch a trace",
    operation_id="fetch_trace",
    response_class=Response,
    responses={
        200: {
            "description": "The file as it came",
            "content": {"text/csv": {}, "application/json": {}},
        },
        **documented(403, 404, 422),
    },
)
def fetch(call: Known, cycle: CycleId, asked: Annotated[TraceAsked, Query()]) -> Response:
    """Give the bytes of a trace, of which the record holds the hash."""
    content, kind, digest = cycles.trace(call.store, call.caller, cycle, asked.sha256)
    name = f"{digest[:16]}.{'json' if kind == 'application/json' else 'csv'}"
    return Response(
        content, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )


@router.get(
    "/{cycle:path}",
    summary="Look up one cycle",
    operation_id="look_up_cycle",
    responses=documented(403, 404, 422),
)
def one(call: Known, cycle: CycleId) -> CycleDetail:
    """Give a cycle with its load, its evidence, its verdict and the lines of its traces."""
    return CycleDetail.of_view(cycles.cycle(call.store, call.caller, cycle))
