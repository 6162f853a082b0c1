"""All the doors."""

from service.api import (
    access_log,
    clients,
    codes,
    consignments,
    containers,
    epcis,
    events,
    evidence,
    health,
    labels,
    manifests,
    metrics,
    people,
    regimes,
    sessions,
    verifications,
    violations,
)

ROUTERS = (
    labels.router,
    events.router,
    containers.router,
    codes.router,
    violations.router,
    consignments.router,
    regimes.router,
    manifests.router,
    epcis.router,
    evidence.router,
    verifications.router,
    sessions.router,
    people.router,
    clients.router,
    access_log.router,
    health.router,
    metrics.router,
)
"""In the order in which the description shows them."""
