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


@dataclass(frozen=True, slots=True)
class _Walked:
    """What a sequence of acts comes to: findings by the act's place in it, and the rest of a walk.

    It depends on nothing but the category's text and the acts, so it is worked out once.
    """

    findings: tuple[tuple[int, Finding, Denial | None], ...]
    steps: tuple[Step, ...]
    next_acts: tuple[Act, ...]
    finished: bool


def walk(history: History, text: CategoryRules) -> Walk:
    """Hold every treatment, departure and disposal of the history against the routes."""
    moved = [h for h in history.happened if type(h.event) in _MOVES and history.counts(h)]
    acts = tuple(_act(h) for h in moved)
    if acts not in text.walked:
        text.walked[acts] = _walk(text, acts)
    known: _Walked = text.walked[acts]
    judged = tuple(Judged(moved[i], acts[i], found, row) for i, found, row in known.findings)
    return Walk(judged, known.steps, known.next_acts, known.finished)


_MOVES = (Treated, Disposed, Dispatched)


def _act(h: Happened) -> Act | None:
    """The step or outlet of an event; None is leaving the site."""
    if isinstance(h.event, Treated):
        return h.event.step
    return h.event.outlet if isinstance(h.event, Disposed) else None


def _walk(text: CategoryRules, acts: tuple[Act | None, ...]) -> _Walked:
    tracks = [_Track(route, set()) for route in text.routes]
    steps: list[Step] = []
    findings: list[tuple[int, Finding, Denial | None]] = []
    for i, act in enumerate(acts):
        denial = _denial(text, act, steps)
        found: list[Finding] = [Finding.FORBIDDEN] if denial is not None else []
        if isinstance(act, Step):
            fit = _step(act, tracks)
            found = found or [fit]
            steps.append(act)
        elif isinstance(act, Outlet):
            found += _outlet(act, tracks, denied=denial is not None)
        findings += ((i, f, denial if f is Finding.FORBIDDEN else None) for f in found)
    gone = any(isinstance(act, Outlet) for act in acts)
    ahead = () if gone else tuple(a for a in _next(tracks) if not _denial(text, a, steps))
    return _Walked(tuple(findings), tuple(steps), ahead, any(t.finished for t in tracks))


def _denial(text: CategoryRules, act: Act | None, steps: list[Step]) -> Denial | None:
    for row in text.denials:
        denied = row.dispatch if act is None else act in row.acts
        if not denied or (row.after and not set(row.after).intersection(steps)):
            continue
        if row.unless_after and set(row.unless_after).intersection(steps):
            continue
        return row
    return None


def _step(step: Step, tracks: list[_Track]) -> Finding:
    """Take the step on every route that has it; say how it fits."""
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
    if in_turn or repeated or not tracks:
        return Finding.PERMITTED
    return Finding.OUT_OF_ORDER if later else Finding.NOT_PERMITTED


def _outlet(outlet: Outlet, tracks: list[_Track], *, denied: bool) -> list[Finding]:
    """Say what is wrong with the outlet itself and with what was done before it."""
    ending = [t for t in tracks if outlet in t.route.stages[-1]]
    found: list[Finding] = []
    if tracks and not ending and not denied:
        found.append(Finding.NOT_PERMITTED)
    if tracks and not any(t.finished for t in ending or tracks):
        found.append(Finding.INCOMPLETE)
    return found if found or denied else [Finding.PERMITTED]


def _next(tracks: list[_Track]) -> tuple[Act, ...]:
    """The acts next in turn on the routes that came furthest."""
    furthest = max((len(t.done) for t in tracks), default=0)
    acts = (
        act for t in tracks if len(t.done) == furthest for act in t.route.stages[t.first_undone()]
    )
    return tuple(dict.fromkeys(acts))
