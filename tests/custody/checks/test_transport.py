"""Transport: seals, time on the road, and parties without an authorisation."""

from datetime import timedelta

import pytest

from service.custody.words import Severity
from tests.house import ALLOWED, HOSPITAL, rules
from tests.trade import CART, Story, at, bag

T0, HOUR = at("2026-07-06 10:00"), timedelta(hours=1)
INSTANT = timedelta.resolution
HOUSE = rules()


def on_the_road(**said: object) -> Story:
    """A bag that left an hour after sealing."""
    return bag().sealed(T0).double_bagged(T0).collected(T0).dispatched(T0 + HOUR, **said)


def test_a_consignment_without_a_seal() -> None:
    """From departure to receipt, under the clause that wants one."""
    story = on_the_road(seal=None)
    found = story.only("transport.unsealed", HOUSE)
    assert (found.opened_at, found.closed_at) == (T0 + HOUR, None)
    assert (found.severity, found.clause) == (Severity.WRONG, "seal (House text)")
    story.received(T0 + HOUR, seal=None)
    assert story.only("transport.unsealed", HOUSE).closed_at == T0 + HOUR, "the same minute"


@pytest.mark.parametrize(
    ("seal", "intact", "flagged"),
    [
        ("S-100", True, False),
        ("S-101", True, True),
        ("S-101", None, True),
        ("S-100", False, True),
        (None, None, False),
        (None, False, True),
    ],
)
def test_another_seal_or_a_broken_one(seal: str | None, intact: bool | None, flagged: bool) -> None:
    """Another number, or said to be broken; not read is not another."""
    story = on_the_road().received(T0 + 2 * HOUR, seal=seal, seal_intact=intact)
    found = story.every("transport.seal_changed", HOUSE)
    assert [v.opened_at for v in found] == [T0 + 2 * HOUR] * flagged
    for v in found:
        assert v.evidence == (story.last("dispatched").id, story.last("received").id)


def test_a_broken_seal_is_flagged_though_no_departure_is_known() -> None:
    """The departure may still be in a phone without network."""
    story = bag().sealed(T0).received(T0 + HOUR, seal_intact=False)
    found = story.only("transport.seal_changed", HOUSE)
    assert found.evidence == (story.last("received").id,)
    assert found.message == "received with seal ? broken"


def test_the_seal_of_the_cart_is_the_seal_of_what_is_in_it() -> None:
    """Scans of the cart carry the seal to each bag."""
    story = bag().sealed(T0).packed(T0).dispatched(T0 + HOUR, CART)
    story.received(T0 + 2 * HOUR, CART, seal="S-101")
    assert story.only("transport.seal_changed", HOUSE)


@pytest.mark.parametrize(("late", "flagged"), [(timedelta(), False), (INSTANT, True), (HOUR, True)])
def test_a_day_on_the_road(late: timedelta, flagged: bool) -> None:
    """24 h are allowed; it opens the instant after and closes at receipt."""
    arrived = T0 + 25 * HOUR + late
    found = on_the_road().received(arrived).every("custody.overdue", HOUSE)
    assert [(v.opened_at, v.closed_at) for v in found] == [
        (T0 + 25 * HOUR + INSTANT, arrived)
    ] * flagged


@pytest.mark.parametrize("act", ["received", "refused", "treated", "disposed"])
def test_what_ends_the_road(act: str) -> None:
    """Received, turned away, or found to have been treated: what was wrong on the road ends too."""
    story = bag().sealed(T0).dispatched(T0 + HOUR, seal=None, closed=False, carrier="nobody")
    on_the_way = (
        "transport.unsealed",
        "packing.open",
        "packing.not_double",
        "party.not_authorised",
    )
    assert story.only("custody.overdue", HOUSE).closed_at is None
    assert [story.only(code, HOUSE).closed_at for code in on_the_way] == [None] * 4
    getattr(story, act)(T0 + 20 * HOUR)
    assert not story.every("custody.overdue", HOUSE)
    assert [story.only(code, HOUSE).closed_at for code in on_the_way] == [T0 + 20 * HOUR] * 4


