"""The wall of a store room."""

from pathlib import Path
from typing import Any
from zlib import crc32

import pytest
from playwright.sync_api import expect

from service.custody.words import Role
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served
from tests.browser.yard import Yard, faultless, picture

SCREENS = pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])


@pytest.fixture
def yard(house: Served, request: pytest.FixtureRequest) -> Yard:
    """Waste of this test's own."""
    return Yard(house, seed=crc32(request.node.name.encode()))


def test_what_is_late_stands_first(signed_in: Visit, yard: Yard) -> None:
    """With a word, not by colour alone; then what has a limit, then what has none."""
    yard.stored("ambient-store", hours=50, category="yellow-c")
    yard.stored("ambient-store", hours=2, category="yellow-b", unit="animal-house")
    page = signed_in(Role.HANDLER, "/wall?store=ambient-store", DESK)
    lots = page.locator(".lots li")
    expect(lots.first).to_contain_text("Soiled waste")
    expect(lots.first).to_contain_text("late by ")
    expect(lots.filter(has_text="Animal anatomical waste")).to_contain_text("in ")
    expect(page.locator(".figures .past")).to_contain_text("late: past the limit")


def test_the_wall_fetches_itself_anew_each_minute(signed_in: Visit, yard: Yard) -> None:
    """What is put in the store meanwhile appears, and nothing else is loaded again."""
    page = signed_in(Role.HANDLER, "/me", DESK)
    page.clock.install()
    page.goto("/wall?store=chilled-store")
    page.evaluate("globalThis.same = true")
    category = page.locator(".lots li", has_text="Expired or discarded medicines")
    expect(category).to_have_count(0)
    yard.stored("chilled-store", category="yellow-d2", unit="pharmacy")
    page.clock.run_for(61_000)
    expect(category).to_have_count(1)
    assert page.evaluate("globalThis.same")


def test_a_wall_that_gets_no_answer_says_since_when(signed_in: Visit) -> None:
    """And takes it back with the next answer."""
    page = signed_in(Role.HANDLER, "/me", DESK)
    page.clock.install()
    page.goto("/wall?store=chilled-store")
    expect(page.locator("#lost")).to_be_hidden()
    page.route("**/wall*", lambda route: route.fulfill(body="a page of somebody else"))
    page.clock.run_for(61_000)
    expect(page.locator("#lost")).to_contain_text("No answer since")
    page.unroute("**/wall*")
    page.clock.run_for(61_000)
    expect(page.locator("#lost")).to_be_hidden()


def test_nobody_stands_on_the_wall_by_name(signed_in: Visit, yard: Yard) -> None:
    """A wall is seen by whoever passes."""
    yard.stored("ambient-store")
    page = signed_in(Role.HANDLER, "/wall?store=ambient-store", DESK)
    expect(page.locator(".lots li").first).to_be_visible()
    text = page.content()
    assert "badge-1" not in text
    assert "p-handler" not in page.locator("main").inner_text()


def test_letters_on_the_wall_are_a_200th_of_four_metres(signed_in: Visit, yard: Yard) -> None:
    """On a screen of 43 inches (952 mm wide), capitals of 20 mm (a 200th: common practice)."""
    yard.stored("ambient-store")
    page = signed_in(Role.HANDLER, "/wall?store=ambient-store", {"width": 1920, "height": 1080})
    pixels = page.locator(".lots .limit").first.evaluate(
        "place => parseFloat(getComputedStyle(place).fontSize)"
    )
    capital = 0.7  # of the size of the letters, in the fonts that are asked for
    assert pixels * capital * 952 / 1920 >= 4000 / 200


def test_a_store_that_is_not_there_is_said_so(signed_in: Visit) -> None:
    """By name."""
    page = signed_in(Role.HANDLER, "/wall", DESK)
    names = page.get_by_role("navigation", name="Stores").get_by_role("link")
    expect(names.first).to_have_text("Waste yard, ambient store")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@SCREENS
def test_the_wall_can_be_read_by_all(
    signed_in: Visit, yard: Yard, screen: dict[str, int], scheme: Any, pictures: Path | None
) -> None:
    """axe-core (WCAG 2.2 A and AA) finds nothing."""
    yard.stored("ambient-store", hours=50)
    yard.stored("ambient-store", hours=44, category="yellow-a", unit="theatres")
    page = signed_in(Role.HANDLER, "/wall?store=ambient-store", screen, color_scheme=scheme)
    faultless(page)
    picture(page, pictures, f"wall-{scheme}")
    page.goto("/wall?store=chilled-store")
    faultless(page)
