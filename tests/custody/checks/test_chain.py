"""The chain of custody: gaps, missing containers, one label in two places."""

from datetime import timedelta

import pytest

from service.custody.words import Severity
from tests.house import rules
from tests.trade import BAG, CART, Story, at, bag

T0, HOUR, MINUTE = at("2026-07-06 10:00"), timedelta(hours=1), timedelta(minutes=1)
HOUSE = rules()


def gaps(story: Story) -> list[str]:
    """The messages of the gaps found."""
    return [v.message for v in story.every("custody.gap", HOUSE)]


# --- never registered ---------------------------------------------------------------------------


def test_a_container_that_nobody_registered() -> None:
    """The first act shows it; it stands until somebody registers it."""
    story = bag().collected(T0).stored(T0 + HOUR)
    found = story.only("custody.gap", HOUSE)
    assert (found.opened_at, found.closed_at) == (T0, None)
    assert found.evidence == (story.last("collected").id,)
    assert "not registered at a source" in found.message
    story.sealed(T0 + 5 * HOUR)
    assert story.only("custody.gap", HOUSE).closed_at == T0 + 5 * HOUR


@pytest.mark.parametrize("told", ["labelled", "notified", "spilled"])
def test_a_label_or_a_notice_is_no_act(told: str) -> None:
    """A printed label is bound to nothing yet."""
    assert not gaps(getattr(bag(), told)(T0))
    assert not gaps(getattr(bag(), told)(T0).sealed(T0 + HOUR))


def test_a_cart_needs_no_registration() -> None:
    """What only carries others is not judged, whatever happens to it."""
    story = bag().sealed(T0).packed(T0 + HOUR).dispatched(T0 + 2 * HOUR, CART, seal=None)
    story.treated(T0 + 3 * HOUR, containers=(CART,), party="nowhere")
    assert story.judged(HOUSE, CART) == ()
    assert story.standing(HOUSE, CART).carries


# --- gaps ---------------------------------------------------------------------------------------


def test_collected_from_another_than_the_custodian() -> None:
    """The sister of ward 3 holds it; the handlers say they had it from the theatre."""
    story = bag().sealed(T0).collected(T0 + HOUR, from_party="theatre")
    found = story.only("custody.gap", HOUSE)
    assert (found.severity, found.opened_at) == (Severity.WRONG, T0 + HOUR)
    assert found.clause == "good custody practice"
    assert found.message == (
        "collected from theatre, while ward-3 held it: no hand-over between them is recorded"
    )


def test_stored_by_a_party_that_did_not_hold_it() -> None:
    """Nobody collected it from the ward."""
    assert len(gaps(bag().sealed(T0).stored(T0 + HOUR))) == 1


def test_sent_off_straight_from_the_ward() -> None:
    """Never collected."""
    (message,) = gaps(bag().sealed(T0).dispatched(T0 + HOUR))
    assert message == "left with haulier but was never collected"


def test_received_but_never_sent() -> None:
    """And a second receipt after one dispatch is one too many."""
    assert len(gaps(bag().sealed(T0).collected(T0).received(T0 + HOUR))) == 1
    story = bag().sealed(T0).collected(T0).dispatched(T0 + HOUR).received(T0 + 2 * HOUR)
    assert gaps(story) == []
    assert gaps(story.received(T0 + 3 * HOUR)) == ["received by plant but never dispatched"]


@pytest.mark.parametrize("act", ["treated", "disposed"])
def test_treated_or_disposed_of_by_a_party_that_did_not_hold_it(act: str) -> None:
    """The plant never received it."""
    assert len(gaps(getattr(bag().sealed(T0).collected(T0), act)(T0 + HOUR))) == 1


def test_custody_follows_the_event_after_a_gap() -> None:
    """One missing hand-over is one gap, not one for each later act."""
    story = bag().sealed(T0).stored(T0 + HOUR).dispatched(T0 + 2 * HOUR).received(T0 + 3 * HOUR)
    assert len(gaps(story.treated(T0 + 4 * HOUR).disposed(T0 + 5 * HOUR))) == 1
    assert story.only("custody.gap", HOUSE).closed_at == T0 + 5 * HOUR


