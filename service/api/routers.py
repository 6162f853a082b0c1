"""All the doors."""

from service.api import (
    consignments,
    containers,
    epcis,
    events,
    evidence,
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
    evidence.router,
    health.router,
)
"""In the order in which the description shows them."""
