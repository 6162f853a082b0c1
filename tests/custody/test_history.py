"""The fold: order, amendments, parents, clocks and receipts."""

from datetime import timedelta

import pytest

from service.custody.events import Weighed
from tests.trade import BAG, CART, OUTER, Story, at, bag

T0 = at("2026-07-06 10:00")
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)


def kinds(story: Story, container: str = BAG) -> list[str]:
    """The kinds of what reached a container, in order."""
    return [h.event.kind for h in story.history(container).happened]


def weight(story: Story) -> int | None:
    """The last weight that holds."""
    found = [h.event for h in story.history().happened if isinstance(h.event, Weighed)]
    return found[-1].weight_g if found else None


def test_what_arrives_late_takes_its_place_by_time() -> None:
    """An event recorded last that happened first is folded first."""
    story = bag().stored(T0 + 2 * HOUR).collected(T0 + HOUR).sealed(T0)
    assert kinds(story) == ["registered", "collected", "stored"]


def test_in_one_instant_the_id_decides() -> None:
    """Events of one instant are taken in the order of their ids."""
    story = bag().sealed(T0).collected(T0).stored(T0)
    story.entries.reverse()
    assert kinds(story) == ["registered", "collected", "stored"]


def test_the_same_entry_twice_is_one() -> None:
    """A repeated request changes nothing."""
    story = bag().sealed(T0).collected(T0 + HOUR)
    once = story.history()
    story.entries += story.entries
    assert story.history() == once


def test_a_wrong_device_clock_is_put_right_in_the_fold() -> None:
    """A device an hour ahead is taken back an hour; one ten seconds off is taken as right."""
    story = bag().sealed(T0 + HOUR, clock_offset_s=3600).weighed(T0 + HOUR, 900, clock_offset_s=10)
    first, second = story.history().happened
    assert (first.at, second.at) == (T0, T0 + HOUR)
    assert first.event.occurred_at == T0 + HOUR
    assert bag().sealed(T0, clock_offset_s=11).history().happened[0].at == T0 - 11 * MINUTE / 60


# --- amendments ---------------------------------------------------------------------------------


def test_a_corrected_weight_replaces_the_wrong_one() -> None:
    """The corrected content holds; the entry stays the original's and names the amendment."""
    story = (
        bag()
        .sealed(T0)
        .weighed(T0 + HOUR, 34_200)
        .amended(T0 + 2 * HOUR, "weighed", weight_g=3_420)
    )
    assert weight(story) == 3_420
    (weighed,) = [h for h in story.history().happened if h.event.kind == "weighed"]
    assert weighed.amended_by == story.last("amended").id
    assert weighed.entry.event.weight_g == 34_200
    assert [e.event.id for e in story.history().amendments] == [weighed.amended_by]


def test_a_corrected_time_moves_the_event() -> None:
    """A time put right is taken as true, without the device's correction."""
    story = bag().sealed(T0).collected(T0 + 5 * HOUR, clock_offset_s=600).stored(T0 + 2 * HOUR)
    story.amended(T0 + 6 * HOUR, "collected", occurred_at=T0 + HOUR)
    assert kinds(story) == ["registered", "collected", "stored"]
    assert story.history().happened[1].at == T0 + HOUR


def test_a_time_left_as_it_was_keeps_its_clock_correction() -> None:
    """Only the weight was put right: the device's clock was still wrong."""
    story = bag().sealed(T0).weighed(T0 + HOUR, 900, clock_offset_s=600)
    story.amended(T0 + 2 * HOUR, "weighed", weight_g=950)
    assert story.history().happened[1].at == T0 + HOUR - 10 * MINUTE


def test_a_voided_event_did_not_happen() -> None:
    """Without a corrected event the amendment strikes the original out."""
    story = bag().sealed(T0).treated(T0 + HOUR).voided(T0 + 2 * HOUR, "treated")
    assert kinds(story) == ["registered"]


@pytest.mark.parametrize("arrival", ["amendment first", "amendment last", "amendment alone"])
def test_an_amendment_may_arrive_before_what_it_corrects(arrival: str) -> None:
    """The corrected event holds whether or not the original has arrived."""
    story = bag().weighed(T0, 34_200).amended(T0 + HOUR, "weighed", weight_g=3_420)
    original, amendment = story.entries
    story.entries = {
        "amendment first": [amendment, original],
        "amendment last": [original, amendment],
        "amendment alone": [amendment],
    }[arrival]
    assert weight(story) == 3_420


def test_the_later_of_two_amendments_holds() -> None:
    """A second correction of the same original wins, in whatever order they arrive."""
    story = bag().weighed(T0, 1).amended(T0 + HOUR, "weighed", weight_g=2)
    story.amended(T0 + 2 * HOUR, "weighed", weight_g=3)
    assert weight(story) == 3
    story.entries.reverse()
    assert weight(story) == 3


