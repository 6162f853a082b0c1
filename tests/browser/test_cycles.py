"""A cycle from its load to its verdict: run, its file dropped, passed or failed and why."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from service.custody.words import Role
from tests.api.client import scanned
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served
from tests.browser.plants import fault_free, photograph, ready, scan
from tests.browser.test_load import AtPlant
from tests.machines import FAILING, PASSING


@pytest.fixture
def here(house: Served) -> AtPlant:
    """What stands at the kiln."""
    return AtPlant(house)


def run(page: Page, here: AtPlant, cycle: str) -> None:
    """Put the red bag in the first autoclave and record the cycle, started 81 min ago."""
    page.get_by_label("Where").select_option(label="Kiln Moor Common Treatment Facility (invented)")
    page.get_by_label("Step").select_option(label="autoclave")
    page.get_by_label("Machine", exact=True).select_option(value="kiln-autoclave-1")
    zone = here.house.store.rules(here.house.facility).site.zone
    started = datetime.now(zone) - timedelta(minutes=81)
    page.get_by_label("Started").fill(f"{started:%Y-%m-%dT%H:%M}")
    page.get_by_label("Number of the cycle").fill(cycle)
    scan(page, scanned(here.red))
    expect(page.locator(f"#on [data-container='{here.red}']")).to_be_visible()
    page.get_by_role("button", name="The cycle was run: record it").click()
    page.get_by_role("link", name=cycle).click()


def drop(page: Page, content: bytes) -> None:
    """Give the page the logger's file."""
    page.wait_for_selector("#evidence[data-ready]")
    file = {"name": "logger.csv", "mimeType": "text/csv", "buffer": content}
    page.locator("#file").set_input_files(file)  # type: ignore[arg-type]


@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
def test_a_cycle_passes_or_fails_before_the_eyes_of_who_ran_it(
    signed_in: Visit, here: AtPlant, screen: dict[str, int], pictures: Path | None
) -> None:
    """The file is dropped: passed, with the reason and a drawing; a worse file: failed."""
    page = ready(signed_in(Role.PLANT, "/load", screen))
    cycle = f"K-{here.red[:8]}"
    run(page, here, cycle)
    expect(page.locator("#verdict")).to_have_text("no trace yet")
    drop(page, PASSING)
    expect(page.locator("#verdict")).to_have_text("passed")
    expect(page.locator("figure.chart polyline.line")).to_have_count(1)
    expect(page.get_by_text("(121.1 °C, z 10 K, D ")).to_be_visible()
    page.get_by_role("button", name="The indicator turned", exact=True).click()
    expect(page.get_by_text("turned", exact=True)).to_be_visible()
    fault_free(page)
    photograph(page, pictures, f"cycle-passed-{screen['width']}")
    drop(page, FAILING)
    expect(page.locator("#verdict")).to_have_text("failed")
    expect(page.get_by_text("treat all of it again")).to_be_visible()
    fault_free(page)
    photograph(page, pictures, f"cycle-failed-{screen['width']}")
    assert here.container(here.red).standing.steps == ()
    page.goto(page.url.split("/cycles")[0] + f"/containers/{here.red}")
    expect(page.get_by_role("link", name=cycle)).to_be_visible()


def test_a_spore_test_is_entered_in_the_register(
    signed_in: Visit, here: AtPlant, pictures: Path | None
) -> None:
    """It stands beside its machine at once."""
    page = signed_in(Role.PLANT, "/machines", DESK)
    part = page.locator("[data-machine='kiln-autoclave-2']")
    part.get_by_text("Enter a spore test").click()
    part.get_by_label("When it went through the machine").fill("2026-07-01T08:00")
    part.get_by_label("Lot of the strip").fill("BI-9")
    part.get_by_role("button", name="No growth").click()
    expect(part.get_by_text("no growth", exact=True)).to_be_visible()
    fault_free(page)
    photograph(page, pictures, "machines")


def test_a_file_that_is_none_is_kept_and_said_why(signed_in: Visit, here: AtPlant) -> None:
    """Text where numbers should be: the cycle is not judged by it, and the line is named."""
    page = ready(signed_in(Role.PLANT, "/load", DESK))
    run(page, here, f"X-{here.red[:8]}")
    drop(page, b"time_s,temperature_c\n0,hot\n30,hotter\n")
    expect(page.locator("#verdict")).to_have_text("cannot be judged")
    expect(page.get_by_text("line 2").first).to_be_visible()
