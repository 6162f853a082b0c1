"""The quarter's manifest, in the form that is asked for."""

from functools import partial
from typing import Annotated

from fastapi import APIRouter, Header, Path, Response

from service.api.doors import Known
from service.api.epcis import CONTENT, in_a_file
from service.api.negotiation import preferred
from service.api.problems import UnfitError, documented
from service.api.spooled import Spooled
from service.duties import evidence, exchange, officer
from service.manifests.quarter import QuarterError

BUNDLE = "application/zip"
FORMS: dict[str, officer.Form] = {
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
            "content": dict.fromkeys((BUNDLE, *FORMS), _FILE) | CONTENT,
        },
        **documented(403, 406, 422, 503),
    },
)
def fetch(
    call: Known,
    quarter: Annotated[
        str, Path(pattern="^[0-9]{4}-Q[1-4]$", description="As 2026-Q3.", examples=["2026-Q3"])
    ],
    accept: Annotated[str, Header()] = "application/zip",
) -> Response:
    """Give all of it with what proves it as a ZIP archive, or one paper: PDF, spreadsheet or CSV.

    Or what happened in the quarter, as a document of GS1 EPCIS 2.0 events in JSON-LD. The archive
    is checked with `custody verify`, or by hand as a text in it says. For officers and inspectors.
    The quarter is of the facility's own calendar.
    """
    media = preferred(accept, (BUNDLE, *FORMS, exchange.MEDIA_TYPE))
    file = f"custody-{call.caller.facility}-{quarter}"
    try:
        if media == BUNDLE:
            write = partial(evidence.bundle, call.keeping, call.caller, quarter, call.now)
            return Spooled(write, f"{file}.zip", media)
        if media == exchange.MEDIA_TYPE:
            parts = exchange.quarter(call.store, call.caller, quarter, call.now, call.label_url)
            return in_a_file(parts, f"{file}.jsonld")
        paper = officer.paper(call.store, call.caller, quarter, FORMS[media], call.now)
    except QuarterError as error:
        raise UnfitError(str(error)) from error
    name = f'attachment; filename="{file}.{FORMS[media]}"'
    return Response(paper, media_type=media, headers={"Content-Disposition": name})
