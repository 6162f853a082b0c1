"""How far somebody reaches and until when, as commands about people and devices are told it."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Annotated

import typer

from service.access.caller import Scope
from service.duties.access import Caller
from service.store.store import Store
from service.terminal import moment

UnitsOption = Annotated[
    list[str] | None, typer.Option("--unit", help="Only this unit; may be repeated.")
]
PartiesOption = Annotated[
    list[str] | None, typer.Option("--party", help="Only this party; may be repeated.")
]
UntilOption = Annotated[
    str | None,
    typer.Option(help="Last day, such as 2026-09-30, or an instant with its zone."),
]


def scope_of(units: list[str] | None, parties: list[str] | None) -> Scope:
    """Give the scope of the options; without any it is the whole facility."""
    return Scope(frozenset(units or ()), frozenset(parties or ()))


def reach(scope: Scope) -> str:
    """Write a scope for a table."""
    return "all" if scope.whole else ", ".join([*sorted(scope.units), *sorted(scope.parties)])


def until_of(store: Store, caller: Caller, given: str) -> datetime:
    """Give the first instant after a last day, by the facility's clock, or end the command."""
    try:
        last = date.fromisoformat(given)
    except ValueError:
        return moment(given).astimezone(UTC)
    zone = store.rules(caller.facility).site.zone
    return datetime.combine(last + timedelta(days=1), time(), zone).astimezone(UTC)
