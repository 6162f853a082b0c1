"""Returns to authorities: when they are due, and each filled from the record."""

from datetime import date
from typing import Annotated, Literal, Self

from fastapi import APIRouter, Header, Path, Response

from service.api.doors import Known
from service.api.negotiation import preferred
from service.api.problems import UnfitError, documented
from service.api.views import View
from service.duties import returns
from service.duties.returns import Due
from service.manifests.quarter import QuarterError
from service.manifests.returned import Return

JSON = "application/json"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

router = APIRouter(prefix="/v1/returns", tags=["returns"])


class DueView(View):
    """A return for the period that ended last; ``due_on`` null: the text names no day."""

    id: str
    title: str
    period: str
    due_on: date | None
    days_left: int | None
    to: str
    clause: str

    @classmethod
    def of(cls, due: Due) -> Self:
        """Show what is due."""
        return cls(
            id=due.rule.id,
            title=due.rule.title,
            period=due.period,
            due_on=due.due_on,
            days_left=due.days_left,
            to=due.rule.to,
            clause=due.rule.clause,
        )


class AtOnceView(View):
    """A report that an event calls for, within hours of it."""

    id: str
    title: str
    due_hours: int | None
    to: str
    clause: str
    note: str


class ReturnsList(View):
    """What is due, the next first; whether a return was sent is not in the record."""

    due: list[DueView]
    at_once: list[AtOnceView]


class LineView(View):
    """A line of a field."""

    of: str
    value: str


class FieldView(View):
    """A field of the form; ``said`` is null where it is not in the record."""

    name: str
    status: Literal["from the record", "not in the record"]
    said: list[LineView] | None


class ReturnView(View):
    """A return, as far as the record fills it."""

    id: str
    title: str
    period: str
    first: date
    last: date
    due_on: date | None
    to: str
    clause: str
    source: str
    verified: Literal["read", "memory", "policy"]
    confidence: Literal["high", "medium", "low"]
    fields: list[FieldView]
    notes: list[str]

    @classmethod
    def of(cls, filled: Return) -> Self:
        """Show a return."""
        fields = [
            FieldView(
                name=f.name,
                status="not in the record" if f.said is None else "from the record",
                said=None if f.said is None else [LineView.model_validate(s) for s in f.said],
            )
            for f in filled.fields
        ]
        given = {n: getattr(filled, n) for n in cls.model_fields if n not in ("fields", "notes")}
        return cls(**given, fields=fields, notes=list(filled.notes))


@router.get(
    "",
    summary="List returns that are due",
    operation_id="list_returns",
    responses=documented(403),
)
def listed(call: Known) -> ReturnsList:
    """Give the returns for the periods that ended last, and the reports an event calls for."""
    due = returns.due(call.store, call.caller, call.now)
    at_once = returns.at_once(call.store, call.caller, call.now)
    return ReturnsList(
        due=[DueView.of(one) for one in due],
        at_once=[AtOnceView.model_validate(rule) for rule in at_once],
    )


@router.get(
    "/{return_id}/{period}",
    summary="Fill a return",
    operation_id="fill_return",
    response_model=ReturnView,
    responses={
        200: {"description": "The return", "content": {XLSX: {"schema": {"type": "string"}}}},
        **documented(403, 404, 406, 422),
    },
)
def fill(
    call: Known,
    return_id: Annotated[str, Path(max_length=64, examples=["form-iv"])],
    period: Annotated[
        str,
        Path(
            pattern=r"^[0-9]{4}(-Q[1-4]|-[0-9]{2}(-[0-9]{2})?)?$",
            description="As 2026, 2026-Q3 or 2026-07; of an event its day, 2026-07-31.",
            examples=["2026"],
        ),
    ],
    accept: Annotated[str, Header()] = JSON,
) -> Response | ReturnView:
    """Give a return filled from the record, as JSON or as a workbook by `Accept`.

    What the record does not hold is named and left open. Whoever signs the return answers for it.
    """
    media = preferred(accept, (JSON, XLSX))
    try:
        if media == JSON:
            return ReturnView.of(returns.fill(call.store, call.caller, return_id, period))
        paper = returns.paper(call.store, call.caller, return_id, period, call.now)
    except QuarterError as error:
        raise UnfitError(str(error)) from error
    name = f'attachment; filename="{return_id}-{period}.xlsx"'
    return Response(paper, media_type=media, headers={"Content-Disposition": name})
