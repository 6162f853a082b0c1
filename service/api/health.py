"""Whether the service can work; the one door without a token."""

import asyncio

from fastapi import APIRouter

from service.api.doors import Here
from service.api.problems import documented
from service.api.views import Health
from service.duties import lookup
from service.duties.access import BusyError

router = APIRouter(tags=["health"])


@router.get(
    "/health",
    summary="Ask whether the service can work",
    operation_id="health",
    responses=documented(503),
)
async def health(here: Here) -> Health:
    """Answer 200 if the database answers, else 503."""
    # In a thread of another pool than the requests', which may all be taken.
    if not await asyncio.to_thread(lookup.answers, here.store):
        raise BusyError("the database does not answer")
    return Health()
