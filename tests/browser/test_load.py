"""A machine is loaded: what may go in is on the load, what may not is held back with the reason."""

from collections.abc import Iterator
from datetime import timedelta
from itertools import count
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from service.custody.events import Treated
from service.custody.identifiers import grouped
from service.custody.words import Role
from tests.api.client import event, ids, scanned, sealed
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import PASSWORD, Served
from tests.browser.plants import NOW, OnRecord, fault_free, photograph, ready, scan

_seeds = count(72_000)


class AtPlant(OnRecord):
    """Contaminated plastic and a cytotoxic bag, both received at the kiln."""

    def __init__(self, house: Served) -> None:
        super().__init__(house)
        self.red, self.cytotoxic, self.elsewhere = ids(3, next(_seeds))
        here = (self.red, self.cytotoxic)
        self.tell(
            sealed(self.red, NOW - timedelta(hours=5), category="red"),
            sealed(self.cytotoxic, NOW - timedelta(hours=5), category="yellow-d1",
                   unit="oncology-day"),
            sealed(self.elsewhere, NOW - timedelta(hours=5), category="red"),
        )  # fmt: skip
        self.tell(
            event("dispatched", *here, at=NOW - timedelta(hours=3), consignment=f"L-{self.red[:6]}",
                  carrier="carrier-quillow", consignee="plant-kiln", seal="S-1"),
            event("received", *here, at=NOW - timedelta(hours=2), party="plant-kiln", seal="S-1"),
        )  # fmt: skip


@pytest.fixture
def here(house: Served) -> AtPlant:
    """What stands at the kiln."""
    return AtPlant(house)


def begin(page: Page, step: str, cycle: str = "A-1") -> None:
    """Say which cycle it is."""
    page.get_by_label("Where").select_option(label="Kiln Moor Common Treatment Facility (invented)")
    page.get_by_label("Step").select_option(label=step)
    page.get_by_label("Number of the cycle").fill(cycle)


def on(page: Page, container: str) -> Locator:
    """The row of a container on the load."""
    return page.locator(f"#on [data-container='{container}']")


def held(page: Page, container: str) -> Locator:
    """The row of a container that was held back."""
    return page.locator(f"#held [data-container='{container}']")


@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
def test_what_may_not_go_in_is_held_back_with_the_reason(
    signed_in: Visit, here: AtPlant, screen: dict[str, int], pictures: Path | None
) -> None:
    """Plastic goes into the autoclave; a cytotoxic bag does not, and it is said where it may go."""
    page = ready(signed_in(Role.PLANT, "/load", screen))
    begin(page, "autoclave")
    scan(page, scanned(here.red))
    scan(page, here.cytotoxic)

    expect(on(page, here.red)).to_be_visible()
    expect(page.locator("#count")).to_have_text("1")
    expect(held(page, here.cytotoxic)).to_contain_text("unsafe")
    expect(held(page, here.cytotoxic)).to_contain_text("autoclave is denied")
    expect(held(page, here.cytotoxic)).to_contain_text("It may go to:")
    expect(held(page, here.cytotoxic)).to_contain_text("incinerate 1200")
    fault_free(page)
    photograph(page, pictures, f"load-{screen['width']}")


def test_a_cycle_is_recorded_with_what_was_on_the_load(signed_in: Visit, here: AtPlant) -> None:
    """And with nothing that was held back."""
    page = ready(signed_in(Role.PLANT, "/load"))
    begin(page, "autoclave", "A-77")
    scan(page, here.red)
    scan(page, here.cytotoxic)
    expect(held(page, here.cytotoxic)).to_be_visible()
    page.get_by_role("button", name="record it").click()

    expect(page.locator("#outcome")).to_contain_text("Recorded: 1")
    last = here.container(here.red).history.happened[-1].event
    assert isinstance(last, Treated)
    assert (last.step, last.party, last.cycle) == ("autoclave", "plant-kiln", "A-77")
    assert here.container(here.cytotoxic).standing.state == "received"
    expect(page.get_by_label("Number of the cycle")).to_have_value("")


