"""The officer's duties: set up the site, reckon a quarter and put it on paper."""

import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import chain
from typing import Literal

from sqlalchemy import Connection

from service.custody.history import History
from service.custody.site import Site
from service.duties.access import Caller, demand
from service.duties.lookup import NotFoundError, regime, regime_ids
from service.manifests.figures import QuarterFigures, figures
from service.manifests.pdf import pdf
from service.manifests.quarter import Quarter
from service.manifests.tables import single_csv
from service.manifests.xlsx import xlsx
from service.store import queries
from service.store.evidence import last_recorded_at
from service.store.store import Store

Form = Literal["pdf", "xlsx", "csv"]
_WRITERS = {"pdf": pdf, "xlsx": xlsx, "csv": single_csv}
TOKEN_BYTES = 32


def set_up(store: Store, site: Site, now: datetime) -> int:
    """Keep a version of the site's set-up; give its number, 1 for the first.

    What was recorded under an earlier version is judged by the new one once it is rebuilt.

    Raises:
        NotFoundError: the site names a regime that there is not, or a category or fact that its
            regime does not have, or a way to a location where nothing is.
    """
    if site.regime not in regime_ids():
        known = ", ".join(regime_ids())
        raise NotFoundError(f"there is no regime '{site.regime}'; there are: {known}")
    _fitting(site)
    return store.set_up(site, now, secrets.token_bytes(TOKEN_BYTES))


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
        ("category", chain(*allowed), {"*", *(c.id for c in text.category)}),
        ("fact", site.facts, set(text.site_facts)),
    ):
        strangers = sorted(set(said) - known)
        if strangers:
            names = ", ".join(sorted(known - {"*"})) or "none"
            raise NotFoundError(f"{site.regime} has no {what} '{strangers[0]}'; there are: {names}")


def rebuild(store: Store, caller: Caller) -> Iterator[tuple[int, int]]:
    """Derive all projections anew from the record; yields (done, in all)."""
    demand(caller, "rebuild")
    return store.rebuild(caller.facility)


@dataclass(frozen=True, slots=True)
class Reckoned:
    """A quarter's figures and what of the record they rest on.

    Attributes:
        containers: Every container that was looked at.
        rests_on: The leaf numbers of the entries that were.
    """

    figures: QuarterFigures
    containers: set[str]
    rests_on: set[int]


def manifest(store: Store, caller: Caller, name: str, now: datetime) -> QuarterFigures:
    """Reckon the figures of a quarter, such as ``2026-Q3``, from the record alone.

    Raises:
        QuarterError: the name is not that of a quarter.
        NotAllowedError: the caller may not read the whole record.
    """
    demand(caller, "fetch_manifest")
    with store.reading() as connection:
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
    rests_on: set[int] = set()
    looked_at: set[str] = set()

    def histories() -> Iterator[History]:
        for history in queries.histories_until(connection, facility, end, start, rests_on):
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
    rests_on |= amendments.keys() | incidents.keys()
    return Reckoned(reckoned, looked_at, {seq - 1 for seq in rests_on})


def paper(store: Store, caller: Caller, name: str, form: Form, now: datetime) -> bytes:
    """Give the manifest of a quarter as one paper: PDF, spreadsheet or CSV."""
    return _WRITERS[form](manifest(store, caller, name, now))
