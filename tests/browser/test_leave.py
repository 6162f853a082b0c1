"""Sending away: a list, a carrier, a seal, a number, and a note to go with it."""

from pathlib import Path
from typing import Any
from uuid import uuid4
from zlib import crc32

import pytest
from playwright.sync_api import Page, expect

from service.access.caller import Caller
from service.custody.identifiers import grouped
from service.custody.words import Role
from service.duties import lookup
from service.duties.handler import consignment_number
from tests.api.client import scanned
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served
from tests.browser.yard import Yard, faultless, picture, scan

SCREENS = pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])


@pytest.fixture
def yard(house: Served, request: pytest.FixtureRequest) -> Yard:
    """Waste of this test's own."""
    return Yard(house, seed=crc32(request.node.name.encode()))


def close(page: Page, carrier: str = "carrier-quillow", seal: str = "K-1002") -> str:
    """Fill in with whom and where to, close, and give the number."""
    page.get_by_label("Carrier").select_option(carrier)
    page.get_by_label("Consignee").select_option("plant-kiln")
    page.get_by_label("Vehicle").fill("LP 07")
    page.get_by_role("textbox", name="Seal").fill(seal)
    page.get_by_role("radio", name="is closed", exact=True).check()
    page.get_by_role("button", name="Close the consignment").click()
    expect(page.locator("#number")).not_to_be_empty()
    return page.locator("#number").inner_text()


def carried(house: Served, number: str) -> lookup.Consignment:
    """Look a consignment up."""
    return lookup.consignment(house.store, Caller(house.facility, "t", Role.OFFICER), number)


def test_what_is_scanned_leaves_under_one_number(
    signed_in: Visit, yard: Yard, house: Served
) -> None:
    """With carrier, consignee, vehicle and seal as they were filled in."""
    bags = [yard.stored("ambient-store", weight_g=1200), yard.stored("ambient-store")]
    page = signed_in(Role.HANDLER, "/leave")
    for number, bag in enumerate(bags, 1):
        scan(page, scanned(bag))
        expect(page.locator("#count")).to_have_text(str(number))
    expect(page.locator("#kg")).to_have_text("4.600 kg")
    gone = carried(house, close(page)).cargo
    assert {row.container for row in gone} == set(bags)
    assert {(r.carrier, r.consignee, r.vehicle, r.seal) for r in gone} == {
        ("carrier-quillow", "plant-kiln", "LP 07", "K-1002")
    }


def test_all_that_stands_in_a_store_is_listed_and_what_is_unticked_stays(
    signed_in: Visit, yard: Yard, house: Served
) -> None:
    """The soonest due first; a scan ticks its line again."""
    first = yard.stored("chilled-store", hours=40)
    second = yard.stored("chilled-store", hours=3)
    third = yard.stored("chilled-store", hours=2)
    page = signed_in(Role.HANDLER, "/leave")
    page.get_by_label("All that stands in a store").select_option("chilled-store")
    page.get_by_role("button", name="List it").click()
    lines = page.locator("#cargo input")
    expect(lines.first).to_have_value(first)
    for one in lines.all():
        one.uncheck()
    page.locator(f"#cargo input[value='{second}']").check()
    scan(page, scanned(third))
    expect(page.locator("#count")).to_have_text("2")
    number = close(page)
    assert {row.container for row in carried(house, number).cargo} == {second, third}
    assert yard.view(first).standing.place == "chilled-store"
    assert yard.view(first).standing.state == "stored"


def test_what_is_wrong_with_a_consignment_is_told_when_it_is_closed(
    signed_in: Visit, yard: Yard
) -> None:
    """A carrier whose authorisation has lapsed: once for all of a category, with what to do."""
    bags = [yard.stored("ambient-store"), yard.stored("ambient-store")]
    page = signed_in(Role.HANDLER, "/leave")
    for number, bag in enumerate(bags, 1):
        scan(page, scanned(bag))
        expect(page.locator("#count")).to_have_text(str(number))
    close(page, carrier="carrier-tressel", seal="")
    found = page.locator("#found li")
    told = found.filter(has_text="no valid authorisation to carry yellow-c")
    expect(told).to_have_count(1)
    expect(told).to_contain_text("(2)")
    expect(told.locator(".state")).to_have_text("unsafe")
    expect(told).to_contain_text("Stop handing over to this party")
    expect(found.filter(has_text="left without a seal")).to_contain_text("seal the next")


def test_nothing_is_sent_when_nothing_is_listed(signed_in: Visit) -> None:
    """It says so, beside the button."""
    page = signed_in(Role.HANDLER, "/leave")
    page.get_by_label("Carrier").select_option("carrier-quillow")
    page.get_by_label("Consignee").select_option("plant-kiln")
    page.get_by_role("radio", name="is closed", exact=True).check()
    page.get_by_role("button", name="Close the consignment").click()
    expect(page.locator("#order .told")).to_contain_text("Nothing is in the list")


def test_a_stranger_is_not_put_in_the_list_unseen(signed_in: Visit, yard: Yard) -> None:
    """What nobody registered is left out unless somebody says otherwise."""
    page = signed_in(Role.HANDLER, "/leave")
    scan(page, scanned(yard.fresh()))
    expect(page.locator("#stop")).to_contain_text("It is not on record")
    page.get_by_role("button", name="Leave it here").click()
    expect(page.locator("#count")).to_have_text("0")


@SCREENS
def test_the_note_says_what_a_driver_needs(
    signed_in: Visit, yard: Yard, screen: dict[str, int], pictures: Path | None
) -> None:
    """What, how many, how heavy, which seal, whom to call, cautions; and what it is not."""
    bag = yard.stored("ambient-store", weight_g=1234)
    page = signed_in(Role.HANDLER, "/leave", screen)
    scan(page, scanned(bag))
    expect(page.locator("#count")).to_have_text("1")
    number = close(page)
    faultless(page)
    page.get_by_role("link", name="The note, to be printed").click()
    note = page.locator(".note")
    for said in (
        number, "Quillow Carriage", "Kiln Moor", "LP 07", "K-1002", "C · Soiled waste", "1.234 kg",
        grouped(bag), "p-handler", "000-0000-199", "It replaces no transport document.",
    ):  # fmt: skip
        expect(note).to_contain_text(said)
    faultless(page)
    picture(page, pictures, "note")
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Print")).to_be_hidden()
    expect(page.get_by_role("navigation")).to_be_hidden()


def test_the_number_made_without_a_network_is_that_of_the_service(signed_in: Visit) -> None:
    """Else a consignment that was kept and one that was sent would bear two numbers."""
    page = signed_in(Role.HANDLER, "/leave")
    module = page.locator("script[src$='leave.js']").get_attribute("src")
    for event in [uuid4() for _ in range(50)]:
        made = page.evaluate(
            "async ([from, id]) => (await import(from)).consignmentNumber(id)", [module, str(event)]
        )
        assert made == consignment_number(event)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@SCREENS
def test_the_page_can_be_used_by_all(
    signed_in: Visit, yard: Yard, screen: dict[str, int], scheme: Any, pictures: Path | None
) -> None:
    """axe-core (WCAG 2.2 A and AA) finds nothing, empty and with a list."""
    yard.stored("ambient-store", hours=60)
    page = signed_in(Role.HANDLER, "/leave", screen, color_scheme=scheme)
    faultless(page)
    page.goto("/leave?store=ambient-store")
    faultless(page)
    picture(page, pictures, f"leave-{scheme}")
