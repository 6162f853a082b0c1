"""The record of a period as EPCIS 2.0 events, sent as it is read."""

from contextlib import suppress
from itertools import chain
from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import StreamingResponse
from pydantic import BaseModel, ConfigDict, Field
from starlette.requests import ClientDisconnect
from starlette.types import Receive, Scope, Send

from service.api.doors import Known
from service.api.problems import UnfitError, documented
from service.custody.fields import Instant
from service.duties import exchange
from service.duties.access import MAY_READ_ALL, demand

router = APIRouter(prefix="/v1/epcis", tags=["manifests"])

CONTENT = {exchange.MEDIA_TYPE: {"schema": {"type": "object"}}}


class PeriodAsked(BaseModel):
    """The period asked for."""

    model_config = ConfigDict(extra="forbid")

    from_: Instant = Field(alias="from", description="The first instant.")
    until: Instant = Field(description="The first instant after it.")


class Streamed(StreamingResponse):
    """A file sent as it is made; its source is closed however the sending ends.

    The first part is made before anything is sent, so that what cannot begin is told as a problem.
    """

    def __init__(self, parts: exchange.Parts, name: str, media_type: str) -> None:
        self._parts = parts
        begun = chain([next(parts)], parts)
        shown = f'attachment; filename="{name}"'
        super().__init__(begun, media_type=media_type, headers={"Content-Disposition": shown})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send it."""
        try:
            with suppress(ClientDisconnect):  # nobody is left to be told
                await super().__call__(scope, receive, send)
        finally:
            self._parts.close()  # ends a reading, if a client hung up before it ended itself


@router.get(
    "",
    summary="Export a period as EPCIS events",
    operation_id="export_epcis",
    response_class=StreamingResponse,
    responses={
        200: {"description": "An EPCIS 2.0 document in JSON-LD", "content": CONTENT},
        **documented(403, 422),
    },
)
def exported(call: Known, asked: Annotated[PeriodAsked, Query()]) -> Streamed:
    """Give what happened in a period as a document of GS1 EPCIS 2.0, corrections declared.

    For officers and inspectors. An answer that breaks off is not whole: its JSON does not end.
    """
    demand(call.caller, MAY_READ_ALL, "the record as EPCIS events")
    period = asked.from_, asked.until
    try:
        parts = exchange.epcis(call.store, call.caller, period, call.now, call.label_url)
    except exchange.PeriodError as error:
        raise UnfitError(str(error)) from error
    days = "-".join(f"{at:%Y%m%dT%H%M%SZ}" for at in period)
    return Streamed(parts, f"custody-{call.caller.facility}-{days}.jsonld", exchange.MEDIA_TYPE)
