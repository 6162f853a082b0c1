"""Entries of the record and containers with their past, as they go out."""

from datetime import datetime
from typing import Any, Self
from uuid import UUID

from service.api.views import Moment, View, ViolationView
from service.custody.acts import Outlet, Step
from service.custody.events import Entry, kept
from service.custody.history import Happened
from service.custody.identifiers import grouped
from service.custody.words import Condition, ContainerKind
from service.duties.lookup import ContainerView


class OriginView(View):
    """Where an imported entry came from."""

    file: str
    line: int
    keeper: str


class Recorded(View):
    """An event as it was sent, with what the service itself knew when it came in."""

    recorded_at: Moment
    clock_offset_s: int
    false_codes: tuple[str, ...]
    origin: OriginView | None
    event: dict[str, Any]

    @classmethod
    def of(cls, entry: Entry, **more: Any) -> Self:
        """Show an entry."""
        return cls(
            recorded_at=entry.recorded_at,
            clock_offset_s=entry.clock_offset_s,
            false_codes=entry.false_codes,
            origin=OriginView.model_validate(entry.origin) if entry.origin else None,
            event=kept(entry.event),
            **more,
        )


class NumberedEntry(Recorded):
    """An entry with its place in the record."""

    seq: int


class EntriesPage(View):
    """Entries in order of arrival; ``next`` is where to go on, now or later."""

    entries: list[NumberedEntry]
    next: int


class ContainerSummary(View):
    """A container as it stands; ``due_at`` is the last allowed instant of its holding limit."""

    container: str
    state: str
    category: str | None
    unit: str | None
    kind: ContainerKind | None
    weight_g: int | None
    received_g: int | None
    sealed_at: Moment | None
    custodian: str | None
    since: Moment | None
    place: str | None
    condition: Condition | None
    parent: str | None
    consignment: str | None
    steps: tuple[Step, ...]
    outlet: Outlet | None
    next_acts: tuple[Step | Outlet, ...]
    due_at: Moment | None
    closed_at: Moment | None

    @classmethod
    def of_row(cls, row: Any) -> Self:
        """Show a row of the list."""
        lists = {"steps": tuple(row.steps.split()), "next_acts": tuple(row.next_acts.split())}
        names = cls.model_fields.keys() - lists.keys()
        return cls(**lists, **{name: getattr(row, name) for name in names})


class ContainersPage(View):
    """Containers by id, or by due time where ``due_before`` was asked for."""

    containers: list[ContainerSummary]
    next: str | None


class HappeningView(Recorded):
    """One event as it now holds for the container.

    ``at`` is when it happened, a wrong device clock put right; ``direct`` is false where only what
    the container was in is named; ``event`` is the corrected event where it was ``amended_by``
    another, and ``as_first_recorded`` then what was corrected.
    """

    at: Moment
    direct: bool
    amended_by: UUID | None
    as_first_recorded: dict[str, Any] | None

    @classmethod
    def of_happened(cls, happened: Happened) -> Self:
        """Show an event of a history."""
        changed = happened.amended_by is not None
        shown = cls.of(
            happened.entry,
            at=happened.at,
            direct=happened.direct,
            amended_by=happened.amended_by,
            as_first_recorded=kept(happened.entry.event) if changed else None,
        )
        return shown.model_copy(update={"event": kept(happened.event)})


class ContainerDetail(ContainerSummary):
    """A container with its past; ``label`` is its id in groups, as printed."""

    label: str
    history: list[HappeningView]
    amendments: list[Recorded]
    violations: list[ViolationView]

    @classmethod
    def of_view(cls, view: ContainerView, now: datetime) -> Self:
        """Show one container."""
        standing = view.standing
        return cls(
            label=grouped(standing.container),
            history=[HappeningView.of_happened(h) for h in view.history.happened],
            amendments=[Recorded.of(entry) for entry in view.history.amendments],
            violations=[ViolationView.of(v, now) for v in view.violations],
            **{name: getattr(standing, name) for name in ContainerSummary.model_fields},
        )