def test_a_voided_event_can_be_put_back() -> None:
    """A later amendment with content undoes the voiding, and the other way round."""
    story = bag().weighed(T0, 900).voided(T0 + HOUR, "weighed")
    story.amended(T0 + 2 * HOUR, "weighed", weight_g=900)
    assert weight(story) == 900
    story.voided(T0 + 3 * HOUR, "weighed")
    assert weight(story) is None


def test_a_wrong_container_is_put_right() -> None:
    """The event leaves the container that was named by mistake and reaches the right one."""
    story = bag().treated(T0).amended(T0 + HOUR, "treated", containers=("BAG-2",))
    assert kinds(story, BAG) == []
    assert kinds(story, "BAG-2") == ["treated"]


# --- parents ------------------------------------------------------------------------------------


def test_a_cart_takes_its_bags_along() -> None:
    """A scan of the cart reaches what is in it at that time, not before and not after."""
    story = bag().stored(T0, CART).packed(T0 + HOUR).collected(T0 + 2 * HOUR, CART)
    story.unpacked(T0 + 3 * HOUR).treated(T0 + 4 * HOUR, containers=(CART,))
    assert kinds(story) == ["packed", "collected", "unpacked"]
    assert [h.direct for h in story.history().happened] == [True, False, True]


def test_a_cart_in_a_lorry_box_takes_its_bags_along() -> None:
    """Parents may be nested; packing the cart itself takes its bags along too."""
    story = (
        bag().packed(T0).packed(T0 + HOUR, CART, parent="LORRY").dispatched(T0 + 2 * HOUR, "LORRY")
    )
    assert kinds(story) == ["packed", "packed", "dispatched"]
    assert [s.parent for s in story.history().stays] == [CART, "LORRY"]


def test_weights_labels_and_inspections_of_a_cart_are_its_own() -> None:
    """What speaks of one container never reaches what is inside."""
    story = bag().packed(T0).weighed(T0 + HOUR, 90_000, containers=(CART,))
    story.tell("inspected", T0 + 2 * HOUR, CART, wrong_items=["needle"])
    story.labelled(T0 + 3 * HOUR, CART)
    assert kinds(story) == ["packed"]


def test_emptying_a_cart_takes_all_out() -> None:
    """An unpacking that names nothing is of all that was in it."""
    story = bag().packed(T0, BAG, "BAG-2").emptied(T0 + HOUR).collected(T0 + 2 * HOUR, CART)
    for one in (BAG, "BAG-2"):
        assert kinds(story, one) == ["packed", "unpacked"]


def test_unpacking_one_leaves_the_other() -> None:
    """Only the named bag is out of the cart."""
    story = bag().packed(T0, BAG, "BAG-2").unpacked(T0 + HOUR, BAG).stored(T0 + 2 * HOUR, CART)
    assert kinds(story, BAG) == ["packed", "unpacked"]
    assert kinds(story, "BAG-2") == ["packed", "stored"]


@pytest.mark.parametrize("act", ["stored", "received", "refused", "treated", "disposed", "lost"])
def test_a_bag_named_itself_is_out_of_its_cart(act: str) -> None:
    """Nobody scans a bag inside a closed cart: its own scan shows that it left."""
    story = bag().packed(T0)
    getattr(story, act)(T0 + HOUR)
    story.spilled(T0 + 2 * HOUR, CART)
    assert kinds(story) == ["packed", act]
    (stay,) = story.history().stays
    assert (stay.from_at, stay.until_at) == (T0, T0 + HOUR)


@pytest.mark.parametrize("act", ["collected", "dispatched", "found"])
def test_a_bag_named_in_other_acts_stays_in_its_cart(act: str) -> None:
    """Collecting or sending off a bag by its own label does not take it out of its cart."""
    story = bag().packed(T0)
    getattr(story, act)(T0 + HOUR)
    story.spilled(T0 + 2 * HOUR, CART)
    assert kinds(story) == ["packed", act, "spilled"]


def test_a_bag_packed_in_another_cart_left_the_first() -> None:
    """It is in one cart at a time."""
    story = bag().packed(T0).packed(T0 + HOUR, parent="CART-2")
    story.spilled(T0 + 2 * HOUR, CART).stored(T0 + 3 * HOUR, "CART-2")
    assert kinds(story) == ["packed", "packed", "stored"]


