"""What is known of a treatment cycle besides its load: its verdict and what is wrong with it.

Values only: a container's history holds those of its cycles; ``cycles`` works them out.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from operator import attrgetter
from typing import Any, Literal, NamedTuple
from uuid import UUID

Outcome = Literal["pass", "fail", "cannot_be_judged", "no_trace"]


class Judged(NamedTuple):
    """What one logger's file shows, held against the regime.

    Attributes:
        asked: Whether the regime has a window for such a machine, so that a trace can show it.
        because: The first condition that was not met or not shown, in a sentence.
        clause: What that rests on.
        figures: The whole judgement, as JSON has it.
    """

    outcome: Outcome
    asked: bool
    because: str
    clause: str
    figures: Mapping[str, Any]


class Finding(NamedTuple):
    """Something wrong with a cycle itself, and so with everything that was in it.

    Attributes:
        code: A member of ``verdict.Code``, by value.
        evidence: Ids of the events that show it.
    """

    code: str
    opened_at: datetime
    message: str
    clause: str
    evidence: tuple[UUID, ...]


class Duty(NamedTuple):
    """Evidence that a row of the regime asks of a cycle.

    Attributes:
        due_at: Until when it should be there; a release before is no better.
        shown_at: When it was there, or None.
        message: What is missing, in a sentence.
        evidence: Ids of the events that show when it came, or what came in its place.
    """

    code: str
    due_at: datetime
    shown_at: datetime | None
    message: str
    clause: str
    evidence: tuple[UUID, ...]


class SporeTest(NamedTuple):
    """A biological indicator in a machine's register."""

    at: datetime
    event: UUID
    grew: bool


class Other(NamedTuple):
    """Another cycle of the same machine, and the event that tells of it."""

    cycle: str
    started_at: datetime
    ended_at: datetime
    event: UUID


class Around(NamedTuple):
    """What a machine's register has around a cycle.

    Attributes:
        before: The last spore test up to the cycle's start.
        after: The first after its start.
        others: Cycles that ran on the machine at the same time.
    """

    before: SporeTest | None = None
    after: SporeTest | None = None
    others: tuple[Other, ...] = ()


class Register:
    """A machine's spore tests and runs in order of time: what is around a cycle is looked up."""

    def __init__(self, tests: Iterable[SporeTest], runs: Iterable[Other]) -> None:
        self._tests = sorted(tests)
        self._runs = sorted(runs, key=attrgetter("started_at", "cycle"))
        spans = (run.ended_at - run.started_at for run in self._runs)
        self._longest = max(spans, default=timedelta())

    def around(self, cycle: str, started_at: datetime, ended_at: datetime) -> Around:
        """Give what there is around a cycle."""
        place = bisect_right(self._tests, started_at, key=attrgetter("at"))
        starts = attrgetter("started_at")
        first = bisect_right(self._runs, started_at - self._longest, key=starts)
        last = bisect_left(self._runs, ended_at, key=starts)
        return Around(
            self._tests[place - 1] if place else None,
            self._tests[place] if place < len(self._tests) else None,
            tuple(
                run
                for run in self._runs[first:last]
                if run.cycle != cycle and run.ended_at > started_at
            ),
        )


class Proof(NamedTuple):
    """A cycle as it stands.

    Attributes:
        outcome: What all its traces come to: one that fails outweighs one that passes.
        failed_at: From when it is known to have failed, or None.
        findings: What is wrong whatever comes.
        duties: What the regime asks for, shown or not.
        judged: What each trace shows, by its hash.
        run: The id of the event that tells of the run.
    """

    cycle: str
    run: UUID | None
    machine: str | None
    step: str | None
    party: str | None
    started_at: datetime | None
    ended_at: datetime | None
    outcome: Outcome
    because: str
    clause: str
    failed_at: datetime | None
    evidence: tuple[UUID, ...]
    findings: tuple[Finding, ...]
    duties: tuple[Duty, ...]
    judged: Mapping[str, Mapping[str, Any]]

    @property
    def failed(self) -> bool:
        """Whether its load counts as untreated."""
        return self.outcome == "fail"
