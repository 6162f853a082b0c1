"""Hand the record on in the form that others' systems read: GS1 EPCIS 2.0 in JSON-LD."""

from collections.abc import Generator
from datetime import UTC, datetime
from functools import lru_cache, partial

from service.access.entries import AccessKind
from service.duties.access import Caller, Store, demand
from service.duties.entering import enter
from service.ledger.leaf import instant
from service.manifests.epcis.document import MEDIA_TYPE, Frame, document
from service.manifests.epcis.names import Names
from service.manifests.quarter import Quarter
from service.store import cycle_queries, queries

CYCLES_KEPT = 100
"""Cycles remembered while a document is written: a load is told in several events, one by one."""

__all__ = ["MEDIA_TYPE", "Parts", "PeriodError", "epcis", "quarter"]

Parts = Generator[bytes, None, None]
"""A document part by part; whoever takes it closes it, also after the last part was not wanted."""


class PeriodError(ValueError):
    """The period ends before it begins, or is empty."""


def epcis(
    store: Store,
    caller: Caller,
    period: tuple[datetime, datetime],
    now: datetime,
    origin: str,
) -> Parts:
    """Give an EPCIS document of what happened in the period [from, until), in parts.

    One state of the record is read throughout. The reading begins with the first part that is
    asked for, and ends with the last or when the iterator is closed: close it in any case. The
    export is entered before.

    Args:
        store: The store.
        caller: Who asks.
        period: From when, and until when.
        now: The document's date of creation.
        origin: The address below which things are named: the one that printed codes open.

    Raises:
        NotAllowedError: the caller may not read the whole record.
        PeriodError: the period does not end after it begins.
    """
    demand(caller, "export_epcis")
    if period[0] >= period[1]:
        raise PeriodError("the period ends before it begins: 'from' must lie before 'until'")
    from_, until = (instant(each.astimezone(UTC)) for each in period)
    kind = AccessKind.EXPORTED
    enter(store, caller, kind, now, **{"form": "epcis", "from": from_, "until": until})
    return _read(store, caller.facility, period, now, origin)


def quarter(store: Store, caller: Caller, name: str, now: datetime, origin: str) -> Parts:
    """Give the EPCIS document of a quarter, such as ``2026-Q3``, of the facility's own calendar.

    Raises:
        QuarterError: the name is not that of a quarter.
        NotAllowedError: the caller may not read the whole record.
    """
    demand(caller, "export_epcis")
    asked, zone = Quarter.parse(name), store.rules(caller.facility).site.zone
    return epcis(store, caller, (asked.start(zone), asked.end(zone)), now, origin)


def _read(
    store: Store, facility: str, period: tuple[datetime, datetime], now: datetime, origin: str
) -> Parts:
    with store.viewing() as connection:
        frame = Frame(
            names=Names(origin, facility),
            zone=store.rules_in(connection, facility).site.zone,
            created_at=now,
            from_at=period[0],
            until=period[1],
            carriers=queries.carriers(connection, facility),
            proof_of=lru_cache(CYCLES_KEPT)(partial(cycle_queries.proof, connection, facility)),
        )
        amended = queries.amended(connection, facility, *period)
        yield from document(frame, queries.happened(connection, facility, *period), amended)
