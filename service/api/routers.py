"""All the doors."""

from service.api import (
    consignments,
    containers,
    epcis,
    events,
    health,
    labels,
    manifests,
    regimes,
    violations,
)

ROUTERS = (
    labels.router,
    events.router,
    containers.router,
    violations.router,
    consignments.router,
    regimes.router,
    manifests.router,
    epcis.router,
    health.router,
)
"""In the order in which the description shows them."""
