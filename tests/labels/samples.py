"""Invented labels for tests: no real hospital, place or person."""

from typing import Any

from labels.face import Face
from labels.payload import ALPHABET, payload

BASE = "https://waste.example.org"

CATEGORIES = (
    ("Infectious, soft (soiled)", "yellow", "#F6C700", "Y", "diagonal", "biohazard"),
    ("Contaminated, recyclable plastics", "red", "#C62828", "R", "bars", "biohazard"),
    ("Sharps", "white", "#FFFFFF", "W", "dots", "biohazard"),
    ("Glass and metallic implants", "blue", "#1E5AA8", "B", "grid", "none"),
    ("Cytotoxic medicines", "purple", "#7B3FA0", "C", "cross", "cytotoxic"),
    ("Anatomical waste", "orange", "#F28C1E", "A", "chevrons", "biohazard"),
    ("Pharmaceutical", "green", "#2E8B57", "P", "waves", "none"),
    ("General, not hazardous", "black", "#222222", "G", "plain", "none"),
)

CAUTIONS = "Handle with care. Gloves and apron. Do not open, press or throw."


def container_id(number: int) -> str:
    """An id of the right shape; its check character is not computed."""
    digits = [ALPHABET[number * 7 % 32], ALPHABET[number // 32 % 32], ALPHABET[number % 32]]
    return "7K3M92QD" + "".join(digits) + "X"


def blank(number: int = 0, **changes: Any) -> Face:
    """A pre-numbered label with nothing filled in."""
    own = container_id(number)
    return Face(container_id=own, payload=payload(BASE, own, "AB3DEFG"), **changes)


def filled(number: int = 0, **changes: Any) -> Face:
    """A label with every field filled."""
    category, colour, colour_hex, mark, pattern, symbol = CATEGORIES[number % len(CATEGORIES)]
    fields = {
        "category_name": category,
        "colour_name": colour,
        "colour_hex": colour_hex,
        "mark": mark,
        "pattern": pattern,
        "symbol": symbol,
        "unit_name": "Ward 7, surgical",
        "sealed_at_local": "3 Jul 2026, 14:05",
        "weight_kg": "3.42 kg",
        "regime_lines": (
            "From: Lindenbrook Hospital, 4 Mill Lane, tel. 555 0100",
            "To: Eastfield Treatment Plant, Plot 9, tel. 555 0177",
            "Emergency: 555 0199 (day and night)",
        ),
        "cautions": CAUTIONS,
        "facility_name": "Lindenbrook Hospital",
    }
    return blank(number, **(fields | changes))
