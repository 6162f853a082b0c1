"""Consignments: close one, list them, and see what each carried and what became of it."""

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Path, Query, Response
from pydantic import Field

from service.api.bodies import schema
from service.api.consignment_views import ConsignmentClosed, ConsignmentsPage, ConsignmentView
from service.api.doors import Known, Submitted
from service.api.event_examples import CONSIGNMENT
from service.api.events import DeviceTime, told
from service.api.examples import CONSIGNMENT_ORDER
from service.api.paging import Page
from service.api.problems import UnfitError, documented
from service.api.views import EventOutcome
from service.custody.fields import Name
from service.duties import handler, lookup

router = APIRouter(prefix="/v1/consignments", tags=["consignments"])


class ConsignmentsAsked(Page):
    """Where to go on in the list."""

    after: Name | None = Field(default=None, description="`next` of the page before.")


@router.post(
    "",
    status_code=201,
    summary="Close a consignment",
    operation_id="close_consignment",
    responses={
        200: {
            "description": "It was closed before by the same request",
            "model": ConsignmentClosed,
        },
        **documented(403, 413, 422),
    },
    openapi_extra=schema("ConsignmentOrder", examples=CONSIGNMENT_ORDER),
)
def close(
    call: Known, submitted: Submitted, response: Response, device_time: DeviceTime = None
) -> ConsignmentClosed:
    """Record that containers leave together: carrier, consignee, vehicle, seal.

    The body is a `dispatched` event; without a number of its own the consignment is given one. The
    same `id` again is answered with 200 and the same number. Call the carrier's emergency contact
    and follow the local code for spills; this record replaces no transport document.
    """
    if not isinstance(submitted, dict):
        raise UnfitError("the body is not an object")
    if submitted.get("kind", "dispatched") != "dispatched":
        raise UnfitError("only a 'dispatched' event closes a consignment")
    number, outcome = handler.dispatch(call.store, call.caller, submitted, told(call, device_time))
    shown = EventOutcome.of(outcome, call.now)
    if shown.outcome == "refused":
        raise UnfitError(shown.reason, outcome=shown.model_dump(mode="json"))
    if shown.outcome == "repeated":
        response.status_code = 200
    response.headers["Location"] = f"/v1/consignments/{quote(number, safe='')}"
    return ConsignmentClosed(consignment=number, outcome=shown)


@router.get(
    "",
    summary="List consignments",
    operation_id="list_consignments",
    responses=documented(422),
)
def listed(call: Known, asked: Annotated[ConsignmentsAsked, Query()]) -> ConsignmentsPage:
    """Give consignments by number, each with its containers."""
    found = lookup.consignments(call.store, call.caller, asked.after, asked.limit)
    return ConsignmentsPage(
        consignments=[ConsignmentView.of(consignment) for consignment in found],
        next=found[-1].id if len(found) == asked.limit else None,
    )


@router.get(
    "/{consignment:path}",
    summary="Look up one consignment",
    operation_id="look_up_consignment",
    responses=documented(404, 422),
)
def one(call: Known, consignment: Annotated[str, Path(examples=[CONSIGNMENT])]) -> ConsignmentView:
    """Give who carried it where under which seal, and each container with both weights."""
    return ConsignmentView.of(lookup.consignment(call.store, call.caller, consignment))
