"""Treatment sequences: which act is permitted next, not listed, forbidden or out of order.

A route is a sequence of sets of acts. For each route open to the category at this site, the
stages already done are kept; an act is held against all of them.
"""

from dataclasses import dataclass
from enum import StrEnum

from service.custody.acts import Act, Outlet, Step
from service.custody.events import Dispatched, Disposed, Treated
from service.custody.history import Happened, History
from service.custody.regime import Denial, Route
from service.custody.rules import CategoryRules


class Finding(StrEnum):
    """What an act is, held against the category's routes."""

    PERMITTED = "permitted"
    FORBIDDEN = "forbidden"
    NOT_PERMITTED = "not_permitted"
    OUT_OF_ORDER = "out_of_order"
    INCOMPLETE = "incomplete"


@dataclass(frozen=True, slots=True)
class Judged:
    """An act of the history with what was found, and the denying row if there is one."""

    happened: Happened
    act: Act | None
    finding: Finding
    denial: Denial | None = None


@dataclass(frozen=True, slots=True)
class Walk:
    """How far a container came.

    Attributes:
        judged: Every act with its finding; an act may have two.
        steps: The steps done, in order.
        next_acts: What the routes permit next and nothing denies.
        finished: Whether all treatment stages of some route are done.
    """

    judged: tuple[Judged, ...]
    steps: tuple[Step, ...]
    next_acts: tuple[Act, ...]
    finished: bool


@dataclass(slots=True)
class _Track:
    route: Route
    done: set[int]

    def first_undone(self) -> int:
        stage = 0
        while stage in self.done:
            stage += 1
        return stage

    @property
    def finished(self) -> bool:
        return self.done.issuperset(range(len(self.route.stages) - 1))


def walk(history: History, text: CategoryRules) -> Walk:
    """Hold every treatment, departure and disposal of the history against the routes."""
    tracks = [_Track(route, set()) for route in text.routes]
    steps: list[Step] = []
    judged: list[Judged] = []
    gone = False
    for h in history.happened:
        match h.event:
            case Treated(step=step):
                judged.append(_step(h, step, tracks, _denial(text, step, steps)))
                steps.append(step)
            case Disposed(outlet=outlet):
                judged += _outlet(h, outlet, tracks, _denial(text, outlet, steps))
                gone = True
            case Dispatched():
                denial = _denial(text, None, steps)
                if denial is not None:
                    judged.append(Judged(h, None, Finding.FORBIDDEN, denial))
            case _:
                pass
    finished = any(t.finished for t in tracks)
    permitted = () if gone else tuple(a for a in _next(tracks) if not _denial(text, a, steps))
    return Walk(tuple(judged), tuple(steps), permitted, finished)


def _denial(text: CategoryRules, act: Act | None, steps: list[Step]) -> Denial | None:
    for row in text.denials:
        denied = row.dispatch if act is None else act in row.acts
        if not denied or (row.after and not set(row.after).intersection(steps)):
            continue
        if row.unless_after and set(row.unless_after).intersection(steps):
            continue
        return row
    return None


def _step(h: Happened, step: Step, tracks: list[_Track], denial: Denial | None) -> Judged:
    in_turn, repeated, later = False, False, False
    for track in tracks:
        stages = track.route.stages
        turn = track.first_undone()
        holders = [i for i, stage in enumerate(stages) if step in stage]
        in_turn |= turn in holders
        repeated |= any(i in track.done for i in holders)
        later |= any(i > turn and i not in track.done for i in holders)
        ahead = [i for i in holders if i not in track.done]
        track.done.update(ahead[:1])
    if denial is not None:
        return Judged(h, step, Finding.FORBIDDEN, denial)
    if in_turn or repeated or not tracks:
        return Judged(h, step, Finding.PERMITTED)
    return Judged(h, step, Finding.OUT_OF_ORDER if later else Finding.NOT_PERMITTED)


def _outlet(
    h: Happened, outlet: Outlet, tracks: list[_Track], denial: Denial | None
) -> list[Judged]:
    ending = [t for t in tracks if outlet in t.route.stages[-1]]
    found: list[Judged] = []
    if denial is not None:
        found.append(Judged(h, outlet, Finding.FORBIDDEN, denial))
    elif tracks and not ending:
        found.append(Judged(h, outlet, Finding.NOT_PERMITTED))
    if tracks and not any(t.finished for t in ending or tracks):
        found.append(Judged(h, outlet, Finding.INCOMPLETE))
    return found or [Judged(h, outlet, Finding.PERMITTED)]


def _next(tracks: list[_Track]) -> tuple[Act, ...]:
    """The acts next in turn on the routes that came furthest."""
    furthest = max((len(t.done) for t in tracks), default=0)
    acts = (
        act for t in tracks if len(t.done) == furthest for act in t.route.stages[t.first_undone()]
    )
    return tuple(dict.fromkeys(acts))
