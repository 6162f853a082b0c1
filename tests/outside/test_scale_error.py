"""Scale error against OIML R 76-1:2006, table 6, and worked numbers on it."""

from decimal import Decimal

import pytest

from service.custody.balance import comparisons, permissible_error_g
from service.custody.site import Scale
from tests.house import hospital, rules
from tests.trade import bag


def scale(accuracy_class: str, interval_g: str) -> Scale:
    """A scale of a class and verification interval."""
    return Scale.model_validate(
        {"id": "s", "name": "s", "accuracy_class": accuracy_class, "interval_g": interval_g}
    )


# OIML R 76-1:2006 table 6, initial verification; also UK SI 1995/1907 Sch. 2 para 4. Rows III and
# IIII read in copies, I and II from memory. Loads in verification intervals e.
TABLE_6 = [
    ("I", 0, 50_000, "0.5"),
    ("I", 50_001, 200_000, "1"),
    ("I", 200_001, 300_000, "1.5"),
    ("II", 0, 5_000, "0.5"),
    ("II", 5_001, 20_000, "1"),
    ("II", 20_001, 100_000, "1.5"),
    ("III", 0, 500, "0.5"),
    ("III", 501, 2_000, "1"),
    ("III", 2_001, 10_000, "1.5"),
    ("IIII", 0, 50, "0.5"),
    ("IIII", 51, 200, "1"),
    ("IIII", 201, 1_000, "1.5"),
]


@pytest.mark.parametrize(("accuracy_class", "first", "last", "error"), TABLE_6)
def test_table_6(accuracy_class: str, first: int, last: int, error: str) -> None:
    """At both ends of each band of loads the error is the table's."""
    one_gram = scale(accuracy_class, "1")
    assert permissible_error_g(first, one_gram) == Decimal(error)
    assert permissible_error_g(last, one_gram) == Decimal(error)


@pytest.mark.parametrize(
    ("accuracy_class", "interval_g", "load_g", "at_verification_g", "in_service_g"),
    [
        # Worked numbers on table 6; in service twice as much (SI 1995/1907 Sch. 2 para 4, read).
        ("III", "10", 3_420, "5", "10"),
        ("III", "10", 5_000, "5", "10"),
        ("III", "10", 5_010, "10", "20"),
        ("III", "50", 20_000, "25", "50"),
        ("III", "50", 30_000, "50", "100"),
        ("IIII", "100", 3_420, "50", "100"),
        ("IIII", "100", 12_000, "100", "200"),
        ("IIII", "100", 25_000, "150", "300"),
        ("III", "0.5", 250, "0.25", "0.50"),
        ("III", "0.5", 251, "0.5", "1"),
    ],
)
def test_worked_numbers(
    accuracy_class: str, interval_g: str, load_g: int, at_verification_g: str, in_service_g: str
) -> None:
    """Worked loads on usual scales, at verification and, at twice that, in service."""
    error_g = permissible_error_g(load_g, scale(accuracy_class, interval_g))
    assert error_g == Decimal(at_verification_g)
    assert 2 * error_g == Decimal(in_service_g)


def test_the_gap_between_ward_and_plant() -> None:
    """3.42 kg on III, 10 g and 3.10 kg on IIII, 100 g: errors explain 0.110 kg, 0.32 kg is real."""
    story = bag().sealed("2026-07-01 10:00", weight_g=3_420, scale="ward-scale")
    story.weighed("2026-07-01 14:00", 3_100, scale="plant-scale")
    (pair,) = comparisons(story.history(), hospital(), Decimal(2))
    assert (pair.difference_g, pair.tolerance_g) == (-320, Decimal(110))
    assert pair.disagree
    violation = story.only("weight.mismatch", rules())
    assert "-320 g" in violation.message
    assert "110 g" in violation.message


@pytest.mark.parametrize(("later_g", "flagged"), [(3_310, False), (3_309, True), (3_530, False)])
def test_at_the_tolerance_is_still_explained(later_g: int, flagged: bool) -> None:
    """A difference of exactly both errors is allowed; one gram more is a mismatch."""
    story = bag().sealed("2026-07-01 10:00", weight_g=3_420, scale="ward-scale")
    story.weighed("2026-07-01 14:00", later_g, scale="plant-scale")
    assert bool(story.every("weight.mismatch", rules())) is flagged


def test_the_sum_of_both_errors_is_less_than_the_root_of_squares_at_k_2() -> None:
    """Hard limits are summed: 0.110 kg, not 0.116 kg as in quadrature (JCGM 100:2008 4.3.7)."""
    errors_g = [Decimal(10), Decimal(100)]
    quadrature_g = 2 * (sum(e * e for e in errors_g) / 3).sqrt()
    assert round(quadrature_g) == 116
    story = bag().sealed("2026-07-01 10:00", weight_g=3_420, scale="ward-scale")
    story.weighed("2026-07-01 14:00", 3_308, scale="plant-scale")
    assert story.every("weight.mismatch", rules()), "112 g would pass in quadrature"
