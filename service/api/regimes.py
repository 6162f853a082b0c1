"""The rules and the set-up: regimes with their sources, and the caller's own facility."""

from typing import Annotated

from fastapi import APIRouter, Path

from service.api.doors import Known
from service.api.problems import documented
from service.api.views import RegimeSummary
from service.custody.regime import Regime
from service.custody.site import Site
from service.duties import lookup

router = APIRouter(prefix="/v1", tags=["rules"])


@router.get(
    "/regimes",
    summary="List the regimes",
    operation_id="list_regimes",
)
def listed(_: Known) -> list[RegimeSummary]:
    """Give the bodies of rules that the service knows."""
    return [RegimeSummary.model_validate(lookup.regime(name)) for name in lookup.regime_ids()]


@router.get(
    "/regimes/{regime}",
    summary="Read a regime",
    operation_id="read_regime",
    responses=documented(404, 422),
)
def one(_: Known, regime: Annotated[str, Path(examples=["india-2016"])]) -> Regime:
    """Give every row with its clause, its source, from when it holds and how it was verified."""
    return lookup.regime(regime)


@router.get(
    "/site",
    summary="Read the facility's set-up",
    operation_id="read_site",
)
def site(call: Known) -> Site:
    """Give the units, stores, parties and scales that events may name."""
    return lookup.rules(call.store, call.caller).site
