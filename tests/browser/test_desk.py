"""The officer's desk: what is wrong, the most urgent first, and who may come in."""

from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Page, expect

from service.custody.words import Role
from tests.api.client import event, ids, sealed
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served
from tests.browser.officers import faults, seated, tell

OVERFULL, GONE, OLD, TOLD = ids(4, seed=5101)
MANY = ids(60, seed=5102)
ORDER = ["unsafe", "lost", "wrong", "late"]
SCREENS = pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])


@pytest.fixture(scope="module")
def wrong(house: Served) -> None:
    """A hospital with something wrong of every severity, and a pharmacy that overfills."""
    now = datetime.now(UTC)
    soon, days_ago = now - timedelta(minutes=5), now - timedelta(days=20)
    tell(
        house,
        sealed(OVERFULL, at=soon, fill_fraction=0.95),
        sealed(GONE, at=soon),
        event("lost", GONE, at=soon + timedelta(minutes=1), last_seen="ambient-store"),
        sealed(OLD, at=days_ago, unit="dialysis"),
        sealed(TOLD, at=days_ago, unit="dialysis"),
        event(
            "notified",
            TOLD,
            at=soon,
            authority="the board",
            about="holding",
            reason="the plant stood still",
        ),
        *(sealed(bag, at=soon, unit="pharmacy", fill_fraction=0.99) for bag in MANY),
    )


def _severities(page: Page) -> list[str]:
    return page.locator(".wrongs > li .what .state:first-child").all_inner_texts()


@SCREENS
def test_what_is_most_urgent_stands_first(
    house: Served, visit: Visit, wrong: None, screen: dict[str, int]
) -> None:
    """Unsafe, lost, wrong, late; how it is sorted is said."""
    page = seated(house, visit, Role.OFFICER, "/desk?unit=icu", screen)
    found = _severities(page)
    assert found == sorted(found, key=ORDER.index)
    assert {"unsafe", "lost"} <= set(found)
    assert page.get_by_text("Most urgent first").is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= screen["width"]
    assert faults(page) == []


def test_each_says_why_what_next_and_who_holds_it(house: Served, visit: Visit, wrong: None) -> None:
    """With the clause, and the events that show it on the container's own page."""
    page = seated(house, visit, Role.OFFICER, "/desk?code=packing.overfilled&unit=icu", DESK)
    row = page.locator(".wrongs > li").filter(has_text=" ".join(_groups(OVERFULL)))
    expect(row).to_contain_text("filled to 95 %")
    expect(row).to_contain_text("overpack it in a larger container")
    expect(row.get_by_text("Intensive care").first).to_be_visible()
    expect(row.locator("dt", has_text="Clause")).to_be_visible()
    shown = row.get_by_role("link", name="event 1").get_attribute("href")
    assert shown and shown.startswith(f"/containers/{OVERFULL}#event-")


def _groups(container: str) -> list[str]:
    return [container[at : at + 4] for at in range(0, len(container), 4)]


def test_what_the_authority_was_told_of_is_marked_and_comes_after(
    house: Served, visit: Visit, wrong: None
) -> None:
    """An overrun that was notified stays one."""
    page = seated(house, visit, Role.OFFICER, "/desk?code=holding.exceeded&unit=dialysis", DESK)
    rows = page.locator(".wrongs > li")
    expect(rows).to_have_count(2)
    expect(rows.nth(0)).not_to_contain_text("notified")
    expect(rows.nth(1)).to_contain_text("notified")


@SCREENS
def test_it_is_looked_for_by_severity_kind_unit_and_holder(
    house: Served, visit: Visit, wrong: None, screen: dict[str, int]
) -> None:
    """And the list goes on on the next page."""
    page = seated(house, visit, Role.OFFICER, "/desk", screen)
    page.get_by_text("Look for some of it").click()
    page.get_by_label("How grave").select_option("unsafe")
    page.get_by_label("Sealed in").select_option("pharmacy")
    page.get_by_label("Who holds it").select_option("pharmacy")
    page.get_by_role("button", name="Show").click()
    expect(page.get_by_text("1 to 50 of 60")).to_be_visible()
    page.get_by_role("link", name="On", exact=True).click()
    expect(page.get_by_text("51 to 60 of 60")).to_be_visible()
    assert set(_severities(page)) == {"unsafe"}
    assert faults(page) == []


