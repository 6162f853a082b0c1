"""A handler's run: point, hear, next; and what stops it."""

from pathlib import Path
from typing import Any
from zlib import crc32

import pytest
from playwright.sync_api import Page, expect

from service.custody.identifiers import grouped
from service.custody.words import Role
from service.duties.lookup import NotFoundError
from tests.api.client import scanned
from tests.browser.cellar import learnt
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served
from tests.browser.yard import Yard, faultless, picture, scan

SCREENS = pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])


@pytest.fixture
def yard(house: Served, request: pytest.FixtureRequest) -> Yard:
    """Waste of this test's own."""
    return Yard(house, seed=crc32(request.node.name.encode()))


def begin(page: Page, way: str, **chosen: str) -> None:
    """Choose what the run does, and begin."""
    page.get_by_role("radio", name=way).check()
    for label, value in chosen.items():
        page.locator(f"[name={label}]:enabled").first.wait_for()
        page.locator(f"[name={label}]").select_option(value)
    if way == "Pick up":
        page.get_by_role("radio", name="I wear them").check()
    page.get_by_role("button", name="Begin").click()


def picking_up(signed_in: Visit, screen: dict[str, int] = PHONE, unit: str = "icu") -> Page:
    """Be on a run that picks up at a unit."""
    page = signed_in(Role.HANDLER, "/run", screen)
    begin(page, "Pick up", from_party=unit, to_party="handlers")
    return page


def counted(page: Page, containers: int) -> None:
    """Wait until so many are counted."""
    expect(page.locator("#count")).to_have_text(str(containers))


def signalled(page: Page, what: str) -> None:
    """Wait until that was the last signal."""
    expect(page.locator(f"body[data-signal={what}]")).to_have_count(1)


@SCREENS
def test_what_is_picked_up_is_recorded_scan_by_scan(
    signed_in: Visit, yard: Yard, screen: dict[str, int]
) -> None:
    """With from whom, to whom, and the gear that was confirmed once; count and kilograms run."""
    bags = [yard.bag(weight_g=1200), yard.bag(weight_g=2345)]
    page = picking_up(signed_in, screen)
    for number, bag in enumerate(bags, 1):
        scan(page, scanned(bag))
        counted(page, number)
        signalled(page, "good")
    expect(page.locator("#kg")).to_have_text("3.545 kg")
    for bag in bags:
        [told] = yard.happened(bag, "collected")
        assert (told.from_party, told.to_party) == ("icu", "handlers")
        assert told.protective_gear is True
        assert told.actor == "p-handler"
    page.get_by_role("button", name="End the run").click()
    expect(page.locator("#ended-kg")).to_have_text("3.545 kg")


def test_who_lacks_gear_says_so_and_it_is_recorded_so(signed_in: Visit, yard: Yard) -> None:
    """The record is of what was, not of what should be."""
    bag = yard.bag()
    page = signed_in(Role.HANDLER, "/run")
    page.get_by_role("radio", name="Pick up").check()
    page.get_by_role("radio", name="I lack something").check()
    page.locator("[name=from_party]").select_option("icu")
    page.get_by_role("button", name="Begin").click()
    scan(page, scanned(bag))
    counted(page, 1)
    assert yard.happened(bag, "collected")[0].protective_gear is False


def test_the_unit_where_a_limit_ends_first_is_named_first(signed_in: Visit, yard: Yard) -> None:
    """Where to go first is told before the run begins."""
    yard.bag(hours=47, unit="dialysis")
    page = signed_in(Role.HANDLER, "/run")
    page.get_by_role("radio", name="Pick up").check()
    first = page.locator("[name=from_party] option").first
    expect(first).to_contain_text("Dialysis · 1 waits · first limit")