def test_turned_away_it_is_the_carriers_again() -> None:
    """Taken back and received by the handlers: no gap anywhere."""
    story = bag().sealed(T0).collected(T0).dispatched(T0 + HOUR).refused(T0 + 2 * HOUR)
    assert story.standing(HOUSE).custodian == "haulier"
    story.received(T0 + 3 * HOUR, party="handlers").stored(T0 + 4 * HOUR)
    assert gaps(story) == []
    assert story.standing(HOUSE).custodian == "handlers"


def test_a_forgotten_collection_that_arrives_late_heals_the_gap() -> None:
    """Judgement is of the history as now known."""
    story = bag().sealed(T0).stored(T0 + 2 * HOUR)
    assert len(gaps(story)) == 1
    assert gaps(story.collected(T0 + HOUR, after=9 * HOUR)) == []


# --- missing ------------------------------------------------------------------------------------


def test_reported_lost_until_found() -> None:
    """Lost is of its own severity; it ends when the container is there again."""
    story = bag().sealed(T0).lost(T0 + HOUR, last_seen="sluice room")
    found = story.only("custody.missing", HOUSE)
    assert (found.severity, found.opened_at, found.closed_at) == (Severity.LOST, T0 + HOUR, None)
    assert "sluice room" in found.message
    story.notified(T0 + 2 * HOUR, "loss")
    assert story.only("custody.missing", HOUSE).closed_at is None
    story.found(T0 + 3 * HOUR)
    assert story.only("custody.missing", HOUSE).closed_at == T0 + 3 * HOUR


@pytest.mark.parametrize(
    "act", ["collected", "stored", "received", "treated", "disposed", "refused", "found"]
)
def test_whoever_handles_it_has_found_it(act: str) -> None:
    """Any later act on the container itself."""
    story = bag().sealed(T0).lost(T0 + HOUR)
    assert story.only("custody.missing", HOUSE).closed_at is None
    getattr(story, act)(T0 + 2 * HOUR)
    assert story.only("custody.missing", HOUSE).closed_at == T0 + 2 * HOUR


def sent(*containers: str) -> Story:
    """Bags that left together in consignment C-1."""
    story = bag()
    for container in containers:
        story.sealed(T0, container)
    return story.collected(T0, *containers).dispatched(T0 + HOUR, *containers)


def test_not_among_what_was_received() -> None:
    """The plant counts all out of the vehicle: who was sent and is not there is missing."""
    story = sent(BAG, "BAG-2").all_received(T0 + 2 * HOUR, "BAG-2")
    found = story.only("custody.missing", HOUSE)
    assert (found.opened_at, found.closed_at) == (T0 + 2 * HOUR, None)
    assert found.evidence == (story.last("dispatched").id, story.last("received").id)
    assert "C-1" in found.message
    assert not story.every("custody.missing", HOUSE, "BAG-2")
    story.found(T0 + 9 * HOUR)
    assert story.only("custody.missing", HOUSE).closed_at == T0 + 9 * HOUR


def test_an_empty_vehicle() -> None:
    """A complete receipt that names nothing: all are missing."""
    story = sent(BAG, "BAG-2").all_received(T0 + 2 * HOUR)
    for one in (BAG, "BAG-2"):
        assert len(story.every("custody.missing", HOUSE, one)) == 1


def test_a_receipt_that_is_not_complete_says_nothing_of_the_others() -> None:
    """More may come with the next scan."""
    story = sent(BAG, "BAG-2").received(T0 + 2 * HOUR, "BAG-2")
    assert not story.every("custody.missing", HOUSE)


def test_received_one_by_one_then_declared_complete() -> None:
    """Each scan counts; the closing one may name the last only, or none."""
    story = sent(BAG, "BAG-2").received(T0 + 2 * HOUR).all_received(T0 + 3 * HOUR, "BAG-2")
    assert not story.every("custody.missing", HOUSE)
    assert not story.every("custody.missing", HOUSE, "BAG-2")


