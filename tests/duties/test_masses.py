"""The balance of treatment: expected loss as a range, residue with its cycle, unexplained grams."""

from datetime import date, timedelta

import pytest

from service.access.caller import Caller, Scope
from service.custody.words import Role
from service.duties import masses
from service.duties.balance import Days
from tests.api.client import NOON, event, ids, scanned, sealed
from tests.duties.desk import Desk

DAYS = Days(date(2026, 7, 1), date(2026, 7, 3))
ONE, TWO, ASH, OTHER, CART = ids(5, seed=91)
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


def burnt(
    desk: Desk,
    ash_g: int | None,
    scales: tuple[str | None, str | None] = ("ward-scale-a", "kiln-scale"),
) -> None:
    """Two bags of 5 kg, weighed on the first scale, are burnt in a cart, as one cycle that leaves
    ash, weighed on the second."""
    desk.tell(
        sealed(ONE, weight_g=5_000, at=NOON - 3 * HOUR, scale=scales[0]),
        sealed(TWO, weight_g=5_000, at=NOON - 3 * HOUR, scale=scales[0]),
        event("packed", ONE, TWO, parent=CART, at=NOON - 2 * HOUR),
        event("treated", CART, at=NOON - HOUR, step="incinerate", party="plant-kiln", cycle="K-9"),
    )
    if ash_g is not None:
        desk.tell(
            sealed(
                ASH, weight_g=ash_g, at=NOON, category="yellow-e", container_kind="rigid_bin",
                scale=scales[1], from_cycle="K-9", parents=[scanned(ONE), TWO],
            )
        )  # fmt: skip


def view(desk: Desk) -> masses.MassesView:
    """The balance of those days."""
    return masses.masses(desk.store, desk.caller(), DAYS)


def test_ash_within_the_range_is_explained(desk: Desk) -> None:
    """Of 10 kg between 75 and 95 % are expected to go: 1 kg of ash is between 0.5 and 2.5 kg."""
    burnt(desk, 1_000)
    [step] = view(desk).steps
    assert (step.party, step.step, step.cycles, step.containers) == (
        "plant-kiln", "incinerate", 1, 2,
    )  # fmt: skip
    assert step.balance is not None
    assert (step.balance.missing_g, step.balance.unexplained_g) == (9_000, 0)
    assert (step.balance.loss_min_g, step.balance.loss_max_g) == (7_500, 9_500)
    assert "house" in step.loss.source.casefold()


# OIML R 76-1:2006, table 6, twice that in service (UK SI 1995/1907 Sch. 2 para 4); both read.
# Class III, e = 10 g: 5 kg are 500 e: 0.5 e, in service 10 g; 4 kg too.
# Class IIII, e = 50 g: 5 kg are 100 e and 4 kg 80 e: 1 e, in service 100 g.
# One scale's errors add, those of two combine as 2 x sqrt((a^2 + b^2) / 3), never beyond the sum
# (JCGM 100:2008, 5.2.2 note 1 and 4.3.7; from memory).
@pytest.mark.parametrize(
    ("scales", "uncertainty_g"),
    [
        (("ward-scale-a", "kiln-scale"), 117.756),  # 20 g before, 100 g after
        (("kiln-scale", "ward-scale-a"), 210),  # 200 and 10: 231.2, but no more than the sum
        (("ward-scale-a", "ward-scale-a"), 30),  # one scale: 3 x 10 g
        (("ward-scale-a", "ward-scale-b"), 25.820),  # two alike: 20 and 10 g
        ((None, None), 258.199),  # not told: the coarsest, 200 g and 100 g
    ],
)
def test_too_much_left_is_unexplained_to_the_gram(
    desk: Desk, scales: tuple[str | None, str | None], uncertainty_g: float
) -> None:
    """4 kg of ash: 6 kg are missing where at least 7.5 kg were to go, less what scales may err."""
    burnt(desk, 4_000, scales)
    found = view(desk)
    [cycle] = found.unexplained
    assert cycle.cycle == "K-9"
    assert float(cycle.balance.uncertainty_g) == pytest.approx(uncertainty_g, abs=1e-3)
    unexplained_g = 6_000 - (7_500 - uncertainty_g)
    assert float(cycle.balance.unexplained_g) == pytest.approx(unexplained_g, abs=1e-3)


def test_the_weight_of_the_receipt_counts_with_the_scale_of_the_receipt(desk: Desk) -> None:
    """Weighed again at the kiln: 5 kg on class IIII err by 100 g, not by the ward's 10 g."""
    desk.tell(event("received", ONE, TWO, at=NOON - 150 * MINUTE, party="plant-kiln"))
    for bag in (ONE, TWO):
        desk.tell(
            event(
                "received", bag, at=NOON - 149 * MINUTE, party="plant-kiln", weight_g=5_000,
                scale="kiln-scale",
            )
        )  # fmt: skip
    burnt(desk, 4_000, ("ward-scale-a", "kiln-scale"))
    [cycle] = view(desk).unexplained
    assert cycle.balance.uncertainty_g == 300


def test_a_cycle_without_residue_is_open_and_in_no_balance(desk: Desk) -> None:
    """Until the ash is registered nothing can be said of it."""
    burnt(desk, None)
    [step] = view(desk).steps
    assert (step.balance, step.open_cycles, step.open_g) == (None, 1, 10_000)
    assert view(desk).unexplained == ()


def test_residue_keeps_its_cycle_and_its_parents(desk: Desk) -> None:
    """As ids, however they were scanned; the parents' own past is not touched by it."""
    burnt(desk, 1_000)
    with desk.store.reading() as connection:
        from service.store.queries import history

        told = history(connection, desk.facility, ASH).registered
        parent = history(connection, desk.facility, ONE)
    assert told is not None
    assert (told.event.from_cycle, told.event.parents) == ("K-9", (ONE, TWO))  # type: ignore[union-attr]
    assert [h.event.kind for h in parent.happened] == ["registered", "packed", "treated"]


def test_a_ward_sees_what_went_in_of_its_own(desk: Desk) -> None:
    """Of a cycle with others' waste its own part."""
    burnt(desk, None)
    desk.tell(
        sealed(OTHER, unit="theatres", weight_g=700, at=NOON - 3 * HOUR),
        event("treated", OTHER, at=NOON, step="incinerate", party="plant-kiln", cycle="K-9"),
    )
    caller = Caller(desk.facility, "x", Role.OFFICER, Scope(units=frozenset({"theatres"})))
    [step] = masses.masses(desk.store, caller, DAYS).steps
    assert (step.containers, step.open_g) == (1, 700)
