"""Read the codes in a photograph, for telephones whose browser cannot."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request

from service.api.doors import Known
from service.api.problems import UnfitError, documented
from service.api.views import View
from service.duties import finding
from service.duties.finding import MEDIA_TYPES, PictureError

router = APIRouter(prefix="/v1/codes", tags=["containers"])

_PICTURES = {
    media: {
        "schema": {"type": "string", "format": "binary"},
        "examples": {"A photograph of a label": {"value": "..."}},
    }
    for media in MEDIA_TYPES
}


class CodeView(View):
    """One code: its text, and what it says where it is a container's.

    `right`: its check character is. `genuine`: its tag is one of ours; null where it has none.
    """

    text: str
    container: str | None
    right: bool | None
    genuine: bool | None


class CodesRead(View):
    """Every code that was found; none where there is none, or it is too blurred or dark."""

    codes: list[CodeView]


async def _brought(request: Request, _: Known) -> bytes:
    return await request.body()


@router.post(
    "",
    summary="Read the codes in a photograph",
    operation_id="read_codes",
    responses=documented(413, 422, 503),
    openapi_extra={"requestBody": {"required": True, "content": _PICTURES}},
)
def read(call: Known, picture: Annotated[bytes, Depends(_brought)]) -> CodesRead:
    """Give the text of each code in a JPEG, PNG or WebP picture, and keep nothing of it.

    It records nothing: what was done with a container is told to `record_events`, with the text as
    it stands here.
    """
    try:
        found = finding.codes(call.store, call.caller, picture)
    except PictureError as error:
        raise UnfitError(str(error)) from error
    return CodesRead(codes=[CodeView.model_validate(one) for one in found])
