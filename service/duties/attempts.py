"""Attempts to prove who one is: counted, waited for, taken back, told of in the access log.

Every attempt is counted as failed, on disk, before the secret is looked at, and taken back when it
was right. So guesses that come at once cannot all pass before one of them is counted, and a restart
forgets none.
"""

import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection

from service.access import throttle
from service.access.entries import AccessEntry, AccessKind
from service.access.people import Person
from service.store import access_log, identities
from service.store.faults import BusyError

HASHING_MOST = 2
"""Hashes computed at a time at either door: each takes 64 MiB for a tenth of a second and more."""

HASHING_PATIENCE_S = 5.0
"""How long a sign-in waits for its turn."""

AT_DESKS = threading.BoundedSemaphore(HASHING_MOST)
ON_DEVICES = threading.BoundedSemaphore(HASHING_MOST)
"""Turns apart: a flood of passwords from anywhere holds up no badge on a ward."""


class SignInError(Exception):
    """Nobody is let in by this; it is never said why."""

    def __init__(self) -> None:
        super().__init__("the name, the password or the code is wrong")


class WaitError(Exception):
    """Too many attempts failed: the next may come in so many seconds."""

    def __init__(self, seconds: int) -> None:
        super().__init__(f"too many attempts failed: try again in {seconds} s")
        self.seconds = seconds


@dataclass(frozen=True, slots=True)
class Mark:
    """What an attempt is counted on.

    Attributes:
        shared: Others count on it too: a success takes back its own attempt, not theirs.
    """

    subject: str
    limit: throttle.Limit
    shared: bool = False


@dataclass(frozen=True, slots=True)
class Counted:
    """An attempt as it was counted on one subject."""

    mark: Mark
    before: throttle.Standing | None
    after: throttle.Standing


def source_mark(source: str) -> Mark:
    """Give what all attempts from one address are counted on."""
    subject = throttle.subject("source", throttle.source_of(source))
    return Mark(subject, throttle.BY_SOURCE, shared=True)


@contextmanager
def turn(slots: threading.BoundedSemaphore) -> Iterator[None]:
    """Wait for a turn to compute hashes, so that a flood does not take all memory.

    Hashes are computed between transactions, never within one.

    Raises:
        BusyError: none came in time.
    """
    if not slots.acquire(timeout=HASHING_PATIENCE_S):
        raise BusyError("too many are signing in at once: try again in a moment")
    try:
        yield
    finally:
        slots.release()


def count(
    connection: Connection, facility: str, marks: Sequence[Mark], now: datetime
) -> list[Counted]:
    """Count an attempt as failed on every subject, if none of them has to wait.

    Raises:
        WaitError: one has; nothing was counted.
    """
    counted = []
    latest = now
    for mark in marks:
        before = identities.attempts(connection, facility, mark.subject)
        latest = max(latest, throttle.next_at(mark.limit, before, now))
        counted.append(Counted(mark, before, throttle.counted(mark.limit, before, now)))
    if latest > now:
        raise WaitError(-(-(latest - now) // timedelta(seconds=1)))
    for each in counted:
        identities.keep_attempts(connection, facility, each.mark.subject, *each.after)
    return counted


def settle(
    connection: Connection, facility: str, counted: Sequence[Counted], now: datetime
) -> None:
    """Take an attempt back that was right: one's own subject starts anew, shared ones stand."""
    for each in counted:
        subject = each.mark.subject
        if not each.mark.shared:
            identities.keep_attempts(connection, facility, subject, 0, now)
            continue
        standing = identities.attempts(connection, facility, subject)
        left = throttle.taken_back(standing, each.before, each.after) or (0, now)
        identities.keep_attempts(connection, facility, subject, *left)
    identities.forget_attempts(connection, facility, now - throttle.FORGOTTEN)


def refuse(
    connection: Connection,
    facility: str,
    person: Person | None,
    reason: str,
    now: datetime,
    request: str,
    device: str = "",
) -> None:
    """Have the access log tell of a refusal, unless it has told of many like it lately."""
    who = person.id if person else ""
    subject = throttle.subject("entry", who, reason, device)
    before = identities.attempts(connection, facility, subject)
    if throttle.next_at(throttle.BY_ENTRY, before, now) > now:
        return
    after = throttle.counted(throttle.BY_ENTRY, before, now)
    identities.keep_attempts(connection, facility, subject, *after)
    kind = AccessKind.SIGN_IN_REFUSED
    entry = AccessEntry(kind, now, who, device, request, {"reason": reason})
    access_log.record(connection, facility, entry)
