"""Pits and needles from the record: what lies where, by whatever way it was told, and for whom."""

from datetime import timedelta
from typing import Any

import pytest

from service.access.caller import Caller, Scope
from service.custody.words import Role
from service.duties import needles, pits
from service.duties.balance import Days
from service.duties.record import Told, record_events
from tests.api.client import LABEL_KEY, NOON, event, ids, sealed
from tests.duties.desk import Desk

ONE, TWO, THREE, CART = ids(4, seed=313)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
TODAY = Days(NOON.date(), NOON.date())
KILN = "plant-kiln"


def dug(id_: str, outlet: str, **said: Any) -> dict[str, Any]:
    """A pit of the plant in the register."""
    shape = {"outlet": outlet, "depth_m": "2", "area_m2": "2", "kg_per_l": ["0.2", "0.25"]}
    return {"id": id_, "name": id_.title(), "party": KILN, "kind": "pit", "pit": shape | said}


@pytest.fixture
def yard(desk: Desk) -> Desk:
    """A facility with a burial pit and two sharps pits of the plant."""
    site = desk.store.rules(desk.facility).site
    machines = [
        *(m.model_dump(mode="json") for m in site.machine),
        dug("burial", "deep_burial", ground_water_m="9"),
        dug("sharps-a", "sharps_pit", ground_water_m="9"),
        dug("sharps-b", "sharps_pit"),
    ]
    again = type(site).model_validate(
        site.model_dump(mode="json", by_alias=True) | {"machine": machines}
    )
    desk.store.set_up(again, NOON - 99 * DAY, LABEL_KEY)
    return desk


def view(desk: Desk, scope: Scope | None = None) -> dict[str, pits.PitView]:
    """The pits at noon, by id."""
    caller = Caller(desk.facility, "reader", Role.OFFICER, scope or Scope())
    return {p.machine.id: p for p in pits.pits(desk.store, caller, NOON).pits}


def gone(*containers: str, outlet: str = "deep_burial", **said: Any) -> dict[str, Any]:
    """It ended in a pit of the plant."""
    return event("disposed", *containers, at=NOON - HOUR, outlet=outlet, party=KILN, **said)


def test_a_party_with_one_pit_of_a_kind_need_not_name_it(yard: Desk) -> None:
    """Two sharps pits: which one is told, or it is nobody's."""
    yard.tell(*(sealed(one, NOON - 3 * HOUR, weight_g=5_000) for one in (ONE, TWO, THREE)))
    yard.tell(
        gone(ONE),
        gone(TWO, outlet="sharps_pit", pit="sharps-b"),
        gone(THREE, outlet="sharps_pit"),
    )
    found = view(yard)
    held = {name: p.state.weight_g for name, p in found.items() if p.state}
    held.pop("kiln-sharps-pit")
    assert held == {"burial": 5_000, "sharps-a": 0, "sharps-b": 5_000}
    assert pits.pits(yard.store, yard.caller(), NOON).untold == 1
    assert found["burial"].state is not None
    assert tuple(found["burial"].state.filled_l) == (20, 25)


def test_a_cart_counts_as_what_it_held_and_corrections_hold(yard: Desk) -> None:
    """Told of the landfill, meant the pit; told of the pit, meant the landfill."""
    yard.tell(*(sealed(one, NOON - 3 * HOUR, weight_g=1_000) for one in (ONE, TWO, THREE)))
    wrong, right = gone(THREE, outlet="landfill"), gone(CART)
    yard.tell(event("packed", ONE, TWO, at=NOON - 2 * HOUR, parent=CART), right, wrong)

    def weight() -> int:
        state = view(yard)["burial"].state
        assert state is not None
        return state.weight_g

    assert weight() == 2_000
    yard.tell(
        event("amended", THREE, supersedes=wrong["id"], reason="slip",
              corrected=wrong | {"outlet": "deep_burial"})
    )  # fmt: skip
    assert weight() == 3_000
    yard.tell(
        event("amended", CART, supersedes=right["id"], reason="slip",
              corrected=right | {"outlet": "landfill"})
    )  # fmt: skip
    assert weight() == 1_000


def test_covers_are_measured_and_flagged_with_their_clause(yard: Desk) -> None:
    """90 cm below the surface of 2 m is past the half: full, under Schedule II."""
    yard.tell(sealed(ONE, NOON - 3 * HOUR, weight_g=5_000), gone(ONE))
    assert "no cover is on record" in view(yard)["burial"].flags[0][0]
    yard.tell(event("pit_covered", pit="burial", cover="soil", layer_cm=10, free_cm=90))
    [(said, clause)] = view(yard)["burial"].flags
    assert said.startswith("full: stop")
    assert "Schedule II" in clause
    assert [said for said, _ in view(yard)["sharps-b"].flags] == [
        "how deep the ground water stands is not told"
    ]


