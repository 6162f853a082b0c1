"""Examples of cycles as they go out; all names and numbers are invented."""

from typing import Any

from service.api.event_examples import BAG

_SUMMARY: dict[str, Any] = {
    "cycle": "K-88",
    "machine": "autoclave-1",
    "step": "autoclave",
    "party": "plant-kiln",
    "started_at": "2026-07-01T11:10:00Z",
    "ended_at": "2026-07-01T12:30:00Z",
    "verdict": "pass",
    "because": "121 °C and 15 psi for 60 min: 61 min",
    "clause": "Schedule II, autoclave (Biomedical waste rules)",
    "failed_at": None,
    "findings": [],
}
_DETAIL = {
    **_SUMMARY,
    "program": "waste 121/60",
    "operator": "badge-4471",
    "load_g": 42000,
    "residue_g": None,
    "load": [BAG],
    "traces": [
        {
            "sha256": "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
            "attached_at": "2026-07-01T12:40:00Z",
            "f0_min": 66.8,
            "log_reduction": 44.5,
            "judgement": {"verdict": "pass", "f0_min": 66.8},
            "chart": {
                "minutes": [0, 12, 73],
                "temperature_c": {"": [25, 121.5, 121.5]},
                "pressure_kpa": [101.3, 208.2, 208.2],
                "lethality_min": [0, 0.6, 66.8],
            },
        }
    ],
    "indicators": [
        {"read_at": "2026-07-01T12:35:00Z", "turned": True, "lot": "CI-204", "position": None}
    ],
    "observed": [{"seen_at": "2026-07-01T12:34:00Z", "wet": False, "seal_broken": False}],
}
_OUTCOME = {
    "id": "019f1a50-0000-7000-8000-00000000c002",
    "outcome": "recorded",
    "reason": "",
    "violations": [],
}

CYCLE_ANSWERS: dict[str, Any] = {
    "run_cycle": {"cycle": "K-88", "outcomes": [_OUTCOME]},
    "list_cycles": {"cycles": [_SUMMARY], "next": None},
    "look_up_cycle": _DETAIL,
    "fetch_trace": {"time_s": [0, 30], "temperature_c": [25, 31.4]},
    "list_untied_evidence": {
        "first": "2026-04-02",
        "last": "2026-07-01",
        "untied": [
            {
                "event": "019f1a50-0000-7000-8000-00000000c009",
                "kind": "indicator_read",
                "at": "2026-07-01T12:35:00Z",
                "cycle": "K-89",
                "machine": None,
                "because": "no run of cycle K-89 is on record here",
            }
        ],
    },
    "attach_trace": {"outcome": _OUTCOME, "cycle": _DETAIL},
}
"""An example of each answer in JSON, by the name of its operation."""
