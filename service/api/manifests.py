"""The quarter's manifest, in the form that is asked for."""

from typing import Annotated

from fastapi import APIRouter, Header, Path, Response

from service.api.doors import Call, Known
from service.api.epcis import CONTENT, Streamed
from service.api.negotiation import preferred
from service.api.problems import UnfitError, documented
from service.duties import exchange, officer
from service.duties.access import MAY_READ_ALL, demand
from service.manifests.quarter import QuarterError

FORMS: dict[str, officer.Form] = {
    "application/zip": "zip",
    "application/pdf": "pdf",
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet": "xlsx",
    "text/csv": "csv",
}
_FILE = {"schema": {"type": "string", "format": "binary"}}

router = APIRouter(prefix="/v1/manifests", tags=["manifests"])


@router.get(
    "/{quarter}",
    summary="Fetch a quarter's manifest",
    operation_id="fetch_manifest",
    response_class=Response,
    responses={
        200: {
            "description": "The manifest",
            "content": dict.fromkeys(FORMS, _FILE) | CONTENT,
        },
        **documented(403, 406, 422),
    },
)
def fetch(
    call: Known,
    quarter: Annotated[
        str, Path(pattern="^[0-9]{4}-Q[1-4]$", description="As 2026-Q3.", examples=["2026-Q3"])
    ],
    accept: Annotated[str, Header()] = "application/zip",
) -> Response:
    """Give all of it as a ZIP archive, or one paper: PDF, spreadsheet or CSV.

    Or what happened in the quarter, as a document of GS1 EPCIS 2.0 events in JSON-LD. For officers
    and inspectors. The quarter is of the facility's own calendar.
    """
    demand(call.caller, MAY_READ_ALL, "the manifest")
    media = preferred(accept, (*FORMS, exchange.MEDIA_TYPE))
    file = f"custody-{call.caller.facility}-{quarter}"
    if media == exchange.MEDIA_TYPE:
        return _events(call, quarter, file)
    form = FORMS[media]
    try:
        paper = officer.paper(call.store, call.caller, quarter, form, call.now)
    except ValueError as error:
        raise UnfitError(str(error)) from error
    name = f'attachment; filename="{file}.{form}"'
    return Response(paper, media_type=media, headers={"Content-Disposition": name})


def _events(call: Call, quarter: str, file: str) -> Response:
    try:
        parts = exchange.quarter(call.store, call.caller, quarter, call.now, call.label_url)
    except QuarterError as error:
        raise UnfitError(str(error)) from error
    return Streamed(parts, file)