def test_what_was_disposed_of_with_its_cart_does_not_go_on_the_next_trip() -> None:
    """A cart tipped out by one scan of the cart goes on without what was in it."""
    story = bag().sealed(T0).packed(T0 + HOUR)
    story.disposed(T0 + 2 * HOUR, "landfill", containers=(CART,))
    once = kinds(story)
    story.dispatched(T0 + 3 * HOUR, CART).received(T0 + 4 * HOUR, CART)
    assert kinds(story) == once == ["registered", "packed", "disposed"]
    assert story.history().stays[0].until_at == T0 + 2 * HOUR


def test_an_outer_bag_with_an_id_speaks_for_the_inner_one() -> None:
    """The scan of the outer bag reaches the inner; the inner bag's own scan does not open it."""
    story = (
        bag().double_bagged(T0, outer=OUTER).packed(T0 + HOUR, OUTER).collected(T0 + 2 * HOUR, CART)
    )
    story.stored(T0 + 3 * HOUR, BAG).treated(T0 + 4 * HOUR, containers=(OUTER,))
    assert kinds(story) == ["double_bagged", "packed", "collected", "stored", "treated"]


def test_a_second_outer_bag_goes_around_the_first() -> None:
    """A torn outer bag is put in another: opening that one leaves the first around the bag."""
    story = bag().double_bagged(T0, outer=OUTER).double_bagged(T0 + HOUR, outer="OUTER-2")
    story.unpacked(T0 + 2 * HOUR, OUTER, parent="OUTER-2").treated(
        T0 + 3 * HOUR, containers=(OUTER,)
    )
    assert kinds(story) == ["double_bagged", "double_bagged", "unpacked", "treated"]


def test_a_bag_double_bagged_inside_the_cart_stays_in_the_cart() -> None:
    """The outer bag is between the bag and the cart."""
    story = bag().packed(T0).double_bagged(T0 + HOUR, outer=OUTER).collected(T0 + 2 * HOUR, CART)
    assert kinds(story) == ["packed", "double_bagged", "collected"]
    open_stays = [s.parent for s in story.history().stays if s.until_at is None]
    assert open_stays == [OUTER, CART], "inmost first"


def test_unpacking_the_inner_bag_from_the_cart_takes_its_outer_bag_along() -> None:
    """The inner label was read where the outer was meant: both are out of the cart."""
    story = (
        bag().double_bagged(T0, outer=OUTER).packed(T0 + HOUR, OUTER).unpacked(T0 + 2 * HOUR, BAG)
    )
    story.spilled(T0 + 3 * HOUR, CART).treated(T0 + 4 * HOUR, containers=(OUTER,))
    assert kinds(story) == ["double_bagged", "packed", "unpacked", "treated"]


def test_a_bag_named_at_an_unpacking_was_seen_there_though_no_packing_is_known() -> None:
    """What names the container is in its history, whatever else is missing."""
    story = bag().sealed(T0).unpacked(T0 + HOUR)
    assert kinds(story) == ["registered", "unpacked"]


def test_a_late_packing_lets_earlier_known_scans_of_the_cart_reach_the_bag() -> None:
    """The packing was recorded offline; when it arrives the cart's journey becomes the bag's."""
    story = bag().sealed(T0).collected(T0 + 2 * HOUR, CART).stored(T0 + 3 * HOUR, CART)
    assert kinds(story) == ["registered"]
    story.packed(T0 + HOUR, after=timedelta(hours=9))
    assert kinds(story) == ["registered", "packed", "collected", "stored"]


def test_containers_packed_into_each_other_do_no_harm() -> None:
    """A nonsense circle is recorded and folded without end or error."""
    story = bag().packed(T0, BAG, parent=CART).packed(T0 + HOUR, CART, parent=BAG)
    story.stored(T0 + 2 * HOUR, CART)
    assert kinds(story, BAG) == ["packed", "packed", "stored"]
    assert kinds(story, CART)[-1] == "stored"


# --- receipts -----------------------------------------------------------------------------------


def test_a_complete_receipt_is_kept_with_all_of_its_consignment() -> None:
    """It concerns who was sent with it, named or not, and nobody else."""
    story = bag().dispatched(T0, BAG, "BAG-2").all_received(T0 + HOUR, "BAG-2")
    assert len(story.history(BAG).receipts) == 1
    assert kinds(story, BAG) == ["dispatched"]
    assert kinds(story, "BAG-2") == ["dispatched", "received"]
    other = bag().dispatched(T0, consignment="C-2").all_received(T0 + HOUR, "BAG-2")
    assert not other.history(BAG).receipts


def test_a_receipt_of_an_earlier_consignment_does_not_concern_a_later_one() -> None:
    """A bag sent again under another number is not looked for in the first consignment."""
    story = bag().dispatched(T0).refused(T0 + HOUR).dispatched(T0 + 2 * HOUR, consignment="C-2")
    story.all_received(T0 + 3 * HOUR, "BAG-2")
    assert not story.history().receipts
