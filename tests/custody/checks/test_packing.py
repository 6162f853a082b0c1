"""Packing and sharps: filled too far, left open, single bags in transport, needles not cut."""

from datetime import timedelta

import pytest

from service.custody.rules import Rules
from service.custody.words import ContainerKind, Severity
from service.regimes.load import assemble
from tests.house import rules
from tests.trade import OUTER, Story, at, bag, sharps_box

T0, HOUR = at("2026-07-06 10:00"), timedelta(hours=1)
HOUSE = rules()


@pytest.mark.parametrize(
    ("fill", "flagged"), [("0.75", False), ("0.751", True), ("1.2", True), (None, False)]
)
def test_three_quarters_is_full(fill: str | None, flagged: bool) -> None:
    """Three-quarters is allowed, more is not; what nobody measured is not held against it."""
    found = bag().sealed(T0, fill_fraction=fill).every("packing.overfilled", HOUSE)
    assert [v.opened_at for v in found] == [T0] * flagged
    assert all(v.clause == "three-quarters (House text)" for v in found)
    assert all(v.severity is Severity.UNSAFE for v in found)


def test_the_message_does_not_round_the_fill_to_the_limit() -> None:
    """75.1 % is not told as 75 %."""
    found = bag().sealed(T0, fill_fraction="0.751").only("packing.overfilled", HOUSE)
    assert found.message == "filled to 75.1 %; at most 75 % is allowed"


def test_open_at_the_ward_stands_until_disposal() -> None:
    """A bag registered open."""
    story = bag().sealed(T0, closed=False)
    assert story.only("packing.open", HOUSE).closed_at is None
    story.disposed(T0 + HOUR)
    assert story.only("packing.open", HOUSE).closed_at == T0 + HOUR


def test_open_on_the_road_stands_until_receipt() -> None:
    """The transport container was not closed."""
    story = bag().sealed(T0).dispatched(T0 + HOUR, closed=False)
    found = story.only("packing.open", HOUSE)
    assert (found.opened_at, found.closed_at) == (T0 + HOUR, None)
    story.received(T0 + 2 * HOUR)
    assert story.only("packing.open", HOUSE).closed_at == T0 + 2 * HOUR


def test_a_single_bag_in_transport() -> None:
    """Flagged at its first departure, until receipt."""
    story = bag().sealed(T0).dispatched(T0 + HOUR).received(T0 + 2 * HOUR).dispatched(T0 + 3 * HOUR)
    found = story.only("packing.not_double", HOUSE)
    assert (found.opened_at, found.closed_at) == (T0 + HOUR, T0 + 2 * HOUR)
    assert found.clause == "two bags (House text)"


@pytest.mark.parametrize(
    "story",
    [
        bag().sealed(T0).double_bagged(T0 + HOUR).dispatched(T0 + HOUR),
        bag().sealed(T0).double_bagged(T0, outer=OUTER).dispatched(T0 + HOUR, OUTER),
        sharps_box().sealed(T0).dispatched(T0 + HOUR),
        bag().sealed(T0),
    ],
    ids=["same minute", "outer bag with an id", "a box needs none", "never left"],
)
def test_no_single_bag(story: Story) -> None:
    """Double-bagged before it left, or not a bag, or not gone."""
    assert not story.every("packing.not_double", HOUSE)


def test_double_bagged_after_it_left_is_too_late() -> None:
    """The order counts."""
    story = bag().sealed(T0).dispatched(T0 + HOUR).double_bagged(T0 + 2 * HOUR)
    assert story.every("packing.not_double", HOUSE)


@pytest.mark.parametrize(("hub_cut", "flagged"), [(True, False), (False, True), (None, True)])
def test_needles_are_cut_at_the_hub(hub_cut: bool | None, flagged: bool) -> None:
    """Not said is not cut."""
    found = sharps_box().sealed(T0, hub_cut=hub_cut).every("sharps.hub_uncut", HOUSE)
    assert [v.clause for v in found] == ["hub (House text)"] * flagged
    assert not bag("sharps").sealed(T0).every("sharps.hub_uncut", HOUSE), "rule is for the box"


def test_general_waste_may_leave_in_one_bag_where_the_regime_exempts_it() -> None:
    """The house asks an outer bag of every category; WHO's general waste is free of it."""
    text = Rules(assemble("who-2014"), HOUSE.site)
    day = text.site.local_day(T0)
    general, infectious = text.on("general", day), text.on("infectious", day)

    assert general is not None
    assert infectious is not None
    assert general.packing_rule("double_bagged", ContainerKind.BAG) is None
    assert infectious.packing_rule("double_bagged", ContainerKind.BAG) is not None


@pytest.mark.parametrize(
    ("category", "kind", "flagged"),
    [
        ("white", "bag", True),
        ("white", "sharps_container", False),
        ("yellow-c", "bag", False),
        ("yellow-c", "bottle", True),
    ],
)
def test_each_category_asks_for_its_kind_of_container(
    category: str, kind: str, flagged: bool
) -> None:
    """India 2016, Schedule I: sharps in a puncture-proof container, soiled waste in a bag."""
    text = Rules(assemble("india-2016"), HOUSE.site)
    story = Story(category=category, kind=kind).sealed(T0, hub_cut=True)
    found = story.every("packing.wrong_container", text)

    assert [v.opened_at for v in found] == [T0] * flagged
    assert all("Schedule I" in v.clause for v in found)
