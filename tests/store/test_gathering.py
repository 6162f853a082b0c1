"""Gathered from tables or from a list: the same histories, and the same quarter."""

from datetime import timedelta

import pytest

from service.bundles.reckoned import reckoned
from service.custody.gathering import Gathering, named_in
from service.manifests.figures import figures
from service.manifests.quarter import Quarter
from service.manifests.tables import tables
from service.store import queries
from service.store.entries import Entries
from service.store.gathering import histories
from service.store.store import Store
from tests.bundles.made import Q2, Q3, SHIFTED, stream
from tests.store.record import LABEL_KEY, SET_UP_AT, new_facility
from tests.store.test_any_arrival import of_content


def recorded(store: Store) -> str:
    """A facility at which the simulated quarter, across the end of the second, is on record."""
    site, entries = stream(shift=SHIFTED)
    facility = new_facility(store)
    store.set_up(site.model_copy(update={"id": facility}), SET_UP_AT, LABEL_KEY)
    for low in range(0, len(entries), 500):
        store.append(facility, entries[low : low + 500])
    return facility


def test_the_record_and_a_list_of_its_entries_give_the_same_histories(store: Store) -> None:
    """What an inspector folds from a list is what the house folds from its tables."""
    entries = stream(shift=SHIFTED)[1]
    facility, names = recorded(store), sorted(named_in(entries))
    with store.reading() as connection:
        kept = queries.entries_after(connection, facility, 0, len(entries) + 10)
        of_tables = histories(connection, facility, Entries(connection, facility), names)

    assert [e.event.id for _, e in kept] == [e.event.id for e in entries]
    for history in Gathering(kept).histories(names):
        assert of_content(history) == of_content(of_tables[history.container])


@pytest.mark.parametrize("quarter", [Q2, Q3])
def test_the_record_and_a_list_of_its_entries_give_the_same_quarter(
    store: Store, quarter: Quarter
) -> None:
    """Judging whatever is named, carts and unused labels too, adds nothing and loses nothing."""
    entries = stream(shift=SHIFTED)[1]
    facility = recorded(store)
    now = entries[-1].recorded_at + timedelta(days=60)
    with store.reading() as connection:
        rules = store.rules_in(connection, facility)
        start, end = quarter.start(rules.site.zone), quarter.end(rules.site.zone)
        kinds = ["spilled", "notified"]
        amendments = queries.entries_of_kind(connection, facility, ["amended"], start, now)
        incidents = queries.entries_of_kind(connection, facility, kinds, start, end)
        of_tables = figures(
            queries.histories_until(connection, facility, end, start),
            rules,
            quarter,
            now=now,
            amendments=list(amendments.values()),
            incidents=incidents.values(),
        )
    of_list = reckoned(dict(enumerate(entries)), named_in(entries), rules, quarter, now)

    assert tables(of_list) == tables(of_tables)
    assert of_list == of_tables
