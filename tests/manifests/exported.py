"""The record as an EPCIS document, read back as JSON, and a story with every kind of event."""

import json
from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

from service.custody.events import Amended, Entry
from service.manifests.epcis.document import Frame, document
from service.manifests.epcis.names import Names
from tests.trade import BAG, CART, OUTER, Story, at

ORIGIN = "https://custody.example"
NAMES = Names(ORIGIN, "hill")
KOLKATA = ZoneInfo("Asia/Kolkata")


def frame(**said: Any) -> Frame:
    """The frame of a document of July at the invented hospital, which keeps UTC."""
    usual: dict[str, Any] = {
        "names": NAMES,
        "zone": ZoneInfo("UTC"),
        "created_at": at("2026-08-01 09:00"),
        "from_at": at("2026-07-01 00:00"),
        "until": at("2026-08-01 00:00"),
        "carriers": {CART},
    }
    return Frame(**(usual | said))


def parts(entries: Iterable[Entry], **said: Any) -> list[bytes]:
    """The document of some entries, amendments and what they amend among them, in its parts."""
    told = sorted(entries, key=lambda e: (e.at, e.event.id))
    amended = {e.event.supersedes for e in told if isinstance(e.event, Amended)}
    corrected = [e for e in told if isinstance(e.event, Amended) or e.event.id in amended]
    return list(document(frame(**said), told, corrected))


def exported(entries: Iterable[Entry], **said: Any) -> Any:
    """The document of some entries."""
    return json.loads(b"".join(parts(entries, **said)))


def events(entries: Iterable[Entry], **said: Any) -> list[Any]:
    """The events of the document of some entries."""
    found: list[Any] = exported(entries, **said)["epcisBody"]["eventList"]
    return found


def one(story: Story, **said: Any) -> Any:
    """The only event of a story's document."""
    [event] = events(story.entries, **said)
    return event


def container(name: str) -> str:
    """A container's URI."""
    return f"{ORIGIN}/id/{name}"


def term(name: str) -> str:
    """A word of ours."""
    return f"{ORIGIN}/terms/{name}"


def of_site(rest: str) -> str:
    """The URI of something of the hospital."""
    return f"{ORIGIN}/site/hill/{rest}"


def every_kind() -> Story:
    """A bag, a cart and an outer bag with at least one event of every kind, some about nothing."""
    return (
        Story()
        .labelled("2026-07-01 07:00", BAG, "BAG-2", OUTER)
        .sealed(
            "2026-07-01 08:00",
            weight_g=3420,
            scale="ward-scale",
            fill_fraction="0.7",
            hub_cut=True,
            in_use_since=at("2026-06-30 08:00"),
            contents="dressings",
            device="phone-1",
            note='wet outside; "double" it – ☣',
        )
        .sealed("2026-07-01 08:05", "BAG-2")
        .double_bagged("2026-07-01 08:10", tare_g=40)
        .double_bagged("2026-07-01 08:20", "BAG-2", outer=OUTER)
        .packed("2026-07-01 08:30", place="ward-3")
        .packed("2026-07-01 08:31", OUTER)
        .collected("2026-07-01 08:40", CART, protective_gear=True)
        .stored("2026-07-01 09:00", CART, temperature_c="4.5")
        .inspected("2026-07-01 09:10", "glass")
        .inspected("2026-07-01 09:11")
        .spilled("2026-07-01 09:20", people_exposed=1)
        .spilled("2026-07-01 09:21", containers=(), place="yard")
        .notified("2026-07-01 09:30")
        .notified("2026-07-01 09:31", containers=(), reference="N-1")
        .tell("activity_counted", "2026-07-01 09:32")
        .tell("needles_counted", "2026-07-01 09:33", plus_minus=2)
        .tell("pit_covered", "2026-07-01 09:34", free_cm="120.5")
        .tell(
            "cycle_run",
            "2026-07-01 15:00",
            containers=(),
            cycle="K-1",
            machine="autoclave-1",
            step="autoclave",
            party="plant",
            started_at=at("2026-07-01 14:20"),
            program="waste-134",
            load_g=40_000,
        )
        .tell(
            "trace_attached",
            "2026-07-01 15:05",
            containers=(),
            cycle="K-1",
            sha256="ab" * 32,
            media_type="text/csv",
            size_bytes=4096,
            columns=("time_s", "temperature_c"),
        )
        .tell(
            "indicator_read", "2026-07-01 15:06", containers=(), cycle="K-1", turned=True, lot="L-9"
        )
        .tell("load_observed", "2026-07-01 15:07", containers=(), cycle="K-1", wet=True)
        .tell(
            "spore_tested",
            "2026-07-01 15:08",
            containers=(),
            machine="autoclave-1",
            grew=False,
            lot="S-4",
            population=1_200_000,
        )
        .dispatched("2026-07-01 10:00", CART, place="yard-store", vehicle="V 1/2")
        .refused("2026-07-01 11:00", CART)
        .received("2026-07-01 12:00", weight_g=3460, scale="plant-scale", exceptions="torn")
        .all_received("2026-07-01 12:10", "BAG-2")
        .all_received("2026-07-01 12:20")
        .tell("unpacked", "2026-07-01 12:30", OUTER)
        .emptied("2026-07-01 12:31")
        .lost("2026-07-01 13:00", last_seen="plant")
        .found("2026-07-01 14:00", false=[BAG])
        .weighed("2026-07-01 14:10", 3450, clock_offset_s=3600)
        .treated("2026-07-01 15:00", "autoclave")
        .treated("2026-07-01 16:00", "shred")
        .treated("2026-07-01 16:10", "incinerate", containers=(CART,))
        .disposed("2026-07-02 09:00", receipt="R-1")
        .disposed("2026-07-02 09:10", "return_to_supplier", containers=("BAG-2",))
        .disposed("2026-07-02 09:20", containers=(CART,))
    )
