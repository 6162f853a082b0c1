"""One container on one line, from label to pit, and where it stood when the quarter ended."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple, TypeVar

from service.custody.acts import Outlet, Step
from service.custody.balance import weighings
from service.custody.events import (
    Dispatched,
    Disposed,
    Labelled,
    Notified,
    Registered,
    Spilled,
    Stored,
    Treated,
)
from service.custody.history import Happened, History
from service.custody.regime import Category
from service.custody.rules import Rules
from service.custody.standing import stand
from service.custody.words import ContainerKind
from service.manifests.consignments import weight_of, weights_found
from service.manifests.tally import Period

_NO_ACT = (Labelled, Notified, Spilled)


@dataclass(frozen=True, slots=True, order=True)
class Stream:
    """A category as papers show it: never its colour alone, always with mark and name.

    It is one and the same by its id, even where an amendment changed the name in the quarter.
    """

    id: str
    name: str = field(compare=False)
    mark: str = field(compare=False)
    colour: str = field(compare=False)
    colour_hex: str = field(compare=False)


UNREGISTERED = Stream("", "never registered at a source", "–", "none", "#FFFFFF")


def stream(category_id: str, category: Category | None) -> Stream:
    """Give the category for papers; one that the regime does not know keeps its id as name."""
    if category is None:
        return Stream(category_id, f"{category_id} (not in the regime)", "?", "none", "#FFFFFF")
    return Stream(category_id, category.name, category.mark, category.colour, category.colour_hex)


class Stay(NamedTuple):
    """When a container came into the record of waste and when it left it for good.

    A container never registered comes in with its first act.
    """

    entered_at: datetime | None
    gone_at: datetime | None

    def open_before(self, at: datetime) -> bool:
        """Say whether it was held just before the instant."""
        return (
            self.entered_at is not None
            and self.entered_at < at
            and (self.gone_at is None or self.gone_at >= at)
        )


class Treatment(NamedTuple):
    """One step done to one container; ``grams`` is its weight at the source."""

    container: str
    step: Step
    at: datetime
    party: str
    cycle: str
    grams: int | None


class ContainerLine(NamedTuple):
    """What is known of one container.

    Attributes:
        grams: The weight at its source, or the first weighing after it.
        generated: It was sealed in the quarter and counts as made in it.
        collected_at, double_bagged_at, stored_at: The first time each was done.
        dispatched_at: When it first left; ``consignments`` names each it went with.
        received_at, received_g: The last receipt, and the last weight found at one.
        open_at_end: It was not yet disposed of when the quarter, or its passed part, ended.
        codes: Violations named by this manifest, each code once.
    """

    container: str
    stream: Stream
    unit: str
    kind: ContainerKind | None
    grams: int | None
    sealed_at: datetime | None
    generated: bool
    double_bagged_at: datetime | None
    collected_at: datetime | None
    stored_at: datetime | None
    store: str
    dispatched_at: datetime | None
    consignments: tuple[str, ...]
    received_at: datetime | None
    received_g: int | None
    treatments: tuple[Treatment, ...]
    disposed_at: datetime | None
    outlet: Outlet | None
    receipt: str
    stay: Stay
    open_at_end: bool
    codes: tuple[str, ...]

    @property
    def route(self) -> str:
        """The steps done, joined in their order."""
        return " > ".join(t.step for t in self.treatments) or "none"


class OpenContainer(NamedTuple):
    """A container not yet disposed of at the quarter's end, as it stood then."""

    container: str
    stream: Stream
    unit: str
    grams: int | None
    sealed_at: datetime | None
    state: str
    place: str
    custodian: str
    due_at: datetime | None


@dataclass(frozen=True, slots=True)
class Path:
    """A history read once: the first and last event of each kind, and the acts counted."""

    history: History
    first: dict[str, Happened]
    last: dict[str, Happened]
    acts: Counter[str]
    stay: Stay


