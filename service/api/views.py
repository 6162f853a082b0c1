"""What goes in and out at the doors, as models: labels, violations, outcomes, problems, regimes.

Times are in UTC with Z, weights in whole grams. No figure is worked out here: each comes from a
duty.
"""

from datetime import UTC, datetime
from typing import Annotated, Literal, Self
from uuid import UUID

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from service.custody.fields import ContainerId, Name
from service.custody.verdict import Code, Violation
from service.custody.words import Severity
from service.duties.record import Outcome
from service.duties.ward import LABELS_MAX

Moment = Annotated[datetime, AfterValidator(lambda at: at.astimezone(UTC))]


class View(BaseModel):
    """An answer."""

    model_config = ConfigDict(from_attributes=True)


class Order(BaseModel):
    """A request body."""

    model_config = ConfigDict(extra="forbid")


class Fault(View):
    """One thing wrong with what was sent."""

    where: str
    what: str


class Health(View):
    """Whether the service can work."""

    status: Literal["ok"] = "ok"
    database: Literal["answers"] = "answers"


# --- labels


class LabelOrder(Order):
    """Blank labels to be printed; the same ``id`` again gives the same labels."""

    id: UUID
    count: Annotated[int, Field(strict=True, ge=1, le=LABELS_MAX)]
    stock: Name
    actor: Name


class FilledLabelOrder(Order):
    """Labels to be printed for registered containers, in this order."""

    containers: Annotated[tuple[ContainerId, ...], Field(min_length=1, max_length=LABELS_MAX)]
    stock: Name


class LabelsReserved(View):
    """The ids reserved, and the codes to print for them, in the same order."""

    ids: tuple[str, ...]
    codes: tuple[str, ...]


class LabelStock(View):
    """Sheets or rolls that can be printed on; sizes in millimetres."""

    name: str
    title: str
    dpi: int
    label_width_mm: float
    label_height_mm: float
    labels_a_page: int
    is_roll: bool


# --- violations and outcomes


class ViolationView(View):
    """A rule not kept, with the clause it rests on and what to do next."""

    container: str
    code: Code
    severity: Severity
    opened_at: Moment
    closed_at: Moment | None
    standing: bool
    clause: str
    evidence: tuple[UUID, ...]
    message: str
    next_action: str
    notified_at: Moment | None

    @classmethod
    def of(cls, violation: Violation, at: datetime) -> Self:
        """Show a violation as it stands at that instant."""
        shown = {name: getattr(violation, name) for name in cls.model_fields if name != "standing"}
        return cls(standing=violation.open_at(at), **shown)


class ViolationsPage(View):
    """Violations by opening, as they stood ``at`` that instant."""

    at: Moment
    violations: list[ViolationView]
    next: str | None


class ViolationCount(View):
    """How many of one code."""

    code: Code
    severity: Severity
    opened: int
    standing: int


class ViolationCounts(View):
    """How many had opened by that instant, and how many stood at it, by code."""

    at: Moment
    counts: list[ViolationCount]


class EventOutcome(View):
    """What became of one event; ``id`` is null where the event had none that can be read."""

    id: UUID | None
    outcome: Literal["recorded", "repeated", "refused"]
    reason: str
    violations: list[ViolationView]

    @classmethod
    def of(cls, outcome: Outcome, now: datetime) -> Self:
        """Show an outcome."""
        found = [ViolationView.of(v, now) for v in outcome.violations]
        return cls(id=outcome.id, outcome=outcome.outcome, reason=outcome.reason, violations=found)


class Problem(View):
    """RFC 9457 problem details; ``errors`` names each fault, ``outcome`` the refused event."""

    type: str
    title: str
    status: int
    detail: str
    instance: str
    errors: list[Fault] = []
    outcome: EventOutcome | None = None


# --- regimes


class RegimeSummary(View):
    """A body of rules that the service knows."""

    id: str
    title: str
    jurisdiction: str
    status: str
    adds_to: tuple[str, ...]