def test_a_receipt_closed_twice_misses_a_container_once() -> None:
    """The second closing finds nothing new; a container that leaves again can be missing again."""
    story = sent(BAG, "BAG-2").all_received(T0 + 2 * HOUR, "BAG-2").all_received(T0 + 3 * HOUR)
    assert story.only("custody.missing", HOUSE).opened_at == T0 + 2 * HOUR
    story.found(T0 + 4 * HOUR).dispatched(T0 + 5 * HOUR).all_received(T0 + 6 * HOUR, "BAG-2")
    opened = [v.opened_at for v in story.every("custody.missing", HOUSE)]
    assert opened == [T0 + 2 * HOUR, T0 + 6 * HOUR]


def test_refused_before_the_receipt_is_not_missing() -> None:
    """It came, and was turned away."""
    story = sent(BAG, "BAG-2").refused(T0 + 2 * HOUR).all_received(T0 + 3 * HOUR, "BAG-2")
    assert not story.every("custody.missing", HOUSE)


def test_received_in_its_cart_is_not_missing() -> None:
    """The receipt names the cart."""
    story = bag().sealed(T0).packed(T0).collected(T0, CART).dispatched(T0 + HOUR, CART)
    assert not story.all_received(T0 + 2 * HOUR, CART).every("custody.missing", HOUSE)


def test_a_receipt_put_right_finds_the_bag() -> None:
    """The person forgot one scan and corrects the receipt."""
    story = sent(BAG, "BAG-2").all_received(T0 + 2 * HOUR, "BAG-2")
    story.amended(T0 + 3 * HOUR, "received", containers=(BAG, "BAG-2"))
    assert not story.every("custody.missing", HOUSE)


# --- two places ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("minutes", "flagged"), [(39, True), (40, False), (41, False)])
def test_seen_where_nobody_could_be_yet(minutes: int, flagged: bool) -> None:
    """The way from yard to plant takes 40 min; exactly so long is possible."""
    story = bag().sealed(T0).collected(T0).stored(T0 + HOUR, place="yard-store")
    story.weighed(T0 + HOUR + minutes * MINUTE, 900, place="plant")
    found = story.every("custody.two_places", HOUSE)
    assert len(found) == flagged
    for v in found:
        assert v.evidence == (story.last("stored").id, story.last("weighed").id)
        assert "39 min; the way takes 40 min" in v.message


def test_the_same_place_or_an_unknown_one_is_no_second_place() -> None:
    """Ward and corridor of one location, or a place that is not in the set-up."""
    story = bag().sealed(T0, place="cold-room").weighed(T0, 900, place="yard-store")
    story.weighed(T0, 900, place="somewhere").weighed(T0, 900)
    assert not story.every("custody.two_places", HOUSE)


def test_a_cart_seen_elsewhere_does_not_speak_of_the_bag() -> None:
    """Only the bag's own label can have been copied."""
    story = bag().sealed(T0, place="ward-3").packed(T0).stored(T0, CART, place="yard-store")
    assert not story.every("custody.two_places", HOUSE)


@pytest.mark.parametrize("told", ["labelled", "notified", "lost"])
def test_what_is_told_from_a_desk_is_no_sighting(told: str) -> None:
    """A loss reported at the yard does not put the bag there."""
    story = getattr(bag().sealed(T0, place="ward-3"), told)(T0, place="yard-store")
    assert not story.every("custody.two_places", HOUSE)
    assert story.weighed(T0, 900, place="yard-store").every("custody.two_places", HOUSE)


def test_one_label_on_two_bags() -> None:
    """Sealed twice: once is enough to say so, even where the places differ too."""
    site = {"travel": [{"between": ["wards", "theatres"], "minutes": 30}]}
    story = bag().sealed(T0, place="ward-3").sealed(T0 + MINUTE, unit="theatre", place="theatre")
    (found,) = story.every("custody.two_places", rules(site))
    assert found.message == "one label was bound to two containers"