def test_what_is_typed_is_read_with_its_slips(signed_in: Visit, yard: Yard) -> None:
    """Small letters and blanks do; a wrong group is told before anything is recorded."""
    bag = yard.bag()
    page = picking_up(signed_in)
    wrong = f"{bag[:-1]}{'2' if bag[-1] != '2' else '3'}"
    page.get_by_label("Or type what stands under the symbol").fill(wrong)
    page.get_by_role("button", name="Enter").click()
    expect(page.locator("#stop")).to_contain_text("one of the three groups was misread")
    page.get_by_role("button", name="Seen. Go on").click()
    assert yard.happened(bag, "collected") == []
    page.get_by_label("Or type what stands under the symbol").fill(grouped(bag).lower())
    page.get_by_label("Or type what stands under the symbol").press("Enter")
    counted(page, 1)
    assert len(yard.happened(bag, "collected")) == 1


def test_a_label_scanned_twice_counts_once(signed_in: Visit, yard: Yard) -> None:
    """With a sound of its own, and without a stop."""
    bag = yard.bag()
    page = picking_up(signed_in)
    scan(page, scanned(bag))
    counted(page, 1)
    scan(page, bag)
    signalled(page, "again")
    expect(page.locator("#heard")).to_contain_text("is counted already")
    counted(page, 1)
    assert len(yard.happened(bag, "collected")) == 1


def test_a_foreign_container_stops_the_run_and_may_be_left(signed_in: Visit, yard: Yard) -> None:
    """It is told whose it is; left, nothing is recorded of it."""
    foreign, ours = yard.bag(unit="theatres"), yard.bag()
    page = picking_up(signed_in)
    scan(page, scanned(foreign))
    stop = page.locator("#stop")
    expect(stop).to_contain_text("It is of Operating theatres, and this run picks up at Intensive")
    signalled(page, "stop")
    scan(page, scanned(ours))
    expect(stop).to_be_visible()
    page.keyboard.press("Escape")
    expect(stop).to_be_visible()
    page.get_by_role("button", name="Leave it here").click()
    expect(page.locator("#heard")).to_contain_text("was left")
    counted(page, 0)
    assert yard.happened(foreign, "collected") == []
    assert yard.happened(ours, "collected") == []


def test_a_foreign_container_that_is_taken_is_flagged_and_told_once(
    signed_in: Visit, yard: Yard
) -> None:
    """What was seen before the act does not stop the run again after it."""
    foreign = yard.bag(unit="theatres")
    page = picking_up(signed_in)
    scan(page, scanned(foreign))
    page.get_by_role("button", name="Take it all the same").click()
    counted(page, 1)
    signalled(page, "good")
    expect(page.locator("#stop")).to_be_hidden()
    assert "custody.gap" in {v.code for v in yard.view(foreign).violations}


def test_an_open_bag_stops_the_run_before_it_is_lifted(signed_in: Visit, yard: Yard) -> None:
    """By its severity in a word, what is wrong, and what to do next."""
    bag = yard.bag(closed=False)
    page = picking_up(signed_in)
    scan(page, scanned(bag))
    stop = page.locator("#stop")
    expect(stop.locator(".state")).to_have_text(["unsafe"])
    expect(stop).to_contain_text("not closed when it was registered")
    expect(stop).to_contain_text("Close it before anybody moves it.")


def test_a_late_container_stops_the_run(signed_in: Visit, yard: Yard) -> None:
    """Its limit of 48 h (BMWM Rules 2016, rule 8(7)) ended; the authority is to be told."""
    bag = yard.bag(hours=60)
    page = picking_up(signed_in)
    scan(page, scanned(bag))
    expect(page.locator("#stop .state")).to_have_text(["late"])
    expect(page.locator("#stop")).to_contain_text("Have it treated at once")


def test_what_nobody_registered_stops_the_run(signed_in: Visit, yard: Yard) -> None:
    """And goes on record only if it is taken all the same."""
    stranger = yard.fresh()
    page = picking_up(signed_in)
    scan(page, scanned(stranger))
    expect(page.locator("#stop")).to_contain_text("Nobody has registered it")
    page.get_by_role("button", name="Leave it here").click()
    with pytest.raises(NotFoundError):
        yard.view(stranger)


