"""Who sees a container: everybody with the whole facility, others what is of theirs."""

from collections.abc import Collection

from service.access.caller import Scope


def reaches(
    scope: Scope, unit: str | None, custodian: str | None, carried_by_or_to: Collection[str]
) -> bool:
    """Say whether a container is within a scope.

    The store asks the same of its rows (``service.store.reach``).

    Args:
        scope: How far somebody reaches.
        unit: The unit it is of; what nobody registered is of none, and anybody's.
        custodian: The party that holds it now.
        carried_by_or_to: The carriers and consignees of all consignments it was ever in.
    """
    return (
        scope.whole
        or unit is None
        or unit in scope.units
        or custodian in scope.parties
        or not scope.parties.isdisjoint(carried_by_or_to)
    )
