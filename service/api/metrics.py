"""Figures for a monitoring program, in the text form of OpenMetrics' forerunner (Prometheus 0.0.4).

Of this process: how long answers took and what waits to be recorded. Of the caller's facility: what
is open, due and wrong, and how far the log is signed.
"""

import time
from collections.abc import Callable, Iterator

from fastapi import APIRouter, Request, Response
from prometheus_client import CollectorRegistry, Histogram, generate_latest
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from starlette.types import ASGIApp, Receive, Scope, Send

from service.api.doors import Known
from service.api.problems import documented
from service.api.traffic import Answered
from service.custody.words import Severity
from service.duties.access import Store
from service.duties.watching import Condition, watch

MEDIA_TYPE = "text/plain; version=0.0.4; charset=utf-8"
BUCKETS_S = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)

router = APIRouter(tags=["health"])


class Meters:
    """What one process counts of itself since its start."""

    def __init__(self, store: Store) -> None:
        self.registry = CollectorRegistry()
        self.answers = Histogram(
            "custody_answer_seconds",
            "Time until an answer was sent; of record_events, until all was on disk",
            ("operation", "status"),
            buckets=BUCKETS_S,
            registry=self.registry,
        )
        self._store = store
        self.registry.register(self)

    def collect(self) -> Iterator[Metric]:
        """Give what the store counts."""
        yield CounterMetricFamily(
            "custody_commits",
            "Transactions that recorded entries",
            value=self._store.commits,
        )
        yield GaugeMetricFamily(
            "custody_waiting_entries",
            "Entries that wait to be recorded",
            value=self._store.waiting,
        )
        if (replica := self._store.replica) is not None:
            readings = CounterMetricFamily(
                "custody_readings", "Readings of what is shown or handed out", labels=("at",)
            )
            readings.add_metric(("replica",), replica.at_replica)
            readings.add_metric(("server",), replica.at_server)
            yield readings
            if replica.behind_bytes is not None:
                yield GaugeMetricFamily(
                    "custody_replica_behind_bytes",
                    "How far the replica was behind the server when it was last asked",
                    value=replica.behind_bytes,
                )


class Timed:
    """Has the time of every answer counted by its operation, or as none if no door was found."""

    def __init__(
        self, app: ASGIApp, meters: Meters, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._app = app
        self._meters = meters
        self._clock = clock

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        begun, told = self._clock(), Answered(send)
        try:
            await self._app(scope, receive, told.send)
        finally:
            operation = getattr(scope.get("route"), "operation_id", None) or "none"
            took = self._clock() - begun
            self._meters.answers.labels(operation, str(told.status or 500)).observe(took)


@router.get(
    "/metrics",
    summary="Figures for a monitoring program",
    operation_id="read_metrics",
    response_class=Response,
    responses={
        200: {
            "description": "The figures.",
            "content": {"text/plain": {"schema": {"type": "string"}}},
        },
        **documented(403),
    },
)
def metrics(request: Request, call: Known) -> Response:
    """Give the figures of this process and of the caller's facility, as they are now."""
    found = watch(call.store, call.caller, call.now)
    behind = 0.0 if found.signed_at is None else (call.now - found.signed_at).total_seconds()
    of_facility = CollectorRegistry()
    of_facility.register(_Once(_of(call.caller.facility, found, behind)))
    meters: Meters = request.app.state.meters
    text = generate_latest(meters.registry) + generate_latest(of_facility)
    return Response(text, media_type=MEDIA_TYPE)


class _Once:
    """A collector of metrics that are there already."""

    def __init__(self, metrics: list[Metric]) -> None:
        self._metrics = metrics

    def collect(self) -> list[Metric]:
        return self._metrics


def _of(facility: str, found: Condition, signed_ago_s: float) -> list[Metric]:
    figures: list[tuple[str, str, float]] = [
        ("custody_open_containers", "Containers sealed, not at the end of their way", found.open),
        ("custody_due_containers", "Of those in time, how many are due within 6 h", found.due_soon),
        ("custody_overdue_containers", "Containers past a holding limit", found.overdue),
        ("custody_log_entries", "Entries of the signed log", found.entries),
        ("custody_log_unsigned_entries", "Of those, how many no checkpoint covers yet",
            found.entries - found.signed),
        ("custody_checkpoint_age_seconds", "Time since the last checkpoint; 0 before the first",
            signed_ago_s),
        ("custody_untold_notices", "Notices that nobody outside has taken yet", found.untold),
    ]  # fmt: skip
    made: list[Metric] = []
    for name, told, value in figures:
        gauge = GaugeMetricFamily(name, told, labels=("facility",))
        gauge.add_metric((facility,), value)
        made.append(gauge)
    violations = GaugeMetricFamily(
        "custody_violations", "Violations that stand", labels=("facility", "severity")
    )
    for severity in Severity:
        violations.add_metric((facility, severity), found.standing.get(severity, 0))
    return [*made, violations]
