"""Whether the service can work; the one door without a token."""

from typing import Annotated

from fastapi import APIRouter, Depends

from service.api.doors import House, house
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
def health(here: Annotated[House, Depends(house)]) -> Health:
    """Answer 200 if the database answers, else 503."""
    if not lookup.answers(here.store):
        raise BusyError("the database does not answer")
    return Health()