def test_a_warm_cold_store_stops_the_run_after_the_act(signed_in: Visit, yard: Yard) -> None:
    """It is recorded as it was, and stays on the screen until it is seen."""
    bag = yard.stored("ambient-store")
    page = signed_in(Role.HANDLER, "/run")
    page.get_by_role("radio", name="Put in a store").check()
    page.locator("[name=store]").select_option("chilled-store")
    page.locator("[name=temperature_c]").fill("19.5")
    page.get_by_role("button", name="Begin").click()
    scan(page, scanned(bag))
    expect(page.locator("#stop")).to_contain_text("19.5 °C")
    expect(page.get_by_role("button", name="Leave it here")).to_be_hidden()
    page.keyboard.press("Enter")
    expect(page.locator("#stop")).to_be_hidden()
    counted(page, 1)
    assert yard.view(bag).standing.place == "chilled-store"


def test_bags_are_packed_into_the_cart_that_was_scanned_first(signed_in: Visit, yard: Yard) -> None:
    """And into another one when it is full."""
    carts, bags = [yard.fresh(), yard.fresh()], [yard.bag(), yard.bag()]
    page = signed_in(Role.HANDLER, "/run")
    begin(page, "Pack into a transport container")
    expect(page.locator("#ask")).to_have_text("First the label of the transport container")
    for number, (cart, bag) in enumerate(zip(carts, bags, strict=True), 1):
        scan(page, scanned(cart))
        expect(page.locator("#parent-id")).to_have_text(grouped(cart))
        scan(page, scanned(bag))
        counted(page, number)
        assert yard.view(bag).standing.parent == cart
        page.get_by_role("button", name="Another one").click()


def test_an_outer_bag_has_its_weight_and_may_have_its_own_label(
    signed_in: Visit, yard: Yard
) -> None:
    """The bag first, then the one around it."""
    bag, outer = yard.bag(), yard.fresh()
    page = signed_in(Role.HANDLER, "/run")
    page.get_by_role("radio", name="Put in an outer bag").check()
    page.locator("[name=tare_g]").fill("85")
    page.get_by_role("checkbox", name="The outer bag has a label of its own").check()
    page.get_by_role("button", name="Begin").click()
    scan(page, scanned(bag))
    expect(page.locator("#ask")).to_have_text("Now the label of the outer bag")
    counted(page, 0)
    scan(page, scanned(outer))
    counted(page, 1)
    [told] = yard.happened(bag, "double_bagged")
    assert (told.outer, told.tare_g) == (outer, 85)


def test_the_last_scan_can_be_taken_back(signed_in: Visit, yard: Yard) -> None:
    """By an amending entry that says why; both stay on record."""
    bag = yard.bag()
    page = picking_up(signed_in)
    scan(page, scanned(bag))
    counted(page, 1)
    page.get_by_role("button", name="Take back the last").click()
    counted(page, 0)
    assert yard.happened(bag, "collected") == []
    [amendment] = yard.view(bag).history.amendments
    assert amendment.event.reason == "scanned by mistake"  # type: ignore[union-attr]


def test_a_run_outlives_a_restart_of_the_telephone(signed_in: Visit, yard: Yard) -> None:
    """Plan and tally are there again, and the next scan goes on."""
    bags = [yard.bag(), yard.bag()]
    page = picking_up(signed_in)
    scan(page, scanned(bags[0]))
    counted(page, 1)
    page.reload()
    counted(page, 1)
    scan(page, scanned(bags[1]))
    counted(page, 2)
    assert len(yard.happened(bags[1], "collected")) == 1


def test_a_scan_writes_into_no_field(signed_in: Visit) -> None:
    """Wherever the cursor stands, a field keeps what stood in it."""
    page = signed_in(Role.HANDLER, "/run")
    page.get_by_role("radio", name="Pick up").check()
    unit = page.locator("[name=from_party]")
    unit.select_option("theatres")
    unit.focus()
    scan(page, scanned("M9S346Q3D250"))
    expect(unit).to_have_value("theatres")
    page.get_by_role("radio", name="Put in an outer bag").check()
    tare = page.locator("[name=tare_g]")
    tare.fill("85")
    tare.press("Enter")
    expect(page.locator("#round")).to_be_visible()


