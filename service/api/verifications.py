"""Have a bundle checked by the service, as ``custody verify`` checks it."""

from collections import Counter
from typing import Annotated, Literal, Self

from fastapi import APIRouter, Depends, Query, Request
from pydantic import BaseModel, ConfigDict, Field

from service.api.doors import Known
from service.api.problems import UnfitError, documented
from service.api.views import View
from service.duties import verifying
from service.duties.evidence import BundleError

router = APIRouter(prefix="/v1/verifications", tags=["evidence"])

Outcome = Literal["holds", "warning", "fails", "not checked"]
_ZIP = {
    "application/zip": {
        "schema": {"type": "string", "format": "binary"},
        "examples": {"A quarter's archive": {"value": "PK..."}},
    }
}
_OUTCOMES: dict[bool | None, Outcome] = {True: "holds", False: "fails", None: "not checked"}


class VerificationAsked(BaseModel):
    """Which key is trusted."""

    model_config = ConfigDict(extra="forbid")

    key: Literal["facility", "bundle"] = Field(
        default="facility",
        description="`facility`: that of the log kept here. `bundle`: the bundle's own; that shows "
        "only that it agrees with itself.",
    )


class CheckView(View):
    """One thing that was checked; a warning holds, and says what the reader must know."""

    name: str
    outcome: Outcome
    said: str

    @classmethod
    def of(cls, check: verifying.Check) -> Self:
        """Show a check."""
        outcome: Outcome = "warning" if check.warns else _OUTCOMES[check.holds]
        return cls(name=check.name, outcome=outcome, said=check.said)


class Verification(View):
    """Every check in order, and how many ended in which way."""

    key: Literal["facility", "bundle"]
    counts: dict[Outcome, int]
    checks: list[CheckView]


async def _brought(request: Request, _: Known) -> bytes:
    return await request.body()


@router.post(
    "",
    summary="Have a bundle checked",
    operation_id="verify_bundle",
    responses=documented(403, 404, 413, 422, 503),
    openapi_extra={"requestBody": {"required": True, "content": _ZIP}},
)
def verified(
    call: Known,
    asked: Annotated[VerificationAsked, Query()],
    archive: Annotated[bytes, Depends(_brought)],
) -> Verification:
    """Check a quarter's archive as `custody verify` does, and keep nothing of it.

    Who trusts this service less than the archive checks it elsewhere. One archive is checked at a
    time. For officers and inspectors.
    """
    try:
        found = verifying.verify_bundle(
            call.keeping, call.caller, archive, call.now, own_key=asked.key == "facility"
        )
    except BundleError as error:
        raise UnfitError(str(error)) from error
    checks = [CheckView.of(check) for check in found]
    return Verification(
        key=asked.key, counts=Counter(check.outcome for check in checks), checks=checks
    )
