"""The judgement as a whole: a clean history, purity, order, and what stands at a moment."""

from datetime import timedelta

import pytest

from service.custody.verdict import CATALOGUE, Code
from service.custody.violations import assess, judge
from tests.house import rules
from tests.trade import BAG, at, bag, handled_well, sharps_box

T0, HOUR = at("2026-07-06 10:00"), timedelta(hours=1)
HOUSE = rules()


def test_a_history_with_nothing_wrong_has_no_violation() -> None:
    """Every event of an ordinary day, each as it should be."""
    assert handled_well(T0).judged(HOUSE) == ()


def test_sharps_with_nothing_wrong() -> None:
    """Cut at the hub, autoclaved, encapsulated, buried."""
    story = sharps_box().sealed(T0, hub_cut=True, fill_fraction="0.75").collected(T0 + HOUR)
    story.dispatched(T0 + 2 * HOUR).received(T0 + 3 * HOUR).treated(T0 + 4 * HOUR, "autoclave")
    story.treated(T0 + 5 * HOUR, "encapsulate").disposed(T0 + 6 * HOUR, "sharps_pit")
    assert story.judged(HOUSE) == ()


def test_every_code_has_a_severity_and_a_next_action() -> None:
    """Nobody is told of a fault without being told what to do."""
    assert set(CATALOGUE) == set(Code)
    assert all(action.endswith(".") for _, action in CATALOGUE.values())


def test_violations_come_in_the_order_of_opening() -> None:
    """A bag with many faults."""
    story = bag().sealed(T0, fill_fraction="1", closed=False).dispatched(T0 + HOUR, seal=None)
    opened = [v.opened_at for v in story.judged(HOUSE)]
    assert len(opened) >= 6
    assert opened == sorted(opened)


def test_judgement_foresees_and_assessment_waits() -> None:
    """A sealed bag will be late in 48 h if nothing happens; before that it is not said to be."""
    history = bag().sealed(T0).history()
    assert [v.code for v in judge(history, HOUSE)] == [Code.HOLDING_NEAR, Code.HOLDING_EXCEEDED]
    assert assess(history, HOUSE, T0) == ()
    assert [v.code for v in assess(history, HOUSE, T0 + 42 * HOUR)] == [Code.HOLDING_NEAR]
    later = assess(history, HOUSE, T0 + 49 * HOUR)
    assert [(v.code, v.open_at(T0 + 49 * HOUR)) for v in later] == [
        (Code.HOLDING_NEAR, False),
        (Code.HOLDING_EXCEEDED, True),
    ]


def test_a_violation_stands_from_its_opening_until_its_closing() -> None:
    """Open at the first instant, no longer open at the last."""
    story = bag().sealed(T0).dispatched(T0 + HOUR, seal=None).received(T0 + 2 * HOUR)
    found = story.only("transport.unsealed", HOUSE)
    assert not found.open_at(T0 + HOUR - timedelta.resolution)
    assert found.open_at(T0 + HOUR)
    assert not found.open_at(T0 + 2 * HOUR)


def test_a_standing_fact_closes_at_disposal() -> None:
    """A bag left open at the ward stays so until it is gone; a notice does not close it."""
    story = bag().sealed(T0, closed=False).notified(T0 + HOUR, "other")
    assert story.only("packing.open", HOUSE).closed_at is None
    story.disposed(T0 + 9 * HOUR)
    assert story.only("packing.open", HOUSE).closed_at == T0 + 9 * HOUR


@pytest.mark.parametrize(("about", "closes"), [("route", True), ("other", True), ("spill", False)])
def test_what_is_found_at_disposal_closes_when_the_authority_was_told(
    about: str, closes: bool
) -> None:
    """A false label read when it was buried: nothing can be put right, only told."""
    for told_at in (T0 + HOUR, T0 + 2 * HOUR):
        story = bag().sealed(T0).disposed(T0 + HOUR, false=[BAG]).notified(told_at, about)
        found = story.only("label.not_genuine", HOUSE)
        assert found.closed_at == (told_at if closes else None)


def test_amending_the_seal_away_takes_its_violations_away() -> None:
    """A bag registered by mistake is struck out: nothing is late, and it was never registered."""
    story = bag().sealed(T0).voided(T0 + HOUR, "registered")
    assert story.judged(HOUSE) == ()
    assert story.standing(HOUSE).state == "unregistered"
