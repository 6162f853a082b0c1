"""The record of a period as EPCIS 2.0 events."""

from contextlib import closing
from typing import Annotated, BinaryIO

from fastapi import APIRouter, Query, Response
from pydantic import BaseModel, ConfigDict, Field

from service.api.doors import Known
from service.api.problems import UnfitError, documented
from service.api.spooled import Spooled
from service.custody.fields import Instant
from service.duties import exchange

router = APIRouter(prefix="/v1/epcis", tags=["manifests"])

CONTENT = {exchange.MEDIA_TYPE: {"schema": {"type": "object"}}}


class PeriodAsked(BaseModel):
    """The period asked for."""

    model_config = ConfigDict(extra="forbid")

    from_: Instant = Field(alias="from", description="The first instant.")
    until: Instant = Field(description="The first instant after it.")


@router.get(
    "",
    summary="Export a period as EPCIS events",
    operation_id="export_epcis",
    response_class=Response,
    responses={
        200: {"description": "An EPCIS 2.0 document in JSON-LD", "content": CONTENT},
        **documented(403, 422),
    },
)
def exported(call: Known, asked: Annotated[PeriodAsked, Query()]) -> Spooled:
    """Give what happened in a period as a document of GS1 EPCIS 2.0, corrections declared.

    For officers and inspectors.
    """
    period = asked.from_, asked.until
    try:
        parts = exchange.epcis(call.store, call.caller, period, call.now, call.label_url)
    except exchange.PeriodError as error:
        raise UnfitError(str(error)) from error
    days = "-".join(f"{at:%Y%m%dT%H%M%SZ}" for at in period)
    return in_a_file(parts, f"custody-{call.caller.facility}-{days}.jsonld")


def in_a_file(parts: exchange.Parts, name: str) -> Spooled:
    """Give a document in answer."""

    def write(file: BinaryIO) -> None:
        with closing(parts):
            file.writelines(parts)

    return Spooled(write, name, exchange.MEDIA_TYPE)