def test_what_cannot_be_read_in_the_address_is_told(visit: Visit, house: Served) -> None:
    """As a page."""
    page = seated(house, visit, Role.OFFICER, "/desk", DESK)
    answer = page.context.request.get("/desk?severity=dreadful")
    assert answer.status == 422
    assert "no severity or rule" in answer.text()


def test_the_rules_can_be_read_with_their_sources(visit: Visit, house: Served) -> None:
    """By everybody who signs in."""
    page = seated(house, visit, Role.WARD, "/regimes", PHONE)
    expect(page.get_by_text("in use here")).to_be_visible()
    assert faults(page) == []
    page.get_by_role("link", name="Bio-Medical Waste").first.click()
    expect(page.get_by_role("heading", name="How long it may be kept")).to_be_visible()
    assert faults(page) == []


@SCREENS
def test_an_administrator_adds_somebody_and_hands_over_the_code(
    house: Served, visit: Visit, screen: dict[str, int]
) -> None:
    """It is shown once: not in the address, and gone with the dialog."""
    page = seated(house, visit, Role.ADMINISTRATOR, "/people", screen)
    assert faults(page) == []
    page.get_by_text("Add somebody").click()
    name = f"Orla Fennick {screen['width']}"
    form = page.locator("form[data-order='/v1/people']")
    form.get_by_label("Name").fill(name)
    form.get_by_label("Role").select_option("ward")
    form.get_by_label("Pharmacy").check()
    assert faults(page) == []
    form.get_by_role("button", name="Add").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("Shown this once")
    code = dialog.locator("dd").last.inner_text()
    assert len(code) > 10
    assert code not in page.url
    assert faults(page) == []
    dialog.get_by_role("button", name="I have it").click()
    somebody = page.locator(".person").filter(has_text=name)
    expect(somebody).to_contain_text("Pharmacy")
    assert code not in page.content()


def test_an_administrator_gives_a_badge_and_shuts_somebody_out(house: Served, visit: Visit) -> None:
    """Each is asked for again before it is done."""
    page = seated(house, visit, Role.ADMINISTRATOR, "/people", DESK)
    asked: list[str] = []
    page.on("dialog", lambda dialog: (asked.append(dialog.message), dialog.accept()))
    somebody = page.locator(".person").filter(has_text="p-handler")
    somebody.locator("summary", has_text="Change").click()
    somebody.get_by_role("button", name="New badge").click()
    expect(page.get_by_role("dialog")).to_contain_text("First PIN")
    page.get_by_role("button", name="I have it").click()
    expect(page.get_by_role("dialog")).to_have_count(0)
    somebody.locator("summary", has_text="Change").click()
    somebody.get_by_role("button", name="Shut out").click()
    expect(somebody).to_contain_text("shut out since")
    assert len(asked) == 2
    somebody.locator("summary", has_text="Change").click()
    somebody.get_by_role("button", name="Let in again").click()
    expect(somebody).not_to_contain_text("shut out since")


def test_a_device_is_invited_and_turned_out_and_what_is_open_to_it_is_said(
    house: Served, visit: Visit
) -> None:
    """What may not be is told, and nothing happened."""
    page = seated(house, visit, Role.ADMINISTRATOR, "/people", DESK)
    page.on("dialog", lambda dialog: dialog.accept())
    page.get_by_text("Invite a shared device").click()
    form = page.locator("form[data-order='/v1/devices']")
    form.get_by_label("Name").fill("tablet-by-the-sluice")
    form.get_by_label("Role").select_option("ward")
    form.get_by_role("button", name="Invite it").click()
    expect(page.get_by_role("dialog")).to_contain_text("Code of the device")
    page.get_by_role("button", name="I have it").click()
    device = page.locator(".person").filter(has_text="tablet-by-the-sluice")
    device.get_by_text("What is open to it").click()
    expect(device.get_by_text("record events")).to_be_visible()
    device.locator("summary", has_text="Change").click()
    device.get_by_role("button", name="Turn it out").click()
    expect(device).to_contain_text("turned out")


def test_an_officer_sees_who_may_come_in_and_changes_nothing(house: Served, visit: Visit) -> None:
    """Adding is the administrator's."""
    page = seated(house, visit, Role.OFFICER, "/people", DESK)
    expect(page.locator(".person .id", has_text="p-handler")).to_be_visible()
    expect(page.get_by_text("Add somebody")).to_have_count(0)
