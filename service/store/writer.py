"""Few threads write for the whole process: what waits is committed together, then answered.

SQLite has one, which commits the entries of all facilities together. PostgreSQL has several, each
with the entries of one facility: a commit holds the head of its log until it is on the disk, and
of more than one it would keep other services from all of them.

There is no timer: whoever comes alone is served at once. What comes while a commit is on its way
to the disk goes with the next one; that waits until no more are on their way than are there, so
that requests which came together go together. A sender that hangs up loses its answer, nothing
else.
"""

import logging
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field

from service.custody.events import Entry
from service.store.append import Outcome
from service.store.faults import BusyError, TakenBackError, UnusableError, UnwritableError

_log = logging.getLogger("custody")

TOGETHER = 2_000
"""Entries in one commit, as a rule: what comes first must not wait for all that came after."""

PATIENCE_S = 0.05
"""The longest a commit waits for what is on its way, should that be held up."""

WAITING_MAX = 20_000
"""Entries that may wait; beyond that a sender is told to come again."""

TRIES = 5
"""How often jobs are tried that the database takes back for another's sake."""


@dataclass(frozen=True, slots=True)
class Job:
    """What one request wants recorded, and where its outcomes go once they are on disk."""

    facility: str
    entries: Sequence[Entry]
    outcomes: "Future[list[Outcome]]" = field(default_factory=Future)


@dataclass(slots=True)
class _Notice:
    """That a request is on its way to the writer, until it has arrived or come to nothing."""

    arrived: bool = False


_NOTICE: ContextVar[_Notice | None] = ContextVar("notice", default=None)

Commit = Callable[[Sequence[Job]], list[list[Outcome]]]
"""Records all jobs in one transaction, or none; on return they are on disk."""


class Writer:
    """Takes jobs from any thread and commits them together; its own threads start with the first.

    With one thread the jobs of all facilities go together; with more, those of one facility at a
    time, which is never in two commits at once.

    Attributes:
        commits: How many transactions it has committed.
    """

    def __init__(self, commit: Commit, threads: int = 1) -> None:
        self._commit = commit
        self._apart = threads > 1
        self._threads_max = threads
        self._waiting: deque[Job] = deque()
        self._held: set[str] = set()
        self._entries = 0
        self._coming = 0
        self._turn = threading.Condition()
        self._threads: list[threading.Thread] = []
        self._idle = 0
        self._closed = False
        self.commits = 0

    @property
    def waiting(self) -> int:
        """How many entries wait for a commit to take them."""
        return self._entries

    @contextmanager
    def expected(self) -> Iterator[None]:
        """What is submitted from within this block is on its way: a commit may wait for it."""
        notice = _Notice()
        token = _NOTICE.set(notice)
        with self._turn:
            self._coming += 1
        try:
            yield
        finally:
            _NOTICE.reset(token)
            with self._turn:
                self._arrived(notice)

    def _arrived(self, notice: "_Notice | None") -> None:
        if notice is not None and not notice.arrived:
            notice.arrived = True
            self._coming -= 1
            self._turn.notify_all()

    def submit(self, facility: str, entries: Sequence[Entry]) -> "Future[list[Outcome]]":
        """Have entries recorded; the future is done once they are on disk.

        Raises:
            BusyError: too much is waiting already, or the writer is closed.
        """
        job = Job(facility, entries)
        with self._turn:
            if self._closed:
                raise BusyError("the service is stopping: send the same again in a moment")
            if self._waiting and self._entries + len(entries) > WAITING_MAX:
                raise BusyError("too much is waiting to be recorded: send the same again")
            if not self._idle and len(self._threads) < self._threads_max:
                thread = threading.Thread(target=self._run, name="writer", daemon=True)
                thread.start()  # where it cannot start, nothing was queued that would wait for ever
                self._threads.append(thread)
            self._waiting.append(job)
            self._entries += len(entries)
            self._arrived(_NOTICE.get())
            self._turn.notify_all()
        return job.outcomes

    def close(self) -> None:
        """Commit what waits, and end; who comes later is told so. On return all have an answer."""
        with self._turn:
            self._closed = True
            self._turn.notify_all()
        for thread in self._threads:
            thread.join()

    def _run(self) -> None:
        while jobs := self._next():
            try:
                self._serve(jobs)
            finally:
                with self._turn:
                    self._held -= {job.facility for job in jobs}
                    self._turn.notify_all()

    def _next(self) -> list[Job]:
        """Wait for jobs and take as many as go together; none when all is done and closed."""
        with self._turn:
            self._idle += 1
            taken: list[Job] = []
            while not taken and not self._done():
                self._turn.wait_for(lambda: self._free() or self._done())
                self._turn.wait_for(self._enough, timeout=PATIENCE_S)
                taken = self._take()
            self._idle -= 1
            self._held |= {job.facility for job in taken}
        return taken

    def _done(self) -> bool:
        return self._closed and not self._waiting

    def _free(self) -> bool:
        """Whether anything waits that is in nobody's hands."""
        return any(job.facility not in self._held for job in self._waiting)

    def _take(self) -> list[Job]:
        """Take what goes together, in the order in which it came; the rest goes on waiting."""
        taken: list[Job] = []
        left: list[Job] = []
        entries = 0
        while self._waiting and (not taken or entries < TOGETHER):
            job = self._waiting.popleft()
            mine = not taken or not self._apart or job.facility == taken[0].facility
            if mine and job.facility not in self._held:
                taken.append(job)
                entries += len(job.entries)
            else:
                left.append(job)
        self._waiting.extendleft(reversed(left))
        self._entries -= entries
        return taken

    def _enough(self) -> bool:
        here = len(self._waiting)
        return self._closed or here >= self._coming or self._entries >= TOGETHER

    def _serve(self, jobs: Sequence[Job]) -> None:
        """Commit jobs together; where that fails by the fault of one, each has its own try."""
        try:
            told = self._tried(jobs)
        except Exception as error:
            if len(jobs) == 1 or isinstance(error, (BusyError, UnusableError, UnwritableError)):
                for job in jobs:
                    job.outcomes.set_exception(error)
                return
            for job in jobs:
                self._serve([job])
            return
        with self._turn:
            self.commits += 1
        for job, outcomes in zip(jobs, told, strict=True):
            job.outcomes.set_result(outcomes)

    def _tried(self, jobs: Sequence[Job]) -> list[list[Outcome]]:
        """Commit jobs; what was taken back left nothing behind, and is all tried anew."""
        for _ in range(TRIES - 1):
            try:
                return self._commit(jobs)
            except TakenBackError as error:
                why = getattr(error.__cause__, "orig", error)
                _log.warning("entries are recorded anew, as the database took them back: %s", why)
        return self._commit(jobs)
