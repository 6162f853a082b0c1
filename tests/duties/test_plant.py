"""A plant's duties: what is on its way, and what would be flagged, before it is recorded."""

from datetime import timedelta
from uuid import uuid4

import pytest

from service.access.caller import Caller, Scope
from service.custody.acts import Step
from service.custody.events import Event, Received, Treated
from service.custody.words import Role
from service.duties import lookup, plant
from service.duties.finding import Coded
from service.duties.lookup import NotFoundError
from tests.api.client import NOON, event, ids, sealed
from tests.duties.desk import Desk

[BAG, OTHER] = ids(2, seed=74_000)
KILN = Scope(parties=frozenset({"plant-kiln"}))
HOUR = timedelta(hours=1)


def on_the_road(desk: Desk, *containers: str, to: str = "plant-kiln") -> None:
    """Containers of contaminated plastic on their way."""
    desk.tell(*(sealed(one, NOON - 3 * HOUR, category="red") for one in containers))
    desk.tell(event("dispatched", *containers, at=NOON - HOUR, consignment=f"C-{to}",
                    carrier="carrier-quillow", consignee=to, seal="S-1"))  # fmt: skip


def receipt(**said: object) -> Event:
    """A receipt at the kiln."""
    usual = {"id": uuid4(), "containers": (BAG,), "occurred_at": NOON, "actor": "p-1",
             "party": "plant-kiln", "seal": "S-1"}  # fmt: skip
    return Received.model_validate(usual | said)


def flagged(desk: Desk, made: Event, code: Coded | None = None) -> set[str]:
    """The codes that an event would show."""
    seen = plant.foresee(desk.store, desk.caller(), code or Coded(BAG, None), made, NOON)
    return {v.code.value for v in seen.violations}


def test_a_plant_sees_what_is_on_its_way_to_it(desk: Desk) -> None:
    """And nothing that goes to another, or has arrived."""
    on_the_road(desk, BAG)
    on_the_road(desk, OTHER, to="plant-tarn")
    kiln = Caller(desk.facility, "k", Role.PLANT, KILN)
    assert [u.consignment.id for u in plant.under_way(desk.store, kiln)] == ["C-plant-kiln"]
    assert len(plant.under_way(desk.store, desk.caller())) == 2
    desk.tell(event("received", BAG, party="plant-kiln", seal="S-1"))
    assert plant.under_way(desk.store, kiln) == []


def test_a_scanned_container_tells_its_consignment(desk: Desk) -> None:
    """One that left in none is said so."""
    on_the_road(desk, BAG)
    desk.tell(sealed(OTHER))
    assert plant.travels_in(desk.store, desk.caller(), BAG, NOON) == "C-plant-kiln"
    with pytest.raises(NotFoundError, match="left in no consignment"):
        plant.travels_in(desk.store, desk.caller(), OTHER, NOON)


def test_what_a_receipt_would_be_flagged_for_is_known_before(desk: Desk) -> None:
    """Another seal, a broken one, a weight beyond both scales' error; and nothing is recorded."""
    on_the_road(desk, BAG)
    assert flagged(desk, receipt()) == set()
    assert flagged(desk, receipt(seal="S-2")) == {"transport.seal_changed"}
    assert flagged(desk, receipt(seal_intact=False)) == {"transport.seal_changed"}
    assert flagged(desk, receipt(weight_g=2400, scale="kiln-scale")) == {"weight.mismatch"}
    assert flagged(desk, receipt(weight_g=3390, scale="kiln-scale")) == set()
    assert flagged(desk, receipt(), Coded(BAG, False)) == {"label.not_genuine"}
    view = lookup.container(desk.store, desk.caller(), BAG, NOON)
    assert view.standing.state == "dispatched"


def test_what_is_foreseen_is_what_is_flagged(desk: Desk) -> None:
    """The same event, once recorded, shows the same."""
    on_the_road(desk, BAG)
    desk.tell(event("received", BAG, at=NOON - HOUR / 2, party="plant-kiln", seal="S-1"))
    made = Treated(id=uuid4(), containers=(BAG,), occurred_at=NOON, actor="p-1",
                   step=Step.SHRED, party="plant-kiln", cycle="A-1")  # fmt: skip
    before = flagged(desk, made)
    assert before == {"route.out_of_order"}
    desk.tell(made.model_dump(mode="json", exclude_defaults=True) | {"kind": "treated"})
    found = lookup.container(desk.store, desk.caller(), BAG, NOON).violations
    assert {v.code.value for v in found if made.id in v.evidence} == before


def test_what_is_on_no_record_would_be_flagged(desk: Desk) -> None:
    """Nobody registered it."""
    seen = plant.foresee(desk.store, desk.caller(), Coded(BAG, None), receipt(), NOON)
    assert not seen.known
    assert seen.violations


def test_a_party_acts_for_itself_and_no_carrier_treats(desk: Desk) -> None:
    """Who acts for the whole facility chooses; a plant's own people have no choice."""
    rules = lookup.rules(desk.store, desk.caller())
    kiln = Caller(desk.facility, "k", Role.PLANT, KILN)
    assert [p.id for p in plant.acting(rules, kiln)] == ["plant-kiln"]
    assert "carrier-quillow" not in {p.id for p in plant.acting(rules, desk.caller())}