def test_each_trip_has_its_own_time() -> None:
    """Turned away and sent again: the second trip counts from its own start."""
    story = on_the_road().refused(T0 + 20 * HOUR).dispatched(T0 + 30 * HOUR)
    assert story.only("custody.overdue", HOUSE).opened_at == T0 + 54 * HOUR + INSTANT


# --- authorisation ------------------------------------------------------------------------------


def allowed(party: str, *rows: dict[str, object]) -> dict[str, object]:
    """The hospital, that party having these authorisations only."""
    parties = [p | {"authorisation": rows} if p["id"] == party else p for p in HOSPITAL["party"]]
    return {"party": parties}


CARRY, TREAT = ALLOWED


@pytest.mark.parametrize(
    ("rows", "flagged"),
    [
        ((CARRY,), False),
        ((TREAT,), True),
        ((), True),
        ((CARRY | {"until": "2026-07-06"},), False),
        ((CARRY | {"until": "2026-07-05"},), True),
        ((CARRY | {"from": "2026-07-06"},), False),
        ((CARRY | {"from": "2026-07-07"},), True),
        ((CARRY | {"categories": ["plastics"]},), True),
        ((CARRY | {"categories": ["plastics", "soiled"]},), False),
    ],
)
def test_a_carrier_needs_an_authorisation(
    rows: tuple[dict[str, object], ...], flagged: bool
) -> None:
    """For the category, from its first to its last day, both included."""
    found = on_the_road().every("party.not_authorised", rules(allowed("haulier", *rows)))
    assert [v.opened_at for v in found] == [T0 + HOUR] * flagged
    assert all("Haulier" in v.message and "carry soiled" in v.message for v in found)
    assert all(v.severity is Severity.UNSAFE for v in found)


def test_the_day_is_the_sites_own() -> None:
    """At 20:00 UTC it is already the next day in Kolkata."""
    site = allowed("haulier", CARRY | {"until": "2026-07-06"}) | {"time_zone": "Asia/Kolkata"}
    assert on_the_road().every("party.not_authorised", rules(site)) == []
    late = bag().sealed(T0).dispatched(at("2026-07-06 20:00"))
    assert late.every("party.not_authorised", rules(site))


def test_carrier_and_consignee_are_each_named() -> None:
    """One violation each; both end at receipt; the plant is not named again for treating."""
    story = on_the_road(carrier="nobody", consignee="nowhere").received(T0 + 2 * HOUR)
    story.treated(T0 + 3 * HOUR, party="nowhere")
    found = story.every("party.not_authorised", HOUSE)
    assert [v.message.split(" (")[0] for v in found] == ["nobody", "nowhere"]
    assert [v.closed_at for v in found] == [T0 + 2 * HOUR] * 2


def test_the_same_carrier_on_another_trip_is_named_again() -> None:
    """The first violation ended with the first trip."""
    story = on_the_road(carrier="nobody").refused(T0 + 2 * HOUR)
    story.dispatched(T0 + 3 * HOUR, carrier="nobody")
    found = story.every("party.not_authorised", HOUSE)
    assert [v.opened_at for v in found] == [T0 + HOUR, T0 + 3 * HOUR]


@pytest.mark.parametrize(
    ("party", "flagged"),
    [("plant", True), ("handlers", False), ("ward-3", False), ("nowhere", True)],
)
def test_who_treats_needs_an_authorisation(party: str, flagged: bool) -> None:
    """A plant does; the site's own handlers and units do not."""
    story = bag().sealed(T0).treated(T0 + HOUR, party=party)
    found = story.every("party.not_authorised", rules(allowed("plant")))
    assert [v.opened_at for v in found] == [T0 + HOUR] * flagged
    story.disposed(T0 + 2 * HOUR)
    assert all(
        v.closed_at == T0 + 2 * HOUR
        for v in story.every("party.not_authorised", rules(allowed("plant")))
    )
