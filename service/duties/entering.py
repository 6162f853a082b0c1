"""Enter what goes out and what is used: on disk before the answer is given.

Exports and printed labels are entered, or they do not go out: when the disk is full they are
refused like everything that is to be kept. Looking things up is not entered, and goes on.
"""

from datetime import datetime

from service.access.entries import AccessKind, Told, by
from service.duties.access import Caller
from service.store import access_log
from service.store.store import Store


def enter(store: Store, caller: Caller, kind: AccessKind, now: datetime, **about: Told) -> None:
    """Have the access log say what a caller did.

    Raises:
        BusyError, UnwritableError: it cannot be entered.
    """
    with store.changing(caller.facility) as connection:
        access_log.record(connection, caller.facility, by(caller, kind, now, **about))
