"""Violations: a filtered list as it stood at an instant, and counts by code."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from service.api.doors import Known
from service.api.paging import Page, cursor, instant, read_cursor, whole
from service.api.problems import documented
from service.api.views import ViolationCount, ViolationCounts, ViolationsPage, ViolationView
from service.custody.fields import Instant, Name
from service.custody.identifiers import plain
from service.custody.verdict import Code
from service.custody.words import Severity
from service.duties import lookup
from service.duties.lookup import ViolationFilter

router = APIRouter(prefix="/v1/violations", tags=["violations"])

_AT = "The instant asked for, past or to come; now if it is left out."


class MomentAsked(BaseModel):
    """The instant asked for."""

    model_config = ConfigDict(extra="forbid")

    at: Instant | None = Field(default=None, description=_AT)


class ViolationsAsked(Page):
    """Which violations are asked for."""

    at: Instant | None = Field(default=None, description=_AT)
    code: Code | None = None
    severity: Severity | None = None
    container: Name | None = None
    standing: bool = Field(default=True, description="False: those closed by then as well.")
    opened_from: Instant | None = None
    after: str | None = Field(
        default=None, max_length=200, description="`next` of the page before; keep `at` the same."
    )


@router.get(
    "",
    summary="List violations",
    operation_id="list_violations",
    responses=documented(422),
)
def listed(call: Known, asked: Annotated[ViolationsAsked, Query()]) -> ViolationsPage:
    """Give the violations that stood at an instant, by opening, as is known of it now."""
    at = asked.at or call.now
    wanted = ViolationFilter(
        at=at,
        code=asked.code,
        severity=asked.severity,
        container=plain(asked.container) if asked.container else None,
        standing=asked.standing,
        opened_from=asked.opened_from,
        after=_mark(asked.after),
        limit=asked.limit,
    )
    found = lookup.violations(call.store, call.caller, wanted)
    following = None
    if len(found) == asked.limit:
        number, last = found[-1]
        following = cursor(last.opened_at, last.container, number)
    shown = [ViolationView.of(violation, at) for _, violation in found]
    return ViolationsPage(at=at, violations=shown, next=following)


def _mark(after: str | None) -> tuple[datetime, str, int] | None:
    if after is None:
        return None
    opened_at, container, number = read_cursor(after, 3)
    return instant(opened_at), container, whole(number)


@router.get(
    "/counts",
    summary="Count violations by code",
    operation_id="count_violations",
    responses=documented(422),
)
def counted(call: Known, asked: Annotated[MomentAsked, Query()]) -> ViolationCounts:
    """Give, by code, how many had opened by an instant and how many stood at it."""
    at = asked.at or call.now
    counts = [
        ViolationCount(code=Code(code), severity=Severity(severity), opened=opened, standing=stood)
        for code, severity, opened, stood in lookup.violation_counts(call.store, call.caller, at)
    ]
    return ViolationCounts(at=at, counts=counts)
