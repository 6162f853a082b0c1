"""The container as it stands: state, custodian, place, due time, what may come next."""

from datetime import timedelta

import pytest

from service.custody.acts import Outlet, Step
from service.custody.words import Condition, ContainerKind
from tests.house import rules
from tests.trade import CART, OUTER, at, bag, handled_well

T0, HOUR = at("2026-07-06 10:00"), timedelta(hours=1)
HOUSE = rules()


def test_an_unknown_container() -> None:
    """Nothing is known of it: it is unregistered, and nothing is made up."""
    stands = bag().standing(HOUSE)
    assert stands.state == "unregistered"
    assert not any([stands.category, stands.unit, stands.custodian, stands.place, stands.due_at])
    assert stands.next_acts == ()


def test_a_printed_label() -> None:
    """A label alone is bound to no waste."""
    assert bag().labelled(T0).standing(HOUSE).state == "labelled"


def test_a_label_printed_again_does_not_take_the_bag_back() -> None:
    """A reprint after sealing changes nothing of where the bag stands."""
    assert bag().sealed(T0).labelled(T0 + HOUR).standing(HOUSE).state == "registered"


def test_a_sealed_bag() -> None:
    """At its ward, 48 h to go, for the fire."""
    stands = bag().sealed(T0, weight_g=3_420).standing(HOUSE)
    assert (stands.state, stands.category, stands.kind) == (
        "registered",
        "soiled",
        ContainerKind.BAG,
    )
    assert (stands.custodian, stands.since, stands.place) == ("ward-3", T0, "ward-3")
    assert (stands.sealed_at, stands.due_at) == (T0, T0 + 48 * HOUR)
    assert (stands.weight_g, stands.condition) == (3_420, Condition.AMBIENT)
    assert stands.next_acts == (Step.INCINERATE, Step.PLASMA)
    assert stands.closed_at is None


def test_each_hand_over_has_its_custodian_and_place() -> None:
    """Ward, handlers, carrier, plant, and back to the carrier when turned away."""
    story = bag().sealed(T0)
    for act, custodian, place in [
        ("collected", "handlers", "ward-3"),
        ("stored", "handlers", "yard-store"),
        ("dispatched", "haulier", "yard-store"),
        ("refused", "haulier", "yard-store"),
        ("received", "plant", "plant"),
    ]:
        getattr(story, act)(T0 + len(story.entries) * HOUR)
        stands = story.standing(HOUSE)
        assert (stands.state, stands.custodian, stands.place) == (act, custodian, place)
    assert stands.since == T0 + 5 * HOUR
    assert stands.consignment == "C-1"


@pytest.mark.parametrize(
    ("act", "said"),
    [
        ("weighed", {"weight_g": 900}),
        ("packed", {}),
        ("unpacked", {}),
        ("spilled", {}),
        ("notified", {}),
    ],
)
def test_what_does_not_move_it_on(act: str, said: dict[str, int]) -> None:
    """A weighing, a cart, a spill or a notice leaves the state as it was."""
    story = bag().sealed(T0).collected(T0 + HOUR).tell(act, T0 + 2 * HOUR, **said)
    assert story.standing(HOUSE).state == "collected"


def test_lost_and_found() -> None:
    """Both are states."""
    story = bag().sealed(T0).lost(T0 + HOUR)
    assert story.standing(HOUSE).state == "lost"
    assert story.found(T0 + 2 * HOUR).standing(HOUSE).state == "found"


def test_the_parent_is_what_is_right_around_it() -> None:
    """The outer bag before the cart, whichever was first."""
    story = bag().sealed(T0).packed(T0 + HOUR)
    assert story.standing(HOUSE).parent == CART
    assert story.double_bagged(T0 + 2 * HOUR, outer=OUTER).standing(HOUSE).parent == OUTER
    assert story.emptied(T0 + 3 * HOUR).standing(HOUSE).parent == OUTER
    assert story.unpacked(T0 + 4 * HOUR, parent=OUTER).standing(HOUSE).parent is None


def test_the_weights_at_both_ends() -> None:
    """The first at the source, the last at the consignee; a cart's weight is neither."""
    story = bag().sealed(T0).weighed(T0, 3_420).dispatched(T0).received(T0 + HOUR, weight_g=3_400)
    story.packed(T0 + 2 * HOUR).received(T0 + 3 * HOUR, CART, weight_g=90_000)
    stands = story.standing(HOUSE)
    assert (stands.weight_g, stands.received_g) == (3_420, 3_400)


def test_treated_waste_is_not_due() -> None:
    """Its clock has stopped; its route goes on."""
    stands = bag("laboratory").sealed(T0).treated(T0 + HOUR, "autoclave").standing(HOUSE)
    assert stands.due_at is None
    assert stands.steps == (Step.AUTOCLAVE,)
    assert stands.next_acts == (Step.INCINERATE,)


def test_what_is_gone() -> None:
    """Outlet and moment; nothing may come next."""
    stands = handled_well(T0).standing(HOUSE)
    assert (stands.state, stands.outlet) == ("disposed", Outlet.ASH_LANDFILL)
    assert stands.closed_at == T0 + 20 * HOUR
    assert stands.next_acts == ()
    assert stands.due_at is None


def test_what_the_text_denies_is_not_offered() -> None:
    """After chlorine only plasma is left of the two."""
    stands = bag().sealed(T0).treated(T0 + HOUR, "hypochlorite").standing(HOUSE)
    assert stands.next_acts == (Step.PLASMA,)


def test_an_unknown_category_has_no_rules_but_stands() -> None:
    """The record keeps it; no limit and no route is made up for it."""
    stands = bag("no-such").sealed(T0).collected(T0).standing(HOUSE)
    assert (stands.category, stands.custodian) == ("no-such", "handlers")
    assert (stands.due_at, stands.next_acts) == (None, ())