def read(history: History, period: Period) -> Path | None:
    """Read a history; None for a transport container, an outer bag, or a label never used."""
    if history.carries and history.registered is None:
        return None
    first: dict[str, Happened] = {}
    last: dict[str, Happened] = {}
    acts: Counter[str] = Counter()
    entered_at = None
    for h in history.happened:
        kind = h.event.kind
        first.setdefault(kind, h)
        last[kind] = h
        if not isinstance(h.event, _NO_ACT):
            entered_at = entered_at or h.at
            if period.holds(h.at):
                acts[kind] += 1
    if "registered" in first:
        entered_at = first["registered"].at
    if entered_at is None:
        return None
    gone = first.get("disposed")
    return Path(
        history, first, last, acts, Stay(entered_at, max(gone.at, entered_at) if gone else None)
    )


def line(path: Path, rules: Rules, period: Period, codes: tuple[str, ...]) -> ContainerLine:
    """Write the container's line from what is known at the moment of the reckoning."""
    history, first = path.history, path.first
    sealed, stored = _event(first, Registered), _event(first, Stored)
    disposed, sealed_at = _event(first, Disposed), _at(first, "registered")
    grams = next((w.weight_g for w in weighings(history)), None)
    return ContainerLine(
        container=history.container,
        stream=_stream(sealed, sealed_at, rules),
        unit=sealed.unit if sealed else "",
        kind=sealed.container_kind if sealed else None,
        grams=grams,
        sealed_at=sealed_at,
        generated=period.holds(sealed_at),
        double_bagged_at=_at(first, "double_bagged"),
        collected_at=_at(first, "collected"),
        stored_at=_at(first, "stored"),
        store=stored.store if stored else "",
        dispatched_at=_at(first, "dispatched"),
        consignments=_consignments(history) if "dispatched" in first else (),
        received_at=_at(path.last, "received"),
        received_g=_received_g(history) if "received" in first else None,
        treatments=_treatments(history, grams) if "treated" in first else (),
        disposed_at=_at(first, "disposed"),
        outlet=disposed.outlet if disposed else None,
        receipt=disposed.receipt or "" if disposed else "",
        stay=path.stay,
        open_at_end=path.stay.open_before(period.until),
        codes=codes,
    )


def open_container(of: ContainerLine, path: Path, rules: Rules, until: datetime) -> OpenContainer:
    """Say how a container stood just before the instant, with the record as now known."""
    standing = stand(as_of(path.history, until), rules)
    return OpenContainer(
        container=of.container,
        stream=of.stream,
        unit=of.unit,
        grams=of.grams,
        sealed_at=of.sealed_at,
        state=standing.state,
        place=standing.place or "",
        custodian=standing.custodian or "",
        due_at=standing.due_at,
    )


def as_of(history: History, until: datetime) -> History:
    """Give the history without what happened at the instant or after it."""
    latest = (*history.happened[-1:], *history.receipts[-1:])
    if all(h.at < until for h in latest):
        return history
    return History(
        history.container,
        tuple(h for h in history.happened if h.at < until),
        tuple(
            s
            if s.until_at is None or s.until_at < until
            else type(s)(s.parent, s.from_at, None, s.overpack)
            for s in history.stays
            if s.from_at < until
        ),
        tuple(h for h in history.receipts if h.at < until),
        history.amendments,
        history.carries,
        history.proofs,
    )


EventT = TypeVar("EventT")


def _event(by_kind: dict[str, Happened], model: type[EventT]) -> EventT | None:
    h = by_kind.get(model.__name__.lower())
    return h.event if h is not None and isinstance(h.event, model) else None


def _at(by_kind: dict[str, Happened], kind: str) -> datetime | None:
    h = by_kind.get(kind)
    return h.at if h else None


def _stream(sealed: Registered | None, sealed_at: datetime | None, rules: Rules) -> Stream:
    if sealed is None or sealed_at is None:
        return UNREGISTERED
    text = rules.on(sealed.category, rules.site.local_day(sealed_at))
    return stream(sealed.category, text.category if text else None)


def _consignments(history: History) -> tuple[str, ...]:
    named = (h.event.consignment for h in history.happened if isinstance(h.event, Dispatched))
    return tuple(dict.fromkeys(named))


def _received_g(history: History) -> int | None:
    found = tuple(weights_found(history).values())
    return weight_of(found[-1]) if found else None


def _treatments(history: History, grams: int | None) -> tuple[Treatment, ...]:
    return tuple(
        Treatment(history.container, h.event.step, h.at, h.event.party, h.event.cycle, grams)
        for h in history.happened
        if isinstance(h.event, Treated)
    )