def test_who_insists_records_it_all_the_same_and_is_told_what_is_flagged(
    signed_in: Visit, here: AtPlant
) -> None:
    """The record takes the truth: a second press, then it is recorded, and flagged."""
    page = ready(signed_in(Role.PLANT, "/load"))
    begin(page, "autoclave")
    scan(page, here.cytotoxic)
    held(page, here.cytotoxic).get_by_role("button", name="all the same").click()
    expect(on(page, here.cytotoxic)).to_be_visible()
    page.get_by_role("button", name="record it").click()

    expect(page.locator("#outcome")).to_contain_text("autoclave is denied")
    codes = {v.code for v in here.container(here.cytotoxic).violations}
    assert "route.forbidden" in codes


def test_a_shredder_before_disinfection_is_out_of_order(signed_in: Visit, here: AtPlant) -> None:
    """Held back for plastic not yet disinfected; looked at anew when the step is changed."""
    page = ready(signed_in(Role.PLANT, "/load"))
    begin(page, "shred")
    scan(page, here.red)
    expect(held(page, here.red)).to_contain_text("must stand ahead of it")
    page.get_by_label("Step").select_option(label="autoclave")
    expect(on(page, here.red)).to_be_visible()
    expect(page.locator("#held-part")).to_be_hidden()


def test_what_another_holds_is_held_back(signed_in: Visit, here: AtPlant) -> None:
    """Nobody handed it over: the chain of custody would be broken."""
    page = ready(signed_in(Role.PLANT, "/load"))
    begin(page, "autoclave")
    scan(page, here.elsewhere)
    expect(held(page, here.elsewhere)).to_contain_text("no hand-over")


def test_what_is_on_no_record_is_held_back(signed_in: Visit) -> None:
    """A label that nobody printed says nothing of what is inside."""
    [unknown] = ids(1, next(_seeds))
    page = ready(signed_in(Role.PLANT, "/load"))
    begin(page, "autoclave")
    scan(page, unknown)
    expect(held(page, unknown)).to_contain_text("Nothing is on record")


def test_a_code_counts_once_and_only_for_a_step(signed_in: Visit, here: AtPlant) -> None:
    """Without a step nothing can be said; a second scan of the same changes nothing."""
    page = ready(signed_in(Role.PLANT, "/load"))
    scan(page, here.red)
    expect(page.locator("#heard")).to_contain_text("Choose the step first")
    begin(page, "autoclave")
    scan(page, here.red)
    expect(on(page, here.red)).to_have_count(1)
    scan(page, here.red)
    expect(page.locator("#heard")).to_contain_text(f"{grouped(here.red)} is looked at already")
    expect(page.locator("#on > li")).to_have_count(1)


def test_a_cycle_without_a_number_is_not_recorded(signed_in: Visit, here: AtPlant) -> None:
    """It is asked for; and so is something on the load."""
    page = ready(signed_in(Role.PLANT, "/load"))
    begin(page, "autoclave", "")
    page.get_by_role("button", name="record it").click()
    expect(page.locator("#fault")).to_have_text("Nothing is on the load.")
    scan(page, here.red)
    expect(on(page, here.red)).to_be_visible()
    page.get_by_role("button", name="record it").click()
    expect(page.locator("#fault")).to_contain_text("number of the cycle")
    assert here.container(here.red).standing.state == "received"


@pytest.fixture
def at_the_kiln(chromium: Browser, house: Served) -> Iterator[Page]:
    """Somebody of the plant, whose browser may write that it has no network."""
    context = chromium.new_context(base_url=house.address, viewport=PHONE)
    page = context.new_page()
    page.goto("/sign-in?to=/load")
    page.get_by_label("Your id").fill("p-plant")
    page.get_by_role("textbox", name="Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/load")
    yield ready(page)
    context.close()


def test_without_a_connection_the_load_is_still_put_together(
    at_the_kiln: Page, here: AtPlant
) -> None:
    """What could not be looked up says so; the cycle waits on the device, and is sent later."""
    page = at_the_kiln
    begin(page, "autoclave", "A-9")
    page.context.set_offline(True)
    page.wait_for_function("!navigator.onLine")
    scan(page, here.red)
    expect(on(page, here.red)).to_contain_text("not looked up")
    page.get_by_role("button", name="record it").click()
    expect(page.locator("#outcome")).to_contain_text("Kept on this device")
    expect(page.locator("#unsent")).to_be_visible()

    page.context.set_offline(False)
    expect(page.locator("#unsent")).to_be_hidden()
    last = here.container(here.red).history.happened[-1].event
    assert isinstance(last, Treated)
    assert last.cycle == "A-9"
