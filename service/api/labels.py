"""Labels: reserve ids and print them blank, print filled ones, list the stocks."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated

from fastapi import APIRouter, Header, Response

from service.api.bodies import read_as, schema
from service.api.doors import Known, Submitted
from service.api.examples import FILLED_LABEL_ORDER, LABEL_ORDER
from service.api.negotiation import preferred
from service.api.problems import UnfitError, documented
from service.api.views import FilledLabelOrder, LabelOrder, LabelsReserved, LabelStock
from service.custody.identifiers import typed
from service.duties import ward

PDF, JSON = "application/pdf", "application/json"
_FILE = {"schema": {"type": "string", "format": "binary"}}
_RESERVED = {"schema": {"$ref": "#/components/schemas/LabelsReserved"}}

router = APIRouter(prefix="/v1/labels", tags=["labels"])


@router.post(
    "",
    summary="Reserve ids and print blank labels",
    operation_id="print_blank_labels",
    response_class=Response,
    responses={
        200: {
            "description": "The labels as PDF, or the ids and codes as JSON",
            "content": {PDF: _FILE, JSON: _RESERVED},
        },
        **documented(403, 406, 413, 422),
    },
    openapi_extra=schema("LabelOrder", examples=LABEL_ORDER),
)
def print_blank(
    call: Known, submitted: Submitted, accept: Annotated[str, Header()] = PDF
) -> Response:
    """Reserve ids, record a `labelled` event, and give the sheets or the roll as PDF.

    With `Accept: application/json` only the ids and the codes to print are given. The same `id`
    again gives the same labels: nothing is reserved twice.
    """
    form = preferred(accept, (PDF, JSON))
    order = read_as(LabelOrder, submitted)
    asked = ward.BlankLabels(order.id, order.count, order.stock, call.label_url, order.actor)
    with _unfit():
        if form == PDF:
            return _paper(ward.blank_labels(call.store, call.caller, asked, call.now)[1])
        codes = ward.reserve(call.store, call.caller, asked, call.now)
    reserved = LabelsReserved(ids=tuple(codes), codes=tuple(codes.values()))
    return Response(reserved.model_dump_json(), media_type=JSON)


@router.post(
    "/filled",
    summary="Print labels of registered containers",
    operation_id="print_filled_labels",
    response_class=Response,
    responses={
        200: {
            "description": "The labels",
            "content": {PDF: _FILE},
            "headers": {
                "Custody-Shortened": {
                    "description": "Fields that the stock has no room to print in full.",
                    "schema": {"type": "string"},
                }
            },
        },
        **documented(403, 404, 413, 422),
    },
    openapi_extra=schema("FilledLabelOrder", examples=FILLED_LABEL_ORDER),
)
def print_filled(call: Known, submitted: Submitted) -> Response:
    """Give labels with all that the regime asks for: category, colour, unit, time, weight."""
    order = read_as(FilledLabelOrder, submitted)
    ids = [typed(container) for container in order.containers]
    with _unfit():
        pdf, shortened = ward.filled_labels(
            call.store, call.caller, ids, order.stock, call.label_url, call.now
        )
    answer = _paper(pdf)
    if shortened:
        answer.headers["Custody-Shortened"] = " ".join(shortened)
    return answer


@router.get(
    "/stocks",
    summary="List the label stocks",
    operation_id="list_label_stocks",
)
def stocks(_: Known) -> list[LabelStock]:
    """Give the sheets and rolls that labels can be printed on."""
    return [LabelStock.model_validate(stock) for stock in ward.stocks()]


def _paper(content: bytes) -> Response:
    return Response(content, media_type=PDF, headers={"Content-Disposition": "inline"})


@contextmanager
def _unfit() -> Iterator[None]:
    """Hand on what the duty says of an order that cannot be printed."""
    try:
        yield
    except ValueError as error:
        raise UnfitError(str(error)) from error
