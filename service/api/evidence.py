"""The signed log: its checkpoint, its key, and proofs that anyone can check."""

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query
from fastapi.responses import PlainTextResponse
from pydantic import BaseModel, ConfigDict, Field

from service.api.doors import Known
from service.api.problems import UnfitError, documented
from service.duties import evidence

router = APIRouter(prefix="/v1", tags=["evidence"])

Size = Annotated[int, Query(ge=0, le=2**62, description="Entries of the log.")]
_NOTE = """custody.example/amber-hill
2
W0r5fFEcZaRtsV/M4K8OQnYI1pHOSJ9uYZ8Kx1nvxLs=

— custody.example/amber-hill ...
"""


class InclusionProof(BaseModel):
    """That an entry is among the first ``size`` of the log (RFC 9162, section 2.1.3).

    ``leaf`` is the entry as hashed; hashes are hex.
    """

    number: int
    leaf: str
    size: int
    root: str
    proof: list[str]


class ConsistencyProof(BaseModel):
    """That the log of ``second`` entries begins with that of ``first`` (RFC 9162, 2.1.4)."""

    first: int
    second: int
    proof: list[str]


def _text(description: str, example: str) -> dict[int | str, dict[str, object]]:
    shown = {"schema": {"type": "string"}, "example": example}
    return {200: {"description": description, "content": {"text/plain": shown}}}


@router.get(
    "/checkpoint",
    summary="Have the log signed as it stands",
    operation_id="sign_checkpoint",
    response_class=PlainTextResponse,
    responses={**_text("A signed checkpoint", _NOTE), **documented(403, 503)},
)
def checkpoint(call: Known) -> str:
    """Give a signed note of how many entries there are, and the root over them.

    In the text form of C2SP tlog-checkpoint. Keep one outside this service from time to time:
    nothing that it covers can be changed or left out later without being found. For officers and
    inspectors.
    """
    return evidence.sign_log(call.keeping, call.caller, call.now).note


@router.get(
    "/checkpoint/key",
    summary="Fetch the public key of the log",
    operation_id="fetch_log_key",
    response_class=PlainTextResponse,
    responses={
        **_text("A verifier key", "custody.example/amber-hill+6a3c0f12+AW...\n"),
        **documented(403, 503),
    },
)
def key(call: Known) -> str:
    """Give the key that checkpoints are checked with, as C2SP signed-note writes it.

    Compare it with the one you were given by another way. For officers and inspectors.
    """
    return evidence.public_key(call.keeping, call.caller).vkey + "\n"


@router.get(
    "/proofs/inclusion/{event_id}",
    summary="Prove that an event is in the log",
    operation_id="prove_inclusion",
    responses=documented(403, 404, 422),
)
def inclusion(call: Known, event_id: UUID, size: Size | None = None) -> InclusionProof:
    """Prove that an event is among the first `size` entries, or among all there are now.

    Take size and root from a signed checkpoint, never from the answer alone. For officers and
    inspectors.
    """
    try:
        found = evidence.inclusion(call.keeping, call.caller, event_id, size)
    except ValueError as error:
        raise UnfitError(str(error)) from error
    return InclusionProof(
        number=found.number,
        leaf=found.leaf.decode(),
        size=found.size,
        root=found.root.hex(),
        proof=[step.hex() for step in found.proof],
    )


class GrowthAsked(BaseModel):
    """Two sizes of the log."""

    model_config = ConfigDict(extra="forbid")

    first: int = Field(ge=0, le=2**62, description="Entries of the earlier checkpoint.")
    second: int = Field(ge=0, le=2**62, description="Entries of the later one.")


@router.get(
    "/proofs/consistency",
    summary="Prove that the log only grew",
    operation_id="prove_consistency",
    responses=documented(403, 422),
)
def consistency(call: Known, asked: Annotated[GrowthAsked, Query()]) -> ConsistencyProof:
    """Prove that the log of `second` entries begins with that of `first`, unchanged.

    For officers and inspectors, and what a witness asks for before it signs.
    """
    try:
        proof = evidence.growth(call.keeping, call.caller, asked.first, asked.second)
    except ValueError as error:
        raise UnfitError(str(error)) from error
    steps = [step.hex() for step in proof]
    return ConsistencyProof(first=asked.first, second=asked.second, proof=steps)
