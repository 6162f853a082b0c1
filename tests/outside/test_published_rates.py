"""Published shares and rates: worked cases on them, a tuple a case."""

import pytest

from service.statistics.intervals import Interval
from service.statistics.published import PUBLISHED, compare

BY_ID = {p.id: p for p in PUBLISHED}


@pytest.mark.parametrize(
    ("row", "low", "high"),
    [
        # WHO, Safe management of wastes from health-care activities, 1st ed. 1999, ch. 2, opening
        # pages, read: 75 to 90 % is general, 10 to 25 % hazardous.
        ("who-general", 0.75, 0.90),
        ("who-hazardous", 0.10, 0.25),
        # WHO fact sheet Health-care waste, 2018, read as quoted: 15 % hazardous; up to 0.5 kg per
        # bed and day in high-income countries; 0.2 kg in low-income ones, from memory.
        ("who-sheet-hazardous", 0.15, 0.15),
        ("who-sheet-kg-high", 0.0, 0.5),
        ("who-sheet-kg-low", 0.2, 0.2),
        # The 1999 book, ch. 2, from memory: 15 % infectious and pathological, 1 % sharps, 3 %
        # chemical and pharmaceutical; kg per bed and day by kind of hospital.
        ("who-infectious", 0.15, 0.15),
        ("who-sharps", 0.01, 0.01),
        ("who-chemical", 0.03, 0.03),
        ("who-university", 4.1, 8.7),
        ("who-general-hospital", 2.1, 4.2),
        ("who-district-hospital", 0.5, 1.8),
        # Survey of 75 hospitals in Delhi, abstract, read.
        ("india-survey", 0.110, 2.783),
    ],
)
def test_the_rows(row: str, low: float, high: float) -> None:
    """Each figure as a second hand wrote it."""
    assert (BY_ID[row].low, BY_ID[row].high) == (low, high)


@pytest.mark.parametrize(
    ("row", "beds", "low_kg", "high_kg"),
    [
        ("who-general-hospital", 200, 420, 840),
        ("who-sheet-kg-high", 100, 0, 50),
        ("who-sheet-kg-low", 100, 20, 20),
        ("india-survey", 500, 55, 1391.5),
    ],
)
def test_kilograms_a_day_by_beds(row: str, beds: int, low_kg: float, high_kg: float) -> None:
    """Worked on the published rates by arithmetic."""
    assert (beds * BY_ID[row].low, beds * BY_ID[row].high) == (
        pytest.approx(low_kg),
        pytest.approx(high_kg),
    )


@pytest.mark.parametrize(
    ("share", "place"),
    [(0.0999, "below"), (0.10, "within"), (0.25, "within"), (0.2501, "above")],
)
def test_the_ends_belong_to_the_range(share: float, place: str) -> None:
    """10 to 25 % hazardous."""
    assert compare(BY_ID["who-hazardous"], share).place == place


def test_a_comparison_says_source_and_doubt() -> None:
    """With the source, whether it is from memory, and whether the scatter leaves it open."""
    open_ = compare(BY_ID["who-hazardous"], 0.27, Interval(0.2, 0.34, 0.95, ""))
    assert (open_.place, open_.clear) == ("above", False)
    assert "leaves it open" in open_.said
    assert "1st ed., ch. 2, 1999" in open_.said
    assert "no target and no limit" in open_.said
    assert "from memory" in compare(BY_ID["who-sharps"], 0.02).said
    assert "year not noted" in compare(BY_ID["india-survey"], 0.4).said
    assert compare(BY_ID["who-hazardous"], 0.30, Interval(0.26, 0.34, 0.95, "")).clear


def test_no_share_is_over_one() -> None:
    """18 is not 18 %."""
    with pytest.raises(ValueError, match=r"18 is no hazardous share"):
        compare(BY_ID["who-hazardous"], 18)


def test_every_row_says_where_it_is_from() -> None:
    """Ids are single; a range is a range."""
    assert len(BY_ID) == len(PUBLISHED)
    for row in PUBLISHED:
        assert row.source and row.section and row.where
        assert 0 <= row.low <= row.high
