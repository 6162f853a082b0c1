"""The officer's duties: set up the site, change its label key, put a quarter on paper."""

import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import chain
from typing import Literal

from sqlalchemy import Connection

from service.access.entries import AccessEntry, AccessKind, by
from service.custody.history import History
from service.custody.site import Site
from service.duties.access import Caller, NotAllowedError, demand
from service.duties.entering import enter
from service.duties.lookup import NotFoundError, regime, regime_ids
from service.manifests.figures import QuarterFigures, figures
from service.manifests.pdf import pdf
from service.manifests.quarter import Quarter
from service.manifests.tables import single_csv
from service.manifests.xlsx import xlsx
from service.store import access_log, labelling, queries
from service.store.evidence import last_recorded_at, recorded_from
from service.store.gathering import Older
from service.store.log import LogView
from service.store.store import Store

Form = Literal["pdf", "xlsx", "csv"]
_WRITERS = {"pdf": pdf, "xlsx": xlsx, "csv": single_csv}
KEY_BYTES = 32


def set_up(store: Store, caller: Caller, site: Site, now: datetime) -> int:
    """Keep a version of the site's set-up; give its number, 1 for the first.

    What was recorded under an earlier version is judged by the new one once it is rebuilt.

    Raises:
        NotAllowedError: the caller is no administrator of that facility.
        NotFoundError: the site names a regime that there is not, or a category or fact that its
            regime does not have, or a way to a location where nothing is.
    """
    demand(caller, "set_up")
    if caller.facility != site.id:
        raise NotAllowedError(f"you are known at {caller.facility}, not at {site.id}")
    if site.regime not in regime_ids():
        known = ", ".join(regime_ids())
        raise NotFoundError(f"there is no regime '{site.regime}'; there are: {known}")
    _fitting(site)

    def entry(version: int) -> AccessEntry:
        return by(caller, AccessKind.SET_UP, now, version=version)

    return store.set_up(site, now, secrets.token_bytes(KEY_BYTES), entry)


def change_label_key(store: Store, caller: Caller, now: datetime, *, distrust_old: bool) -> int:
    """Have new labels bear tags of a new key; give its number, 1 for the first there was.

    Labels that were printed stay genuine. With ``distrust_old`` they do not: the older keys are
    destroyed, and every old label that is scanned from now on is flagged. What was scanned before
    stays as it was judged then.

    Raises:
        NotAllowedError: the caller is no administrator.
        NoSetupError: the facility was never set up.
    """
    demand(caller, "change_label_key")
    key = secrets.token_bytes(KEY_BYTES)
    kind = AccessKind.LABEL_KEY_CHANGED
    with store.changing(caller.facility) as connection:
        number = labelling.keep_next_key(
            connection, caller.facility, key, distrust_old=distrust_old
        )
        entry = by(caller, kind, now, key=number, old=("distrusted" if distrust_old else "trusted"))
        access_log.record(connection, caller.facility, entry)
    return number


def _fitting(site: Site) -> None:
    """A misspelt category, fact or location would be passed over in silence, so it is refused."""
    places = {x.location for group in (site.unit, site.store, site.party) for x in group}
    nowhere = {place for way in site.travel for place in way.between} - places
    if nowhere:
        raise NotFoundError(f"travel: no unit, store or party is at the location '{min(nowhere)}'")
    text = regime(site.regime)
    allowed = [a.categories for party in site.party for a in party.authorisation]
    for what, said, known in (
        ("category", chain(*(u.categories for u in site.unit)), {c.id for c in text.category}),
        ("category", chain(*(s.categories for s in site.store)), {c.id for c in text.category}),
        ("category", chain(*allowed), {"*", *(c.id for c in text.category)}),
        ("fact", site.facts, set(text.site_facts)),
    ):
        strangers = sorted(set(said) - known)
        if strangers:
            names = ", ".join(sorted(known - {"*"})) or "none"
            raise NotFoundError(f"{site.regime} has no {what} '{strangers[0]}'; there are: {names}")


def rebuild(store: Store, caller: Caller, now: datetime) -> Iterator[tuple[int, int]]:
    """Derive all projections anew from the record; yields (done, in all)."""
    demand(caller, "rebuild")
    return store.rebuild(caller.facility, by(caller, AccessKind.REBUILT, now))


@dataclass(frozen=True, slots=True)
class Reckoned:
    """A quarter's figures and what of the record they rest on.

    Attributes:
        containers: Every container that was looked at.
        first: The number of the first leaf that was recorded in the quarter or later.
        older: The leaf numbers, below that, of the entries that were looked at.
    """

    figures: QuarterFigures
    containers: set[str]
    first: int
    older: set[int]


def manifest(store: Store, caller: Caller, name: str, now: datetime) -> QuarterFigures:
    """Reckon the figures of a quarter, such as ``2026-Q3``, from the record alone.

    Raises:
        QuarterError: the name is not that of a quarter.
        NotAllowedError: the caller may not read the whole record.
    """
    demand(caller, "fetch_manifest")
    with store.viewing(through=True) as connection:
        return reckon(store, connection, caller.facility, name, now).figures


def reckon(
    store: Store, connection: Connection, facility: str, name: str, now: datetime
) -> Reckoned:
    """Reckon a quarter within a reading that is already open.

    A finished quarter is reckoned at its end or at the last entry, whichever is later: as long as
    nothing is recorded, it comes out the same whenever it is asked for.

    Raises:
        QuarterError: the name is not that of a quarter.
    """
    quarter = Quarter.parse(name)
    rules = store.rules_in(connection, facility)
    start, end = quarter.start(rules.site.zone), quarter.end(rules.site.zone)
    if now >= end:
        now = max(end, last_recorded_at(connection, facility) or end)
    first = recorded_from(connection, facility, start, LogView(connection, facility).size)
    older, looked_at = Older(first), set[str]()

    def histories() -> Iterator[History]:
        for history in queries.histories_until(connection, facility, end, start, older):
            looked_at.add(history.container)
            yield history

    amendments = queries.entries_of_kind(
        connection, facility, ["amended"], start, now + timedelta.resolution
    )
    incidents = queries.entries_of_kind(connection, facility, ["spilled", "notified"], start, end)
    reckoned = figures(
        histories(),
        rules,
        quarter,
        now=now,
        amendments=list(amendments.values()),
        incidents=incidents.values(),
    )
    older.add((*amendments, *incidents))
    return Reckoned(reckoned, looked_at, first, older.numbers)


def paper(store: Store, caller: Caller, name: str, form: Form, now: datetime) -> bytes:
    """Give the manifest of a quarter as one paper: PDF, spreadsheet or CSV; errors as above."""
    written = _WRITERS[form](manifest(store, caller, name, now))
    enter(store, caller, AccessKind.EXPORTED, now, form=form, quarter=name)
    return written
