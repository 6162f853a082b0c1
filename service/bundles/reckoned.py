"""The figures of a quarter reckoned from entries, rules and a moment, with no record to ask."""

from collections.abc import Collection, Mapping
from datetime import datetime, timedelta
from types import MappingProxyType

from service.custody.cycles import proofs
from service.custody.events import Amended, Entry, Notified, Spilled
from service.custody.gathering import Gathering
from service.custody.history import with_proofs
from service.custody.rules import Rules
from service.manifests.figures import QuarterFigures, figures
from service.manifests.quarter import Quarter
from service.treatment.cycles import TraceJudge


def reckoned(
    entries: Mapping[int, Entry],
    containers: Collection[str],
    rules: Rules,
    quarter: Quarter,
    now: datetime,
    traces: Mapping[str, bytes] = MappingProxyType({}),
) -> QuarterFigures:
    """Reckon a quarter over some containers from numbered entries and the traces of its cycles."""
    zone = rules.site.zone
    start, end = quarter.start(zone), quarter.end(zone)
    at_hand = entries.values()
    proved = proofs(at_hand, rules, TraceJudge(traces.get))
    return figures(
        (with_proofs(h, proved) for h in Gathering(entries.items()).histories(containers)),
        rules,
        quarter,
        now=now,
        amendments=[
            e
            for e in at_hand
            if isinstance(e.event, Amended) and start <= e.at < now + timedelta.resolution
        ],
        incidents=[
            e for e in at_hand if isinstance(e.event, (Spilled, Notified)) and start <= e.at < end
        ],
    )
