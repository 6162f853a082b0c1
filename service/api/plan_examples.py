"""Examples of a plan and of returns for the description of the interface; invented."""

from typing import Any

from service.api.event_examples import BAG

_SAFE = {"at": "2026-07-02T08:00:00Z", "container": BAG, "missed": False}
_BREAK = {
    "kind": "holding",
    "store": "chilled-store",
    "at": "2026-07-03T02:30:00Z",
    "container": BAG,
    "over_g": 0,
}
PLAN: dict[str, Any] = {
    "from_at": "2026-07-01T12:00:00Z",
    "until_at": "2026-07-08T12:00:00Z",
    "stores": [
        {
            "store": "chilled-store",
            "containers": 41,
            "weight_g": 130_400,
            "capacity_g": 400_000,
            "expected": 260,
            "first_break": _BREAK,
            "latest_safe": _SAFE,
        }
    ],
    "loads": [
        {"at": "2026-07-02T08:00:00Z", "weight_g": 240_000, "containers": [BAG], "expected": 33}
    ],
    "at_least": 1,
    "proved_least": True,
    "at_most_times": 1.0,
    "missed": [],
    "too_heavy": [],
    "breaks_if_nobody_collects": 214,
    "breaks_left": [],
    "breaks_avoided": 214,
    "what_if": {"unchanged": 9, "anew": 0, "avoided": 9, "further_loads": 1},
    "autoclave_g": 61_000,
    "autoclave_loads": 3,
    "assumed": [],
    "unweighed": 0,
}

_RETURN = {
    "id": "form-iv",
    "title": "Form IV, annual report",
    "period": "2026",
    "due_on": "2027-06-30",
    "to": "prescribed authority",
    "clause": "rule 13",
}
RETURNS: dict[str, Any] = {
    "list_returns": {
        "due": [{**_RETURN, "days_left": 171}],
        "at_once": [
            {
                "id": "form-i",
                "title": "Form I, report of a major accident",
                "due_hours": 24,
                "to": "prescribed authority",
                "clause": "rules 3, 15",
                "note": "At once, and in writing within 24 h.",
            }
        ],
    },
    "fill_return": {
        **_RETURN,
        "first": "2026-01-01",
        "last": "2026-12-31",
        "source": "Bio-Medical Waste Management Rules, 2016",
        "verified": "memory",
        "confidence": "high",
        "fields": [
            {
                "name": "Waste generated, kg per annum, by colour",
                "status": "from the record",
                "said": [{"of": "yellow", "value": "41230.450 kg"}],
            },
            {"name": "GPS coordinates", "status": "not in the record", "said": None},
        ],
        "notes": ["Filled from the record as it stands; whoever signs the return answers for it."],
    },
}
