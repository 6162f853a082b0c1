"""Needles of the invented hospital: one unit's counts differ, and by plain sums it is seen."""

from collections import Counter

from scenario.needles import PLUS_MINUS, UNITS_COUNTED
from service.custody.events import EVENT
from tests.scenario.reading import Stream


def test_by_plain_sums_one_unit_alone_differs_by_more_than_its_counts_may(full: Stream) -> None:
    """Used less cut over the quarter, against a counter that errs alike every week."""
    told = [e for b in full.quarter.batches for e in b.events if e["kind"] == "needles_counted"]
    for event in told:
        EVENT.validate_python(event)
    sums: Counter[tuple[str, str | None]] = Counter()
    for event in told:
        sums[event["stage"], event.get("unit")] += event["needles"]
    weeks = sum(e["stage"] == "ended" for e in told)
    assert weeks == 13
    differing = [
        unit
        for unit in UNITS_COUNTED
        if abs(sums["used", unit] - sums["cut", unit]) > weeks * PLUS_MINUS
    ]
    assert differing == [full.quarter.figures.needles]
    cut = sum(sums["cut", unit] for unit in UNITS_COUNTED)
    assert abs(cut - sums["ended", None]) <= weeks * PLUS_MINUS * len(UNITS_COUNTED)
