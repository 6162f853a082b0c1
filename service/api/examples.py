"""Examples of bodies and answers for the description of the interface; all invented."""

from typing import Any

from service.api.event_examples import BAG, BOX, CONSIGNMENT, EVENTS
from service.api.figure_examples import FIGURES
from service.api.plan_examples import PLAN, RETURNS

LABEL_ORDER = {
    "eight blank labels on one sheet": {
        "id": "019f1a50-0000-7000-8000-00000000a001",
        "count": 8,
        "stock": "a4-8",
        "actor": "badge-4471",
    }
}
FILLED_LABEL_ORDER = {"one label": {"containers": [BAG], "stock": "roll-100x50-203"}}
CONSIGNMENT_ORDER = {
    "two containers leave": {
        k: v
        for k, v in EVENTS["a consignment leaves"].items()
        if k not in ("kind", "consignment", "id")
    }
    | {"id": "019f1a50-0000-7000-8000-00000000c001"}
}

CYCLE_ORDER = {
    "a cycle with two containers": {
        k: v for k, v in EVENTS["a machine ran a cycle"].items() if k not in ("kind", "id")
    }
    | {"id": "019f1a50-0000-7000-8000-00000000c002", "containers": [BAG, BOX]}
}

_VIOLATION = {
    "container": BAG,
    "code": "packing.overfilled",
    "severity": "unsafe",
    "opened_at": "2026-07-01T02:30:00Z",
    "closed_at": None,
    "standing": True,
    "clause": "Schedule I, note (Biomedical waste rules)",
    "evidence": ["019f1a50-0000-7000-8000-000000000002"],
    "message": "filled to 0.9; at most 0.75",
    "next_action": "Do not press it down and do not re-open it: overpack it in a larger container.",
    "notified_at": None,
}
_OUTCOME = {
    "id": "019f1a50-0000-7000-8000-000000000002",
    "outcome": "recorded",
    "reason": "",
    "violations": [_VIOLATION],
}
_REFUSED = {
    "id": "019f1a50-0000-7000-8000-000000000003",
    "outcome": "refused",
    "reason": "there is no unit 'icy' here; known are: icu, theatres",
    "violations": [],
}
_CONTAINER = {
    "container": BAG,
    "state": "stored",
    "category": "yellow-c",
    "unit": "icu",
    "kind": "bag",
    "weight_g": 3420,
    "received_g": None,
    "sealed_at": "2026-07-01T02:30:00Z",
    "custodian": "handlers",
    "since": "2026-07-01T03:10:00Z",
    "place": "chilled-store",
    "condition": "chilled",
    "parent": None,
    "consignment": None,
    "steps": [],
    "outlet": None,
    "next_acts": ["incinerate", "plasma"],
    "due_at": "2026-07-03T02:30:00Z",
    "closed_at": None,
}
_ENTRY = {
    "recorded_at": "2026-07-01T02:31:04Z",
    "clock_offset_s": 0,
    "false_codes": [],
    "origin": None,
    "event": {
        "id": "019f1a50-0000-7000-8000-000000000002",
        "kind": "registered",
        "containers": [BAG],
        "occurred_at": "2026-07-01T02:30:00Z",
        "actor": "badge-4471",
        "category": "yellow-c",
        "unit": "icu",
        "container_kind": "bag",
        "weight_g": 3420,
        "scale": "ward-scale-a",
    },
}
_HAPPENED = {
    **_ENTRY,
    "at": "2026-07-01T02:30:00Z",
    "direct": True,
    "amended_by": None,
    "as_first_recorded": None,
}


def _cargo(container: str, sent_g: int, received_g: int | None) -> dict[str, Any]:
    return {
        "container": container,
        "left_at": "2026-07-01T09:30:00Z",
        "sent_g": sent_g,
        "end": "received" if received_g else None,
        "ended_at": "2026-07-01T10:40:00Z" if received_g else None,
        "ended_by": "plant-kiln" if received_g else None,
        "received_g": received_g,
    }