def test_a_run_goes_on_in_the_cellar(signed_in: Visit, yard: Yard) -> None:
    """Weights were learnt at its beginning; what waits is marked, then sent once, at its time."""
    bags = [yard.bag(weight_g=1100), yard.bag(weight_g=2200)]
    page = picking_up(signed_in)
    learnt(page, bags[1])
    page.evaluate(
        "() => { globalThis.real = fetch; globalThis.fetch = () => Promise.reject(TypeError()) }"
    )
    for number, bag in enumerate(bags, 1):
        scan(page, scanned(bag))
        counted(page, number)
    expect(page.locator("#kg")).to_have_text("3.300 kg")
    expect(page.locator("#list .state", has_text="not yet sent")).to_have_count(2)
    assert yard.happened(bags[0], "collected") == []
    page.evaluate(
        "() => { globalThis.fetch = globalThis.real; dispatchEvent(new Event('online')) }"
    )
    expect(page.locator("#list .state", has_text="not yet sent")).to_have_count(0)
    assert [len(yard.happened(bag, "collected")) for bag in bags] == [1, 1]


def test_nobody_waits_for_a_network_that_hangs(signed_in: Visit, yard: Yard) -> None:
    """The scan is kept and counted; the next one can be scanned."""
    bag = yard.bag()
    page = picking_up(signed_in)
    page.route("**/v1/events", lambda _: None)
    scan(page, scanned(bag))
    counted(page, 1)
    signalled(page, "good")
    expect(page.locator("#list .state")).to_have_text(["not yet sent"])
    page.reload()
    expect(page.locator("#unsent")).to_contain_text("1 ")


CAMERA = """
globalThis.BarcodeDetector = class {
  static async getSupportedFormats() { return ["qr_code"]; }
  async detect() { return [{ rawValue: globalThis.inSight }]; }
};
navigator.mediaDevices.getUserMedia = async () => {
  const canvas = document.createElement("canvas");
  canvas.getContext("2d").fillRect(0, 0, 9, 9);
  const stream = canvas.captureStream(25);
  globalThis.paint = setInterval(() => canvas.getContext("2d").fillRect(0, 0, 9, 9), 40);
  return stream;
};
"""


def test_the_camera_reads_a_label_once_while_it_is_in_sight(signed_in: Visit, yard: Yard) -> None:
    """By the browser's own reader, where it has one (here one that sees what the test shows)."""
    bags = [yard.bag(), yard.bag()]
    page = signed_in(Role.HANDLER, "/me")
    page.add_init_script(CAMERA)
    page.goto("/run")
    begin(page, "Pick up", from_party="icu", to_party="handlers")
    page.evaluate("code => { globalThis.inSight = code }", scanned(bags[0]))
    page.get_by_role("button", name="Camera").click()
    counted(page, 1)
    page.evaluate("code => { globalThis.inSight = code }", scanned(bags[1]))
    counted(page, 2)
    assert [len(yard.happened(bag, "collected")) for bag in bags] == [1, 1]
    page.get_by_role("button", name="Camera").click()
    expect(page.locator("#view")).to_be_hidden()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@SCREENS
def test_every_state_of_a_run_can_be_used_by_all(
    signed_in: Visit, yard: Yard, screen: dict[str, int], scheme: Any, pictures: Path | None
) -> None:
    """axe-core (WCAG 2.2 A and AA) finds nothing, before, during, stopped and after."""
    bag, late = yard.bag(), yard.bag(hours=60, unit="theatres", closed=False)
    page = signed_in(Role.HANDLER, "/run", screen, color_scheme=scheme)
    for way in ("Put in a store", "Put in an outer bag", "Pick up"):
        page.get_by_role("radio", name=way).check()
        faultless(page)
        picture(page, pictures, f"run-plan-{way[:3]}-{scheme}")
    begin(page, "Pick up", from_party="icu", to_party="handlers")
    scan(page, scanned(bag))
    counted(page, 1)
    faultless(page)
    picture(page, pictures, f"run-{scheme}")
    scan(page, scanned(late))
    expect(page.locator("#stop")).to_be_visible()
    faultless(page)
    picture(page, pictures, f"run-stop-{scheme}")
    page.get_by_role("button", name="Leave it here").click()
    page.get_by_role("button", name="End the run").click()
    faultless(page)
