"""Containers: a filtered list, and one with its past. Looking changes nothing."""

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query
from pydantic import Field

from service.api.container_views import ContainerDetail, ContainersPage, ContainerSummary
from service.api.doors import Known
from service.api.paging import Page, cursor, instant, read_cursor
from service.api.problems import documented
from service.custody.fields import Instant, Name
from service.duties import lookup
from service.duties.lookup import ContainerFilter

router = APIRouter(prefix="/v1/containers", tags=["containers"])


class ContainersAsked(Page):
    """Which containers are asked for."""

    category: Name | None = None
    unit: Name | None = None
    state: Name | None = Field(
        default=None, description="The kind of the last event that moved it on, as `stored`."
    )
    custodian: Name | None = Field(default=None, description="The party that holds it.")
    consignment: Name | None = None
    open_only: bool = Field(
        default=False, alias="open", description="Registered and not disposed of."
    )
    due_before: Instant | None = Field(
        default=None, description="Whose holding limit ends then or before; ordered by that."
    )
    sealed_from: Instant | None = None
    sealed_until: Instant | None = Field(default=None, description="Sealed before this instant.")
    after: Name | None = Field(default=None, description="`next` of the page before.")


@router.get(
    "",
    summary="List containers",
    operation_id="list_containers",
    responses=documented(422),
)
def listed(call: Known, asked: Annotated[ContainersAsked, Query()]) -> ContainersPage:
    """Give containers as they stand, by id; by due time where `due_before` is asked for."""
    by_due_time = asked.due_before is not None
    mark: dict[str, Any] = {"after": asked.after}
    if by_due_time and asked.after is not None:
        due_at, container = read_cursor(asked.after, 2)
        mark = {"after": container, "after_due": instant(due_at)}
    wanted = asked.model_dump(exclude={"after"})
    found = lookup.containers(call.store, call.caller, ContainerFilter(**wanted, **mark))
    shown = [ContainerSummary.of_row(row) for row in found]
    following = None
    if len(shown) == asked.limit:
        last = shown[-1]
        following = cursor(last.due_at, last.container) if by_due_time else last.container
    return ContainersPage(containers=shown, next=following)


@router.get(
    "/{container}",
    summary="Look up one container",
    operation_id="look_up_container",
    responses=documented(404, 422),
)
def one(
    call: Known,
    container: Annotated[
        str,
        Path(
            description="The id, as printed or as typed: spaces, hyphens and small letters do.",
            examples=["M9S3-46Q3-D250"],
        ),
    ],
) -> ContainerDetail:
    """Give its state, custodian, deadline, next permitted steps, past, amendments, violations."""
    view = lookup.container_typed(call.store, call.caller, container, call.now)
    return ContainerDetail.of_view(view, call.now)
