"""Balances: errors that add, errors that do not, losses as a range, counts along their way."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.statistics.mass import ExpectedLoss, Stage, Weight, balance, steps, total

D = Decimal


def weights(grams: int, error_g: str, scale: str, times: int = 1) -> list[Weight]:
    """Equal weighings on one scale."""
    return [Weight(grams, D(error_g), scale)] * times


def test_forty_bags_on_one_scale_err_together() -> None:
    """40 x 10 g are 400 g, not 63: one scale errs alike each time (JCGM 100:2008, 5.2.2 note 1).

    k = 2 on a rectangular law would say 462 g: nothing errs by more than all limits together.
    """
    assert total(weights(3_000, "10", "ward", 40)).uncertainty_g == 400


def test_two_scales_of_unlike_error_keep_to_the_sum() -> None:
    """10 g and 100 g: the root of squares with k = 2 is 116 g, the sum 110 g (4.3.7; computed)."""
    found = balance(weights(3_420, "10", "ward"), weights(3_100, "100", "plant"))
    assert (found.missing_g, found.uncertainty_g, found.unexplained_g) == (320, 110, 210)


def test_many_scales_of_like_error_partly_cancel() -> None:
    """Nine scales of 10 g: 2 x sqrt(9 x 100 / 3) = 34.64 g, not 90 g."""
    row = [Weight(1_000, D(10), f"scale-{n}") for n in range(9)]
    assert total(row).uncertainty_g == pytest.approx(D("34.641"), abs=D("0.001"))


@pytest.mark.parametrize(
    ("out_g", "unexplained_g"),
    [(9_000, 0), (8_000, 0), (7_900, 0), (7_899, 1), (9_600, 0), (9_601, -1), (10_500, -900)],
)
def test_a_loss_is_a_range(out_g: int, unexplained_g: int) -> None:
    """Drying takes 5 to 20 % of 10 kg; scales err by 100 g; what lies outside is unexplained."""
    drying = ExpectedLoss("autoclave and dry", D("0.05"), D("0.20"), "site, 12 loads weighed")
    found = balance(weights(10_000, "50", "a"), weights(out_g, "50", "a"), drying)
    assert found.unexplained_g == unexplained_g


@given(
    st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 500), st.sampled_from("abcd"))),
)
def test_no_total_errs_by_more_than_all_limits_or_less_than_the_largest_part(
    rows: list[tuple[int, int, str]],
) -> None:
    """Whatever the scales."""
    found = total(Weight(g, D(e), s) for g, e, s in rows)
    by_scale = [sum(e for _, e, s in rows if s == scale) for scale in "abcd"]
    assert max(by_scale) <= found.uncertainty_g + D("1e-9") <= sum(by_scale) + D("1e-6")


def test_nothing_against_nothing_is_even() -> None:
    """An empty quarter."""
    assert balance([], []).unexplained_g == 0


def test_a_loss_that_is_no_range_is_refused() -> None:
    """From 20 to 5 %, or 20 for 0.20."""
    for low, high in (("0.20", "0.05"), ("5", "20")):
        with pytest.raises(ValueError, match="drying"):
            ExpectedLoss("drying", D(low), D(high), "")


def test_needles_along_their_way() -> None:
    """Registered, cut at the hub, in the pit."""
    found = steps([Stage("registered", 500), Stage("hub cutter", 498), Stage("pit", 499)])
    assert [(s.from_place, s.to_place, s.fewer) for s in found] == [
        ("registered", "hub cutter", 2),
        ("hub cutter", "pit", -1),
    ]
