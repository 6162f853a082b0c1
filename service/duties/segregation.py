"""All figures of segregation of a period at once, as the officer looks at them."""

from dataclasses import dataclass

from service.duties.access import Caller, demand
from service.duties.balance import Days
from service.duties.figures import (
    ErrorsView,
    RatesView,
    SharesView,
    errors_of,
    gather,
    rates_of,
    shares_of,
)
from service.duties.signals import ChartsView, DropsView, charts_of, drops
from service.store import figures as queries
from service.store.store import Store


@dataclass(frozen=True, slots=True)
class Segregation:
    """What ``figures`` and ``signals`` say of one period."""

    rates: RatesView
    shares: SharesView
    errors: ErrorsView
    charts: ChartsView
    drops: DropsView


def segregation(store: Store, caller: Caller, days: Days) -> Segregation:
    """Reckon the figures of a period, from one reading of it."""
    demand(caller, "read_rates")
    with store.viewing() as connection:
        rules = store.rules_in(connection, caller.facility)
        zone = rules.site.zone
        gathered = gather(connection, caller.facility, days, zone, caller.scope)
        between = days.between(zone)
        found = queries.inspections(connection, caller.facility, between, caller.scope)
    return Segregation(
        rates_of(gathered, days),
        shares_of(gathered, rules.regime, days),
        errors_of(found, days),
        charts_of(gathered, found, days, zone),
        drops(store, caller, days.last),
    )
