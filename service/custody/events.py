"""The kinds of event, one frozen model each, named in the past tense.

An event is what somebody says happened. It is never changed: an ``amended`` event corrects it.
An ``Entry`` is an event as the record holds it, with what the service itself knew on receipt.
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Annotated, Any, Literal, Self
from uuid import UUID

from pydantic import Field, TypeAdapter, model_validator

from service.custody.activity import ActivityCounted
from service.custody.acts import Outlet, Step
from service.custody.counted import NeedlesCounted, PitCovered
from service.custody.cycle_events import (
    CycleRun,
    IndicatorRead,
    LoadObserved,
    SporeTested,
    TraceAttached,
)
from service.custody.fields import (
    ContainerId,
    Containers,
    Count,
    Grams,
    Instant,
    Name,
    Number,
    Text,
    Truth,
)
from service.custody.happening import Happening as Happening
from service.custody.happening import One, OneOrMore
from service.custody.words import Condition, ContainerKind

CLOCK_TOLERANCE = timedelta(seconds=10)
"""A device clock nearer than this to the service's is taken as right."""


class Labelled(OneOrMore):
    """Ids were reserved and their labels printed; none is bound to waste yet."""

    kind: Literal["labelled"] = "labelled"
    count: Annotated[int, Field(strict=True, ge=1)]
    layout: Name

    @model_validator(mode="after")
    def _count_agrees(self) -> Self:
        if self.count != len(self.containers):
            raise ValueError(f"count is {self.count} but {len(self.containers)} ids are named")
        return self


class Registered(One):
    """A container was sealed at its source."""

    kind: Literal["registered"] = "registered"
    category: Name
    unit: Name
    container_kind: ContainerKind
    weight_g: Grams | None = None
    scale: Name | None = None
    fill_fraction: Annotated[Number, Field(ge=0, le=2)] | None = None
    closed: Truth = True
    hub_cut: Truth | None = None
    in_use_since: Instant | None = None
    contents: Text = ""
    from_cycle: Name | None = None
    """Of residue: the cycle of treatment that left it."""
    parents: Containers = ()
    """Of residue: containers whose waste it is of, as far as they are told."""

    @model_validator(mode="after")
    def _first_item_before_sealing(self) -> Self:
        if self.in_use_since is not None and self.in_use_since > self.occurred_at:
            raise ValueError("in_use_since is later than the sealing")
        return self


class Weighed(One):
    """The container was weighed again."""

    kind: Literal["weighed"] = "weighed"
    weight_g: Grams
    scale: Name | None = None


class DoubleBagged(OneOrMore):
    """The container was put in an outer bag, which may bear an id of its own."""

    kind: Literal["double_bagged"] = "double_bagged"
    outer: ContainerId | None = None
    tare_g: Grams = 0
    """What the outer bag itself weighs."""

    @model_validator(mode="after")
    def _not_around_itself(self) -> Self:
        if self.outer in self.containers:
            raise ValueError("a container cannot be its own outer bag")
        return self

    def named(self) -> tuple[str, ...]:
        """Give the containers and the outer bag."""
        return self.containers if self.outer is None else (*self.containers, self.outer)


class Packed(OneOrMore):
    """Containers were put into a closed transport container."""

    kind: Literal["packed"] = "packed"
    parent: ContainerId

    @model_validator(mode="after")
    def _not_into_itself(self) -> Self:
        if self.parent in self.containers:
            raise ValueError("a container cannot be packed into itself")
        return self

    def named(self) -> tuple[str, ...]:
        """Give the containers and the one they were put into."""
        return (*self.containers, self.parent)


class Unpacked(Happening):
    """Containers came out of a transport container; with none named, all that was in it."""

    kind: Literal["unpacked"] = "unpacked"
    parent: ContainerId

    def named(self) -> tuple[str, ...]:
        """Give the containers and the one they came out of."""
        return tuple(dict.fromkeys((*self.containers, self.parent)))


class Collected(OneOrMore):
    """A handler took custody at the unit."""

    kind: Literal["collected"] = "collected"
    from_party: Name
    to_party: Name
    protective_gear: Truth | None = None


class Stored(OneOrMore):
    """The container was put in a store."""

    kind: Literal["stored"] = "stored"
    store: Name
    temperature_c: Annotated[Number, Field(ge=-90, le=60)] | None = None


class Dispatched(OneOrMore):
    """A consignment left."""

    kind: Literal["dispatched"] = "dispatched"
    consignment: Name
    carrier: Name
    consignee: Name
    vehicle: Name | None = None
    seal: Name | None = None
    closed: Truth = True
    condition: Condition = Condition.AMBIENT


class Received(Happening):
    """The consignee took custody; ``complete`` says that nothing else came with the vehicle."""

    kind: Literal["received"] = "received"
    party: Name
    consignment: Name | None = None
    weight_g: Grams | None = None
    scale: Name | None = None
    seal: Name | None = None
    seal_intact: Truth | None = None
    exceptions: Text = ""
    complete: Truth = False

    @model_validator(mode="after")
    def _weight_is_of_one(self) -> Self:
        if not self.containers and not (self.consignment and self.complete):
            raise ValueError("the receipt names neither containers nor a completed consignment")
        if self.weight_g is not None and len(self.containers) != 1:
            raise ValueError("a received weight is of exactly one container")
        return self


