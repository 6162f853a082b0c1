"""Events: record one or many, and read the record in order of arrival."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Header, Query, Response
from fastapi.concurrency import run_in_threadpool
from pydantic import Field, TypeAdapter

from service.api.bodies import schema
from service.api.container_views import EntriesPage, NumberedEntry
from service.api.doors import Call, Known, Submitted
from service.api.event_examples import EVENTS
from service.api.paging import Page
from service.api.problems import UnfitError, documented
from service.api.views import EventOutcome
from service.custody.events import CLOCK_TOLERANCE
from service.custody.fields import Instant
from service.duties import lookup
from service.duties.access import note_refusal
from service.duties.record import Submission, Told, submit_events, submitting
from service.web.answers import answered, asked

router = APIRouter(prefix="/v1/events", tags=["events"])
FEW = 20
"""Events that others may wait for: a longer list is read by a thread of its own."""
_OUTCOMES = TypeAdapter(list[EventOutcome])

DeviceTime = Annotated[
    Instant | None,
    Header(
        alias="Custody-Device-Time",
        description="The sending device's own time at sending, RFC 3339 with zone. How far it is "
        "off the service's is kept with each event; more than "
        f"{CLOCK_TOLERANCE.seconds} s off, times are put right.",
    ),
]


class EntriesAsked(Page):
    """Where to go on in the record."""

    after: int = Field(
        default=0, ge=0, lt=2**63, description="Entries after this one; `next` of the last answer."
    )


@router.post(
    "",
    summary="Record what happened",
    operation_id="record_events",
    responses=documented(403, 422),
    response_model=list[EventOutcome],
    openapi_extra=schema("EventOrEvents", examples=EVENTS),
)
async def record(call: Known, submitted: Submitted, device_time: DeviceTime = None) -> Response:
    """Record one event, or a list of up to 2,000, and tell what became of each, in order.

    An event is `recorded`, `repeated` (its id is on record with the same content: send again
    without fear), or `refused` with the reason. One that is refused does not stop the others: a
    list is always answered with 200. A single event that is refused is answered with 422. What is
    recorded is on disk when the answer comes. Breaking a rule is no reason to refuse: it is
    recorded, and `violations` says which rule, and what to do next.
    """
    if not isinstance(submitted, dict | list):
        raise UnfitError("the body is neither an event (an object) nor a list of events")
    events = submitted if isinstance(submitted, list) else [submitted]
    submission = await _submitted(call, events, told(call, device_time))
    if submission.turned_away:
        await run_in_threadpool(note_refusal, call.store, call.caller, "record_events", call.now)
    await answered(submission.written)
    outcomes = [EventOutcome.of(outcome, call.now) for outcome in submission.outcomes()]
    if isinstance(submitted, dict) and outcomes[0].outcome == "refused":
        raise UnfitError(outcomes[0].reason, outcome=outcomes[0].model_dump(mode="json"))
    return Response(_OUTCOMES.dump_json(outcomes), media_type="application/json")


async def _submitted(call: Call, events: list[Any], told: Told) -> Submission:
    """Have events recorded. No thread waits for the disk, and few events take none of their own:
    under load most of the time went into handing each request from thread to thread.
    """
    if len(events) <= FEW:
        return await asked(call.store, submitting(call.store, call.caller, events, told))
    return await run_in_threadpool(submit_events, call.store, call.caller, events, told)


def told(call: Call, device_time: datetime | None) -> Told:
    """Give the service's time and how many whole seconds the device's clock is ahead of it."""
    ahead = (device_time - call.now).total_seconds() if device_time else 0
    return Told(call.now, round(ahead))


@router.get(
    "",
    summary="Read the record",
    operation_id="read_record",
    responses=documented(403, 422),
)
def read(call: Known, asked: Annotated[EntriesAsked, Query()]) -> EntriesPage:
    """Give every entry in order of arrival, from `after` on.

    For officers and inspectors. `next` is always given: ask again with it for what came since.
    """
    found = lookup.entries_after(call.store, call.caller, asked.after, asked.limit)
    return EntriesPage(
        entries=[NumberedEntry.of(entry, seq=seq) for seq, entry in found],
        next=found[-1][0] if found else asked.after,
    )
