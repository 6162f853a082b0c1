"""One small quarter with something in every section, and readers of what was written from it."""

import csv
from io import BytesIO, StringIO
from typing import Any

from pypdf import PdfReader

from service.custody.events import Entry
from service.custody.history import fold
from service.custody.rules import Rules
from service.manifests.figures import QuarterFigures, figures
from service.manifests.quarter import Quarter
from tests.house import row, rules
from tests.trade import Story, at, bag, handled_well, sharps_box

Q3 = Quarter(2026, 3)
LATER = at("2026-10-20 09:00")
RETURN = row("r. 9", id="q", title="Quarterly return", period="quarter", due_months_after=1)
KEEP = row("r. 10", who="producer", years=3)


def invented(**site: Any) -> Rules:
    """The invented regime with a return and a retention, at the invented hospital."""
    return rules(site, returns=[RETURN], retention=[KEEP])


def told() -> list[Story]:
    """Six containers: well handled, brought forward, late, missing, lost its way, spilled."""
    well = _named("WELL", handled_well(at("2026-07-02 08:00")))
    forward = _named("FORWARD", handled_well(at("2026-06-30 20:00")))
    late = (
        bag("soiled", "LATE")
        .sealed("2026-08-01 08:00", weight_g=1000, scale="ward-scale", unit="theatre")
        .amended("2026-08-02 09:00", "registered", weight_g=1100)
        .collected("2026-08-01 09:00", from_party="theatre")
        .stored("2026-08-01 10:00")
        .notified("2026-08-04 10:00", reference="N-7")
    )
    missing = (
        bag("plastics", "MISSING")
        .sealed("2026-09-01 08:00", weight_g=2000, scale="ward-scale")
        .double_bagged("2026-09-01 08:05", tare_g=40)
        .collected("2026-09-01 09:00")
        .stored("2026-09-01 10:00")
        .dispatched("2026-09-01 12:00", consignment="C-9", vehicle="V-9")
        .all_received("2026-09-01 14:00", consignment="C-9")
    )
    astray = sharps_box(container="ASTRAY").treated("2026-09-10 10:00", "autoclave")
    spilled = (
        sharps_box(container="SPILLED")
        .sealed("2026-09-30 08:00", hub_cut=True)
        .spilled("2026-09-30 08:10", people_exposed=2, place="ward-3")
        .collected("2026-09-30 09:00")
        .stored("2026-10-01 10:00")
    )
    return [well, forward, late, missing, astray, spilled]


def _named(container: str, story: Story) -> Story:
    """Tell a story of another container, with ids and consignments of its own."""
    entries = [
        Entry(
            e.event.model_copy(
                update={
                    "id": e.event.id.__class__(int=e.event.id.int ^ len(container) << 64),
                    "containers": tuple(
                        c if c.startswith("CART") else container for c in e.event.containers
                    ),
                }
            ),
            e.recorded_at,
        )
        for e in story.entries
    ]
    return Story(container, story.category, story.kind, entries)


def reckoned(
    stories: list[Story] | None = None,
    by: Rules | None = None,
    quarter: Quarter = Q3,
    now: Any = LATER,
) -> QuarterFigures:
    """Reckon the quarter over the stories."""
    stories = told() if stories is None else stories
    entries = [e for s in stories for e in s.entries]
    return figures(
        [fold(s.container, s.entries) for s in stories],
        by or invented(),
        quarter,
        now=now,
        amendments=[e for e in entries if e.event.kind == "amended"],
        incidents=[e for e in entries if e.event.kind in ("spilled", "notified")],
    )


def pages(paper: bytes) -> list[str]:
    """Read the text of each page of a PDF."""
    return [page.extract_text() for page in PdfReader(BytesIO(paper)).pages]


def rows(table: bytes) -> list[dict[str, str]]:
    """Read a CSV file by its header."""
    return list(csv.DictReader(StringIO(table.decode(), newline="")))
