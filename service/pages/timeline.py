"""A container's path as a drawing: time runs along, each lane is who holds it. Figures only.

All measures are in units of the drawing. Marks bear the numbers of the table beside the drawing,
and are moved apart where they would cover each other; a thin line leads to the true instant.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from service.custody.events import (
    Collected,
    Dispatched,
    Disposed,
    Event,
    Received,
    Refused,
    Registered,
    Stored,
    Treated,
)
from service.custody.history import History
from service.custody.site import Site

LANES = ("unit", "handler", "store", "carrier", "plant")
LEFT, RIGHT, TOP = 100, 30, 34
LANE = 56
WIDTH_LEAST, MARK = 900, 24
TICKS_MOST = 8
_STEPS = (
    timedelta(minutes=15), timedelta(hours=1), timedelta(hours=3), timedelta(hours=6),
    timedelta(hours=12), timedelta(days=1), timedelta(days=2), timedelta(days=7),
    timedelta(days=30), timedelta(days=180), timedelta(days=365), timedelta(days=3650),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mark:
    """One event: its number in the table, its place, and the true place of its instant."""

    number: int
    kind: str
    x: float
    y: float
    at_x: float


@dataclass(frozen=True, slots=True)
class Held:
    """A stretch in one lane."""

    from_x: float
    until_x: float
    y: float


@dataclass(frozen=True, slots=True)
class Tick:
    """A point of the time axis."""

    x: float
    at: datetime


@dataclass(frozen=True, slots=True)
class Drawing:
    """All that the template writes down.

    Attributes:
        passed: The places where it passed from lane to lane: x, from y, to y.
        limit_x, now_x: The lines of the holding limit and of now, where they are within.
    """

    width: int
    height: int
    lanes: tuple[tuple[str, int], ...]
    ticks: tuple[Tick, ...]
    held: tuple[Held, ...]
    passed: tuple[tuple[float, float, float], ...]
    marks: tuple[Mark, ...]
    limit_x: float | None
    now_x: float | None


def lane_of(event: Event, site: Site, present: str) -> str:
    """Give the lane in which a container is after an event."""
    match event:
        case Registered():
            return "unit"
        case Collected():
            return _of_party(event.to_party, site, "handler")
        case Stored():
            return "store"
        case Dispatched() | Refused():
            return "carrier"
        case Received() | Treated() | Disposed():
            return _of_party(event.party, site, "plant")
        case _:
            return present


def _of_party(party: str, site: Site, usual: str) -> str:
    known = site.parties.get(party)
    if party in site.units:
        return "unit"
    if known is None:
        return usual
    return known.kind if known.kind in ("handler", "carrier") else "plant"


def drawn(history: History, site: Site, due_at: datetime | None, now: datetime) -> Drawing | None:
    """Draw a history; None where nothing happened.

    The holding limit is drawn where one is given, now where the container is not disposed of.
    """
    happened = history.happened
    if not happened:
        return None
    gone = isinstance(happened[-1].event, Disposed)
    first = happened[0].at
    shown = [h.at for h in happened] + ([due_at] if due_at else []) + ([] if gone else [now])
    last = max(max(shown), first + timedelta(minutes=15))
    lanes = [lane_of(h.event, site, "") for h in happened]
    for i, lane in enumerate(lanes):
        lanes[i] = lane or (lanes[i - 1] if i else "unit")
    width = max(WIDTH_LEAST, LEFT + RIGHT + MARK * (len(happened) + 2))

    def x(at: datetime) -> float:
        part = (at - first) / (last - first)
        return round(LEFT + 12 + min(max(part, 0.0), 1.0) * (width - LEFT - RIGHT - 24), 1)

    held, passed = _stretches(
        [(x(h.at), _y(lane)) for h, lane in zip(happened, lanes, strict=True)],
        x(happened[-1].at if gone else max(now, happened[-1].at)),
    )
    truly = [x(h.at) for h in happened]
    apart = _apart(truly, width - RIGHT)
    marks = tuple(
        Mark(i + 1, h.event.kind, apart[i], _y(lanes[i]), truly[i]) for i, h in enumerate(happened)
    )
    return Drawing(
        width=width,
        height=TOP + LANE * len(LANES) + 34,
        lanes=tuple((lane, _y(lane)) for lane in LANES),
        ticks=tuple(Tick(x(at), at) for at in _ticks(first, last, site.zone)),
        held=held,
        passed=passed,
        marks=marks,
        limit_x=x(due_at) if due_at and due_at >= first else None,
        now_x=None if gone else x(now),
    )


def _y(lane: str) -> int:
    return TOP + LANES.index(lane) * LANE + LANE // 2


def _stretches(
    points: list[tuple[float, int]], end_x: float
) -> tuple[tuple[Held, ...], tuple[tuple[float, float, float], ...]]:
    held: list[Held] = []
    passed: list[tuple[float, float, float]] = []
    from_x, y = points[0]
    for at_x, to_y in points[1:]:
        if to_y != y:
            held.append(Held(from_x, at_x, y))
            passed.append((at_x, y, to_y))
            from_x, y = at_x, to_y
    return (*held, Held(from_x, max(end_x, from_x), y)), tuple(passed)


def _apart(places: list[float], right: float) -> list[float]:
    """Move marks so that none covers another, in their order: first to the right, then back."""
    moved: list[float] = []
    for place in places:
        moved.append(max(place, moved[-1] + MARK) if moved else place)
    limit = right - 12.0
    for i in reversed(range(len(moved))):
        moved[i] = min(moved[i], limit)
        limit = moved[i] - MARK
    return moved


def _ticks(first: datetime, last: datetime, zone: ZoneInfo) -> Iterable[datetime]:
    """Round local times, no more than ``TICKS_MOST``."""
    step = next((s for s in _STEPS if (last - first) / s <= TICKS_MOST), _STEPS[-1])
    midnight = first.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    at = midnight + step * ((first - midnight) // step + 1)
    while at <= last:
        yield at
        at += step
