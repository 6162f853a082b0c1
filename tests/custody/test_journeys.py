"""A container's journeys: what left, with what weight, and what ended it."""

from datetime import timedelta

from service.custody.journeys import journeys
from tests.trade import CART, OUTER, at, bag

T0, HOUR = at("2026-07-06 10:00"), timedelta(hours=1)


def test_from_departure_to_receipt() -> None:
    """The last weight with its outer bag on, the seal said, the party and the weight at the end."""
    story = bag().sealed(T0, weight_g=3_420).double_bagged(T0, tare_g=40)
    (journey,) = journeys(story.dispatched(T0 + HOUR).history())
    assert (journey.left_at, journey.sent_g) == (T0 + HOUR, 3_460)
    assert (journey.end, journey.receipt, journey.ended_by) == (None, None, None)
    story.received(T0 + 2 * HOUR, weight_g=3_400)
    (journey,) = journeys(story.history())
    assert (journey.ended_by, journey.received_g) == ("plant", 3_400)


def test_turned_away_and_sent_again_are_two() -> None:
    """Each departure has its own end; a second receipt ends nothing."""
    story = bag().sealed(T0).dispatched(T0 + HOUR).refused(T0 + 2 * HOUR)
    story.dispatched(T0 + 3 * HOUR, consignment="C-2").received(T0 + 4 * HOUR)
    first, second = journeys(story.received(T0 + 5 * HOUR, party="hub").history())
    assert (first.ended_by, first.receipt, first.received_g) == ("plant", None, None)
    assert (second.departure.consignment, second.ended_by) == ("C-2", "plant")


def test_the_weight_of_the_cart_is_no_weight_of_the_bag() -> None:
    """The cart was weighed at receipt, the bag was not."""
    story = bag().sealed(T0).packed(T0).dispatched(T0 + HOUR, CART)
    (journey,) = journeys(story.received(T0 + 2 * HOUR, CART, weight_g=90_000).history())
    assert (journey.sent_g, journey.received_g) == (None, None)


def test_nothing_left_is_no_journey() -> None:
    """A receipt without a departure begins none."""
    assert journeys(bag().sealed(T0).double_bagged(T0, outer=OUTER).received(T0).history()) == ()
