"""The access log: who came in, who was turned away, who changed what others may do."""

import json
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import PlainTextResponse
from pydantic import Field

from service.access.entries import AccessKind
from service.api.doors import Known
from service.api.paging import Page
from service.api.problems import documented
from service.api.views import View
from service.duties import administrator, evidence

router = APIRouter(prefix="/v1/access-log", tags=["access log"])

_NOTE = """custody.example/amber-hill.access
2
W0r5fFEcZaRtsV/M4K8OQnYI1pHOSJ9uYZ8Kx1nvxLs=

— custody.example/amber-hill.access ...
"""
_SIGNED: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "A signed checkpoint",
        "content": {"text/plain": {"schema": {"type": "string"}, "example": _NOTE}},
    }
}


class AccessEntryView(View):
    """One entry, with its number; ``entry`` is what its leaf in the log is made of."""

    seq: int
    entry: dict[str, Any]


class AccessPage(View):
    """Entries in order; ask with ``next`` for what comes after them."""

    entries: list[AccessEntryView]
    next: int


class AccessAsked(Page):
    """Where to go on in the log, and what is looked for."""

    after: int = Field(
        default=0, ge=0, lt=2**63, description="Entries after this one; `next` of the last answer."
    )
    kind: AccessKind | None = None


@router.get(
    "",
    summary="Read the access log",
    operation_id="read_access_log",
    responses=documented(403, 422),
)
def read(call: Known, asked: Annotated[AccessAsked, Query()]) -> AccessPage:
    """Give entries in order, from `after` on; people, devices and programs by their ids alone.

    For administrators. `next` is always given: ask again with it for what came since.
    """
    found = administrator.access_entries(
        call.store, call.caller, asked.after, asked.limit, asked.kind
    )
    return AccessPage(
        entries=[AccessEntryView(seq=seq, entry=json.loads(body)) for seq, body in found],
        next=found[-1][0] if found else asked.after,
    )


@router.post(
    "/checkpoint",
    summary="Have the access log signed as it stands",
    operation_id="sign_access_log",
    response_class=PlainTextResponse,
    responses={**_SIGNED, **documented(403, 503)},
)
def sign(call: Known) -> str:
    """Give a signed note of how many entries there are, and the root over them.

    As for the record: keep one outside this service from time to time. For administrators.
    """
    return evidence.sign_access_log(call.keeping, call.caller, call.now).note
