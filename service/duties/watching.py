"""Watching over the service: how the record of a facility stands, in numbers."""

from datetime import datetime, timedelta

from service.duties.access import Caller, demand
from service.store.condition import Condition as Condition
from service.store.condition import condition
from service.store.store import Store

SOON = timedelta(hours=6)
"""How long before its holding limit a container counts as due: a shift may still fetch it."""


def watch(store: Store, caller: Caller, now: datetime) -> Condition:
    """Give the condition of the caller's facility.

    Raises:
        NotAllowedError: the caller may not read the whole record.
    """
    demand(caller, "read_metrics")
    with store.viewing() as connection:
        return condition(connection, caller.facility, now, SOON)
