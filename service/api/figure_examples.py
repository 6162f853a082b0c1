"""Examples of figures for the description of the interface; all invented."""

from typing import Any

_PERIOD = {"first": "2026-07-01", "last": "2026-09-30"}
_INTERVAL = {
    "low": 41.2,
    "high": 47.9,
    "confidence": 0.95,
    "method": "ratio of sums (Cochran 1977, 6.7)",
}
_COUNT = {
    "id": "019f1a50-0000-7000-8000-000000000021",
    "unit": "icu",
    "day": "2026-07-01",
    "occupied_bed_days": 17.5,
    "procedures": 42,
    "source": "midnight census",
    "counted_at": "2026-07-01T18:29:00Z",
    "seq": 812,
    "others": [],
}
_BALANCE = {
    "went_in_g": 21_400_000,
    "came_out_g": 2_900_000,
    "missing_g": 18_500_000,
    "loss_min_g": 16_050_000.0,
    "loss_max_g": 20_330_000.0,
    "uncertainty_g": 610_000.0,
    "unexplained_g": 0.0,
}
_SAID = (
    "sharps (white) of icu: 2100 g came where 6240 g were to be expected: 4.1 standard errors "
    "below. An unusual drop. It says that the figures changed, not why, and nothing about any "
    "person."
)

FIGURES: dict[str, Any] = {
    "list_activity": {**_PERIOD, "counts": [_COUNT]},
    "read_rates": {
        **_PERIOD,
        "rates": [
            {
                "unit": "icu",
                "category": "white",
                "per": "occupied_bed_days",
                "weight_g": 71_000,
                "exposure": 1593.5,
                "rate_g": 44.56,
                "interval": _INTERVAL,
                "containers": 88,
                "unweighed": 1,
                "weeks": [
                    {
                        "first": "2026-07-06",
                        "weight_g": 5_400,
                        "exposure": 122.0,
                        "rate_g": 44.26,
                    }
                ],
            }
        ],
        "without_activity": [{"unit": "imaging", "day": "2026-07-12"}],
        "conflicts": [],
    },
    "compare_shares": {
        **_PERIOD,
        "weight_g": 61_240_000,
        "unweighed": 12,
        "shares": [
            {
                "category": "white",
                "material": "sharps",
                "containers": 2_310,
                "weight_g": 1_960_000,
                "share": 0.032,
            }
        ],
        "comparisons": [
            {
                "published": "india-survey",
                "measure": "kg of biomedical waste per bed and day",
                "low": 0.11,
                "high": 2.783,
                "where": "hospitals of one city",
                "source": "survey of 75 hospitals in Delhi",
                "section": "abstract",
                "year": None,
                "verified": "read",
                "value": 1.6,
                "place": "within",
                "said": "1.6 kg of biomedical waste per bed and day: within the published 0.11 to "
                "2.783 for hospitals of one city. It is no target and no limit.",
            }
        ],
        "not_compared": ["Published shares are of all waste."],
    },
    "draw_charts": {
        **_PERIOD,
        "charts": [
            {
                "unit": "icu",
                "category": "white",
                "kind": "individuals",
                "measure": "kg per occupied bed-day",
                "points": [
                    {
                        "label": "2026-07-06",
                        "value": 0.0443,
                        "centre": 0.0446,
                        "lower": 0.031,
                        "upper": 0.058,
                    }
                ],
                "signals": [
                    {
                        "rule": "beyond",
                        "side": "below",
                        "first": "2026-09-21",
                        "last": "2026-09-21",
                        "said": "2026-09-21: below the limit (0.012 against a limit of 0.031 kg "
                        "per occupied bed-day). Look for what changed.",
                        "source": "Shewhart 1931",
                    }
                ],
            }
        ],
        "too_few": [],
    },
    "read_sorting_errors": {
        **_PERIOD,
        "rates": [
            {
                "unit": "icu",
                "wrong": 3,
                "seen": 410,
                "share": 0.0073,
                "interval": {
                    "low": 0.0025,
                    "high": 0.0213,
                    "confidence": 0.95,
                    "method": "score (Wilson 1927)",
                },
            }
        ],
        "uncounted": 2,
        "mixed": 0,
    },
    "balance_needles": {
        "first": "2026-07-01",
        "last": "2026-09-30",
        "lines": [
            {
                "unit": "icu",
                "before": 4_210,
                "after": 4_128,
                "counts": 184,
                "missing": 82,
                "uncertainty": 60,
                "unexplained": 22,
            }
        ],
    },
    "read_pits": {
        "day": "2026-09-30",
        "pits": [
            {
                "pit": "burial-pit-1",
                "name": "Burial pit by the east wall",
                "party": "plant-kiln",
                "outlet": "deep_burial",
                "containers": 212,
                "weight_g": 384_000,
                "unweighed": 3,
                "usable_l": 6_000,
                "filled_l": [3_840, 4_740],
                "left_l": [1_260, 2_160],
                "litres_a_day": [28.4, 41.2],
                "days_left": [30, 76],
                "full_on": ["2026-10-30", "2026-12-15"],
                "measured_on": "2026-08-31",
                "closed_on": None,
                "flags": [
                    {
                        "said": "no cover is on record over the load of 2026-09-29",
                        "clause": "Schedule II, deep burial (Biomedical waste rules)",
                    }
                ],
            }
        ],
        "untold": 0,
    },
    "balance_masses": {
        **_PERIOD,
        "steps": [
            {
                "party": "plant-kiln",
                "step": "incinerate",
                "cycles": 90,
                "containers": 11_020,
                "loss_share_min": 0.75,
                "loss_share_max": 0.95,
                "loss_source": "ash is what remains; house limits",
                "balance": _BALANCE,
                "open_cycles": 2,
                "open_g": 410_000,
                "unweighed": 4,
            }
        ],
        "unexplained": [],
    },
    "find_drops": {
        "first": "2026-09-14",
        "last": "2026-09-27",
        "before_weeks": 13,
        "changes": [
            {
                "unit": "icu",
                "category": "white",
                "material": "sharps",
                "expected_g": 6240.0,
                "seen_g": 2100,
                "standard_errors": -4.1,
                "unusual_drop": True,
                "said": _SAID,
            }
        ],
        "by_chance": 0.1,
        "too_few": [],
    },
}
"""By the name of the operation."""