class Refused(OneOrMore):
    """The consignee turned the container away."""

    kind: Literal["refused"] = "refused"
    party: Name
    reason: Annotated[Text, Field(min_length=1)]
    consignment: Name | None = None


class Treated(OneOrMore):
    """One treatment step was done in a cycle of a machine."""

    kind: Literal["treated"] = "treated"
    step: Step
    party: Name
    cycle: Name


class Disposed(OneOrMore):
    """Final disposal or delivery for use."""

    kind: Literal["disposed"] = "disposed"
    outlet: Outlet
    party: Name
    receipt: Name | None = None
    pit: Name | None = None
    """Which pit it lies in, where the party has more than one of the kind."""


class Inspected(OneOrMore):
    """A segregation audit looked into or at the container."""

    kind: Literal["inspected"] = "inspected"
    wrong_items: Annotated[tuple[Name, ...], Field(max_length=50)] = ()
    items_seen: Count | None = None
    items_wrong: Count | None = None


class Lost(OneOrMore):
    """The container was not where it should be."""

    kind: Literal["lost"] = "lost"
    last_seen: Name | None = None


class Found(OneOrMore):
    """The container is there again."""

    kind: Literal["found"] = "found"


class Spilled(Happening):
    """A spill or an injury; opens an incident."""

    kind: Literal["spilled"] = "spilled"
    people_exposed: Count = 0
    action_taken: Annotated[Text, Field(min_length=1)]


class Notified(Happening):
    """The authority was told, with reasons."""

    kind: Literal["notified"] = "notified"
    authority: Name
    about: Literal["holding", "spill", "loss", "route", "other"]
    reason: Annotated[Text, Field(min_length=1)]
    reference: Name | None = None


Fact = Annotated[
    Labelled
    | Registered
    | Weighed
    | DoubleBagged
    | Packed
    | Unpacked
    | Collected
    | Stored
    | Dispatched
    | Received
    | Refused
    | Treated
    | CycleRun
    | TraceAttached
    | IndicatorRead
    | LoadObserved
    | SporeTested
    | Disposed
    | Inspected
    | Lost
    | Found
    | Spilled
    | Notified
    | ActivityCounted
    | PitCovered
    | NeedlesCounted,
    Field(discriminator="kind"),
]


class Amended(Happening):
    """Corrects an earlier event; without ``corrected`` it says that the event did not happen.

    A second correction amends the same original again: the later one holds.
    """

    kind: Literal["amended"] = "amended"
    supersedes: UUID
    reason: Annotated[Text, Field(min_length=1)]
    corrected: Fact | None = None

    @model_validator(mode="after")
    def _corrects_what_it_names(self) -> Self:
        if self.corrected is not None and self.corrected.id != self.supersedes:
            raise ValueError("the corrected event keeps the id of the event it corrects")
        return self

    def named(self) -> tuple[str, ...]:
        """Give the containers named by the amendment and by the corrected event."""
        corrected = self.corrected.named() if self.corrected else ()
        return tuple(dict.fromkeys((*self.containers, *corrected)))


Event = Annotated[Fact | Amended, Field(discriminator="kind")]
EVENT: TypeAdapter[Any] = TypeAdapter(Event)


def kept(event: Event) -> dict[str, Any]:
    """Give the event as it is kept and given out: times in UTC, defaults left out."""
    written: dict[str, Any] = event.model_dump(mode="json", exclude_defaults=True)
    if isinstance(event, Amended) and event.corrected is not None:
        written["corrected"]["kind"] = event.corrected.kind
    return written | {"kind": event.kind}


@dataclass(frozen=True, slots=True)
class Origin:
    """Where an imported entry came from."""

    file: str
    line: int
    keeper: str


@dataclass(frozen=True, slots=True)
class Entry:
    """An event as the record holds it.

    Attributes:
        event: What somebody said happened.
        recorded_at: When the service took it in, by its own clock, UTC.
        clock_offset_s: How far ahead the device's clock was when it sent the event, in seconds.
        false_codes: Ids whose presented code failed its check character or its tag.
        origin: The file and line of an imported entry.
        sender: The person, device or program whose credential it came with.
        at: When it happened, with a wrong device clock put right; history is folded by it.
    """

    event: Event
    recorded_at: datetime
    clock_offset_s: int = 0
    false_codes: tuple[str, ...] = ()
    origin: Origin | None = None
    sender: str = ""
    at: datetime = field(init=False)

    def __post_init__(self) -> None:
        offset = timedelta(seconds=self.clock_offset_s)
        wrong = abs(offset) > CLOCK_TOLERANCE
        at = self.event.occurred_at - offset if wrong else self.event.occurred_at
        object.__setattr__(self, "at", at)


KINDS: tuple[type[Happening], ...] = (
    Labelled, Registered, Weighed, DoubleBagged, Packed, Unpacked, Collected, Stored, Dispatched,
    Received, Refused, Treated, Disposed, Inspected, Lost, Found, Spilled, Notified, Amended,
    ActivityCounted, CycleRun, TraceAttached, IndicatorRead, LoadObserved, SporeTested,
    PitCovered, NeedlesCounted,
)  # fmt: skip
"""The event models, in the order of a container's life; then what is told of no container.

A further kind comes last: the ids of imported events rest on the places of those before it.
"""
