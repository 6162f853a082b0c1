"""Tell people and programs outside of what is due, late or wrong: at least once, never in vain."""

import logging
from collections.abc import Callable, Sequence
from datetime import datetime

from service.custody.site import Site
from service.duties.access import Caller, demand
from service.notices.notice import Notice
from service.notices.recipients import Recipient
from service.store import notices
from service.store.notices import Waiting as Waiting
from service.store.store import Store

Deliver = Callable[[Recipient, Site, Sequence[Notice]], None]
"""Hands notices to whom they are for; raises OSError where they were not taken."""

_log = logging.getLogger("custody")


def tell(store: Store, to: Recipient, deliver: Deliver, clock: Callable[[], datetime]) -> int:
    """Make the notices that a recipient has not had, and send what is to be sent now.

    A letter takes all of them; a program gets each by itself, and one that it turns away does not
    keep it from the next. Gives how many were taken.

    Raises:
        NoSetupError: the facility was never set up.
    """
    site = store.rules(to.facility).site
    now = clock()
    with store.changing(to.facility) as connection:
        notices.make(connection, to.facility, to.name, to.tell, now)
        unsent = notices.take(connection, to.facility, to.name, now)
    told = 0
    for some in [unsent] if to.mail and unsent else [[each] for each in unsent]:
        fault = ""
        try:
            deliver(to, site, [each.notice for each in some])
        except OSError as error:  # no such server, no answer, turned away: it is tried again
            fault = f"{type(error).__name__}: {error}"
            _log.warning("notices to %s of %s were not taken: %s", to.name, to.facility, fault)
        with store.changing(to.facility) as connection:
            if fault:
                notices.failed(connection, to.facility, to.name, some, fault, clock())
            else:
                notices.sent(connection, to.facility, to.name, some, clock())
                told += len(some)
    return told


def waiting(store: Store, caller: Caller) -> list[Waiting]:
    """Give what recipients were not told yet.

    Raises:
        NotAllowedError: the caller may not read the whole record.
    """
    demand(caller, "read_metrics")
    with store.reading() as connection:
        return notices.waiting(connection, caller.facility)
