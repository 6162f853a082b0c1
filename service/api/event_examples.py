"""An example of every kind of event, as a device sends it, in the order of a container's life.

All names and numbers are invented.
"""

from typing import Any

BAG, BOX, CART, FAULTY = "M9S346Q3D250", "VT4F5V37E3SH", "3E28JT97KB65", "CQ643DZVMXX2"
SCANNED = f"HTTPS://CUSTODY.EXAMPLE/{BOX}/0000000"
CONSIGNMENT = "C-2026-0182"


def _example(number: int, kind: str, time: str, *containers: str, **said: Any) -> dict[str, Any]:
    return {
        "id": f"019f1a50-0000-7000-8000-{number:012d}",
        "kind": kind,
        "containers": list(containers),
        "occurred_at": f"2026-07-01T{time}:00+05:30",
        "actor": "badge-4471",
        **said,
    }


_REGISTERED = _example(
    2,
    "registered",
    "08:00",
    BAG,
    device="ward-phone-3",
    category="yellow-c",
    unit="icu",
    container_kind="bag",
    weight_g=3420,
    scale="ward-scale-a",
    fill_fraction=0.7,
    closed=True,
    contents="soiled dressings",
)
_HANDED_OVER = {"from_party": "icu", "to_party": "handlers", "protective_gear": True}
_CYCLE = {"cycle": "K-88", "machine": "autoclave-1", "step": "autoclave", "party": "plant-kiln"}
_RUN = {"started_at": "2026-07-01T16:40:00+05:30", "program": "waste 121/60", "load_g": 42000}
_LOAD = {"party": "plant-kiln", "consignment": CONSIGNMENT}

_ALL: tuple[tuple[str, dict[str, Any]], ...] = (
    (
        "labels printed",
        _example(1, "labelled", "07:00", BAG, BOX, CART, count=3, layout="a4-8"),
    ),
    ("a bag sealed on the ward", _REGISTERED),
    (
        "a sharps container sealed, its label scanned",
        _example(
            3,
            "registered",
            "08:05",
            BOX,
            category="white",
            unit="icu",
            container_kind="sharps_container",
            weight_g=810,
            scale="ward-scale-a",
            hub_cut=True,
        ),
    ),
    (
        "weighed again",
        _example(4, "weighed", "08:20", BAG, weight_g=3430, scale="store-scale"),
    ),
    ("put in an outer bag", _example(5, "double_bagged", "08:25", BAG, tare_g=40)),
    ("put into a cart", _example(6, "packed", "08:30", BAG, BOX, parent=CART)),
    ("taken over at the ward", _example(7, "collected", "08:40", CART, **_HANDED_OVER)),
    ("taken out of the cart", _example(8, "unpacked", "09:00", parent=CART)),
    (
        "put in the chilled store",
        _example(9, "stored", "09:05", BAG, BOX, store="chilled-store", temperature_c=4.5),
    ),
    ("looked into, nothing wrong", _example(10, "inspected", "09:10", BAG, items_seen=40)),
    (
        "a consignment leaves",
        _example(
            11,
            "dispatched",
            "15:00",
            BAG,
            BOX,
            consignment=CONSIGNMENT,
            carrier="carrier-quillow",
            consignee="plant-kiln",
            vehicle="LP 07 T 4410",
            seal="S-90417",
            closed=True,
        ),
    ),
    (
        "received at the plant",
        _example(
            12,
            "received",
            "16:10",
            BAG,
            weight_g=3450,
            scale="kiln-scale",
            seal="S-90417",
            seal_intact=True,
            **_LOAD,
        ),
    ),
    (
        "turned away at the plant",
        _example(13, "refused", "16:15", BOX, reason="lid not locked", **_LOAD),
    ),
    (
        "treated: one step of a cycle",
        _example(14, "treated", "18:00", BAG, step="incinerate", party="plant-kiln", cycle="K-88"),
    ),
    (
        "a machine ran a cycle",
        _example(21, "cycle_run", "18:00", **_CYCLE, **_RUN),
    ),
    (
        "a trace of a cycle",
        _example(
            22,
            "trace_attached",
            "18:10",
            cycle="K-88",
            sha256="9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
            media_type="text/csv",
            size_bytes=4120,
            columns=["time_s", "temperature_c", "pressure_kpa"],
        ),
    ),
    (
        "a chemical indicator read",
        _example(23, "indicator_read", "18:05", cycle="K-88", turned=True, lot="CI-204"),
    ),
    ("how a load came out", _example(24, "load_observed", "18:04", cycle="K-88", wet=False)),
    (
        "a spore test",
        _example(
            25,
            "spore_tested",
            "09:00",
            machine="autoclave-1",
            grew=False,
            lot="BI-77",
            population=1000000,
            d_value_min=1.9,
            read_at="2026-07-03T09:00:00+05:30",
        ),
    ),
    (
        "finally disposed of",
        _example(
            15, "disposed", "21:00", BAG, outlet="ash_landfill", party="plant-kiln", receipt="A-12"
        ),
    ),
    ("not where it should be", _example(16, "lost", "17:00", BOX, last_seen="plant-kiln")),
    ("there again", _example(17, "found", "17:30", BOX, place="plant-kiln")),
    (
        "a spill",
        _example(
            18,
            "spilled",
            "08:35",
            BAG,
            place="icu",
            people_exposed=0,
            action_taken="area closed; absorbed and disinfected as the local code says",
        ),
    ),
    (
        "the authority told of an overrun",
        _example(
            19,
            "notified",
            "22:00",
            BOX,
            authority="Lantern Province Pollution Board (invented)",
            about="holding",
            reason="the plant stood still for repair",
            reference="N-31",
        ),
    ),
    (
        "a weight corrected",
        _example(
            20,
            "amended",
            "08:10",
            BAG,
            supersedes=_REGISTERED["id"],
            reason="figures swapped",
            corrected={**_REGISTERED, "weight_g": 3440},
        ),
    ),
    (
        "occupied bed-days of a unit counted",
        _example(
            31,
            "activity_counted",
            "23:59",
            unit="icu",
            day="2026-07-01",
            occupied_bed_days=17.5,
            procedures=42,
            source="midnight census",
        ),
    ),
    (
        "needles cut at the hub counted",
        _example(
            32,
            "needles_counted",
            "20:00",
            unit="icu",
            stage="cut",
            needles=118,
            plus_minus=2,
            source="hub cutter 3",
        ),
    ),
    (
        "a pit covered",
        _example(
            33,
            "pit_covered",
            "17:00",
            pit="kiln-sharps-pit",
            cover="soil",
            layer_cm=10,
            free_cm=140,
        ),
    ),
)

EVENTS: dict[str, Any] = {
    **dict(_ALL),
    "several at once": [_ALL[1][1], _ALL[2][1]],
}
"""Bodies of ``POST /v1/events``, by what they show."""