def test_a_pit_that_nobody_knows_is_sent_back(yard: Desk) -> None:
    """It can be put right at once: those there are stand beside it."""
    assert "burial, kiln-sharps-pit, sharps-a, sharps-b" in yard.refused(gone(ONE, pit="sharp-a"))
    assert "no pit" in yard.refused(event("pit_covered", pit="kiln-shredder", cover="lime"))


def test_a_party_sees_its_own_pits(yard: Desk) -> None:
    """Of others neither pits nor what is untold."""
    assert len(view(yard, Scope(parties=frozenset({KILN})))) == 4
    assert view(yard, Scope(parties=frozenset({"plant-tarn"}))) == {}


def counted(stage: str, number: int, unit: str | None = "icu", **said: Any) -> dict[str, Any]:
    """A count of needles."""
    of = {} if unit is None else {"unit": unit}
    usual = {"stage": stage, "needles": number, "source": f"{stage} book"}
    return event("needles_counted", at=NOON - HOUR, **(usual | of | said))


def lines(desk: Desk, scope: Scope | None = None) -> dict[str | None, needles.NeedlesLine]:
    """The balance of the day by unit."""
    caller = Caller(desk.facility, "reader", Role.OFFICER, scope or Scope())
    return {one.unit: one for one in needles.needles(desk.store, caller, TODAY).lines}


def test_needles_balance_by_unit_and_for_the_facility(desk: Desk) -> None:
    """Used 300 and cut 270 + 20, each of two counts off by 3 at most: 6, so 4 are unexplained.

    One cutter errs alike each time: its errors add (JCGM 100:2008, 5.2.2 note 1; from memory).
    """
    desk.tell(
        counted("used", 300),
        counted("cut", 270, plus_minus=3),
        counted("cut", 20, plus_minus=3),
        counted("used", 50, unit="theatres"),
        counted("ended", 290, unit=None, plus_minus=20),
    )
    found = lines(desk)
    icu = found["icu"].balance
    assert icu is not None
    assert (icu.missing_g, icu.uncertainty_g, icu.unexplained_g) == (10, 6, 4)
    assert found["theatres"].balance is None
    whole = found[None].balance
    assert whole is not None
    assert (whole.missing_g, whole.unexplained_g) == (0, 0)


def test_who_acts_for_a_part_tells_of_that_part_alone(yard: Desk) -> None:
    """Another plant covers no pit of the kiln's, and a ward does not say what ended."""
    cover = event("pit_covered", pit="burial", cover="soil")
    for parties, outcome in (
        (frozenset({KILN}), "recorded"),
        (frozenset({"plant-tarn"}), "refused"),
    ):
        caller = Caller(yard.facility, f"of {parties}", Role.PLANT, Scope(parties=parties))
        again = cover | {"id": event("pit_covered")["id"]}
        [found] = record_events(yard.store, caller, [again], Told(NOON))
        assert found.outcome == outcome
    ward = Caller(yard.facility, "icu-phone", Role.WARD, Scope(units=frozenset({"icu"})))
    told = [counted("cut", 3), counted("cut", 3, unit="theatres"), counted("ended", 3, unit=None)]
    found_of = record_events(yard.store, ward, told, Told(NOON))
    assert [one.outcome for one in found_of] == ["recorded", "refused", "refused"]


def test_a_ward_counts_and_sees_its_own_needles(desk: Desk) -> None:
    """Of another unit it neither tells nor reads; the facility's line is for who acts for all."""
    desk.tell(counted("used", 3), counted("cut", 3), role=Role.WARD)
    theatres = Scope(units=frozenset({"theatres"}))
    assert lines(desk, theatres) == {}
    assert set(lines(desk, Scope(units=frozenset({"icu"})))) == {"icu"}
    assert "no unit" in desk.refused(counted("cut", 3, unit="nowhere"))
    assert desk.refused(counted("cut", 3, unit=None))
    assert desk.refused(counted("ended", 3))


def test_a_count_is_corrected_or_struck_out(desk: Desk) -> None:
    """Both stand in the record; what holds is reckoned."""
    slip, twice = counted("used", 300), counted("cut", 30)
    desk.tell(slip, counted("cut", 30), twice)
    desk.tell(
        event("amended", supersedes=slip["id"], reason="slip", corrected=slip | {"needles": 30}),
        event("amended", supersedes=twice["id"], reason="told twice"),
    )
    balance = lines(desk)["icu"].balance
    assert balance is not None
    assert balance.missing_g == 0