_CONSIGNMENT = {
    "id": CONSIGNMENT,
    "carrier": "carrier-quillow",
    "consignee": "plant-kiln",
    "vehicle": "LP 07 T 4410",
    "seal": "S-90417",
    "left_at": "2026-07-01T09:30:00Z",
    "received_at": "2026-07-01T10:40:00Z",
    "seal_received": "S-90417",
    "totals": {
        "containers": 2,
        "received": 1,
        "refused": 0,
        "under_way": 1,
        "sent_g": 4270,
        "received_g": 3450,
        "weighed_twice": 1,
        "difference_g": 10,
    },
    "containers": [_cargo(BAG, 3460, 3450), _cargo(BOX, 810, None)],
}
_REGIME = {
    "id": "house-rules",
    "title": "House rules (invented)",
    "jurisdiction": "nowhere",
    "status": "An example; local codes prevail.",
    "adds_to": [],
}
_ROW = {"from": "2016-03-28", "clause": "rule 1", "source": "text", "verified": "policy"}
_LIMIT = {"id": "h48", "categories": ["*"], "clock": "sealed", "hours": 48}
_SITE = {
    "id": "lantern-hill",
    "name": "Lantern Hill Teaching Hospital (invented)",
    "contact": {"name": "Waste officer", "address": "Lantern Hill", "telephone": "000-0000-100"},
    "time_zone": "Asia/Kolkata",
    "regime": "india-2016",
    "unit": [{"id": "icu", "name": "Intensive care", "location": "block-a"}],
    "scale": [
        {"id": "ward-scale-a", "name": "Ward A", "accuracy_class": "III", "interval_g": "10"}
    ],
}
_STOCK = {
    "name": "a4-8",
    "title": "A4 sheet, 8 labels of 99.1 × 67.7 mm",
    "dpi": 600,
    "label_width_mm": 99.1,
    "label_height_mm": 67.7,
    "labels_a_page": 8,
    "is_roll": False,
}
_EPCIS = {
    "@context": [
        "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld",
        {"custody": "https://custody.example/terms/"},
    ],
    "type": "EPCISDocument",
    "schemaVersion": "2.0",
    "creationDate": "2026-10-01T06:00:00Z",
    "custody:facility": "lantern-hill",
    "custody:from": "2026-06-30T18:30:00Z",
    "custody:until": "2026-09-30T18:30:00Z",
    "epcisBody": {
        "eventList": [
            {
                "eventID": "urn:uuid:019f1a50-0000-7000-8000-000000000005",
                "eventTime": "2026-07-01T08:40:00+05:30",
                "eventTimeZoneOffset": "+05:30",
                "recordTime": "2026-07-01T03:10:09Z",
                "type": "ObjectEvent",
                "action": "OBSERVE",
                "epcList": [f"https://custody.example/id/{BAG}"],
                "bizStep": "storing",
                "disposition": "in_progress",
                "bizLocation": {
                    "id": "https://custody.example/site/lantern-hill/place/chilled-store"
                },
                "custody:actor": "badge-4471",
                "custody:kind": "stored",
            }
        ]
    },
}
_COUNT = {"code": "packing.overfilled", "severity": "unsafe", "opened": 3, "standing": 1}
_LEAF = (
    f'{{"event":{{"actor":"badge-4471","containers":["{BAG}"],'
    '"id":"019f1a50-0000-7000-8000-000000000005","kind":"stored",'
    '"occurred_at":"2026-07-01T03:10:00Z","store":"chilled-store"},'
    '"recorded_at":"2026-07-01T03:10:09Z"}'
)
_LEAF_HASH = "99d7212e9c328e8171c56eb91c30b00cfce2dcec242a0011e2a6a02fcfbfff97"

ANSWERS: dict[str, Any] = {
    "health": {"status": "ok", "database": "answers"},
    "print_blank_labels": {"ids": [BAG], "codes": [f"HTTPS://CUSTODY.EXAMPLE/{BAG}/7K3M92Q"]},
    "list_label_stocks": [_STOCK],
    "record_events": [_OUTCOME, _REFUSED],
    "read_record": {"entries": [{**_ENTRY, "seq": 2}], "next": 2},
    "list_containers": {"containers": [_CONTAINER], "next": None},
    "look_up_container": {
        **_CONTAINER,
        "label": "M9S3 46Q3 D250",
        "history": [_HAPPENED],
        "amendments": [],
        "violations": [_VIOLATION],
    },
    "list_violations": {
        "at": "2026-07-01T12:00:00Z",
        "violations": [_VIOLATION],
        "next": f"2026-07-01T02:30:00+00:00~{BAG}~0",
    },
    "count_violations": {"at": "2026-07-01T12:00:00Z", "counts": [_COUNT]},
    "look_up_consignment": _CONSIGNMENT,
    "list_consignments": {"consignments": [_CONSIGNMENT], "next": None},
    "close_consignment": {"consignment": CONSIGNMENT, "outcome": {**_OUTCOME, "violations": []}},
    **FIGURES,
    "plan_pick_ups": PLAN,
    **RETURNS,
    "list_regimes": [_REGIME],
    "read_regime": {
        **_REGIME,
        "source": {"text": {"title": "House text (invented)", "verified": "policy"}},
        "holding": [{**_ROW, **_LIMIT}],
    },
    "read_site": _SITE,
    "prove_inclusion": {
        "number": 1,
        "leaf": _LEAF,
        "size": 2,
        "root": "e4711ab24e21cedcf224660722457400f812d5e254401e0d92f5cc9515b39cdc",
        "proof": ["50d858e0985ecc7f60418aaf0cc5ab587f42c2570a884095a9e8ccacd0f6545c"],
    },
    "prove_consistency": {"first": 1, "second": 2, "proof": [_LEAF_HASH]},
    "read_codes": {
        "codes": [
            {
                "text": "HTTPS://CUSTODY.EXAMPLE/M9S346Q3D250/7KM2Q0A",
                "container": "M9S346Q3D250",
                "right": True,
                "genuine": True,
            }
        ]
    },
    "verify_bundle": {
        "key": "facility",
        "counts": {"holds": 1},
        "checks": [
            {"name": "archive", "outcome": "holds", "said": "38 files, packed as a bundle is"}
        ],
    },
    "fetch_manifest": _EPCIS,
    "export_epcis": _EPCIS,
}
"""An example of each answer in JSON, by the name of its operation."""
