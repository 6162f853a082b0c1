"""Published shares and rates to compare with, each with where it is from and how it was checked.

A published range describes the places that were surveyed. It is no target and no limit.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from service.statistics.intervals import Interval


class Measure(StrEnum):
    """What a published range is of."""

    HAZARDOUS_SHARE = "hazardous share of all weight"
    INFECTIOUS_SHARE = "infectious and pathological share of all weight"
    SHARPS_SHARE = "sharps share of all weight"
    CHEMICAL_SHARE = "chemical and pharmaceutical share of all weight"
    HAZARDOUS_KG = "kg of hazardous waste per bed and day"
    ALL_KG = "kg of all waste per bed and day"
    BIOMEDICAL_KG = "kg of biomedical waste per bed and day"
    GENERAL_SHARE = "general share of all weight"


@dataclass(frozen=True, slots=True)
class Published:
    """A published range; ``low`` and ``high`` are alike where a single figure is given.

    Attributes:
        where: The places it describes.
        verified: ``read`` in the source or an excerpt of it, or written from ``memory``.
    """

    id: str
    measure: Measure
    low: float
    high: float
    where: str
    source: str
    section: str
    year: int | None
    verified: Literal["read", "memory"]


_BOOK_1 = "WHO, Safe management of wastes from health-care activities, 1st ed."
_SHEET = "WHO, fact sheet Health-care waste"
_SURVEY = "survey of 75 hospitals in Delhi"
_COMPOSITION = "for planning, where nothing was measured"

PUBLISHED = (
    Published(
        "who-hazardous", Measure.HAZARDOUS_SHARE, 0.10, 0.25, "all", _BOOK_1, "ch. 2", 1999, "read"
    ),
    Published(
        "who-general", Measure.GENERAL_SHARE, 0.75, 0.90, "all", _BOOK_1, "ch. 2", 1999, "read"
    ),
    Published(
        "who-sheet-hazardous",
        Measure.HAZARDOUS_SHARE, 0.15, 0.15, "all", _SHEET, "key facts", 2018, "read",
    ),
    Published(
        "who-sheet-kg-high",
        Measure.HAZARDOUS_KG, 0.0, 0.5, "high-income countries", _SHEET, "key facts", 2018, "read",
    ),
    Published(
        "who-sheet-kg-low",
        Measure.HAZARDOUS_KG, 0.2, 0.2, "low-income countries, on average", _SHEET, "key facts",
        2018, "memory",
    ),
    Published(
        "who-infectious",
        Measure.INFECTIOUS_SHARE, 0.15, 0.15, _COMPOSITION, _BOOK_1, "ch. 2", 1999, "memory",
    ),
    Published(
        "who-sharps",
        Measure.SHARPS_SHARE, 0.01, 0.01, _COMPOSITION, _BOOK_1, "ch. 2", 1999, "memory",
    ),
    Published(
        "who-chemical",
        Measure.CHEMICAL_SHARE, 0.03, 0.03, _COMPOSITION, _BOOK_1, "ch. 2", 1999, "memory",
    ),
    Published(
        "who-university",
        Measure.ALL_KG, 4.1, 8.7, "university hospitals", _BOOK_1, "ch. 2", 1999, "memory",
    ),
    Published(
        "who-general-hospital",
        Measure.ALL_KG, 2.1, 4.2, "general hospitals", _BOOK_1, "ch. 2", 1999, "memory",
    ),
    Published(
        "who-district-hospital",
        Measure.ALL_KG, 0.5, 1.8, "district hospitals", _BOOK_1, "ch. 2", 1999, "memory",
    ),
    Published(
        "india-survey", Measure.BIOMEDICAL_KG, 0.110, 2.783, "hospitals of one city", _SURVEY,
        "abstract", None, "read",
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Comparison:
    """A figure of one's own beside a published one.

    Attributes:
        place: Where it lies.
        clear: Whether all of its confidence interval lies there too.
    """

    published: Published
    value: float
    place: Literal["below", "within", "above"]
    clear: bool
    said: str


def compare(published: Published, value: float, interval: Interval | None = None) -> Comparison:
    """Set a figure beside a published range.

    Raises:
        ValueError: A share that is none, or a negative rate.
    """
    if value < 0 or (value > 1 and published.measure.value.endswith("weight")):
        raise ValueError(f"{value} is no {published.measure.value}")
    ends = (interval.low, interval.high) if interval else (value, value)
    places = [_place(published, v) for v in (value, *ends)]
    place, clear = places[0], len(set(places)) == 1
    spread = (
        f"{published.low:g}"
        if published.low == published.high
        else f"{published.low:g} to {published.high:g}"
    )
    dated = published.year or "year not noted"
    source = f"{published.source}, {published.section}, {dated}"
    hedge = "" if clear else ", though the scatter of the figures leaves it open"
    memory = "" if published.verified == "read" else ", from memory"
    said = (
        f"{value:.3g} {published.measure.value}: {place} the published {spread} for "
        f"{published.where}{hedge} ({source}{memory}). It is no target and no limit."
    )
    return Comparison(published, value, place, clear, said)


def _place(published: Published, value: float) -> Literal["below", "within", "above"]:
    if value < published.low:
        return "below"
    return "above" if value > published.high else "within"
