"""One container's whole path on one page, and finding it by what is known of it."""

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path

import pytest
from playwright.sync_api import expect

from service.custody.identifiers import ALPHABET, grouped, is_valid
from service.custody.words import Role
from tests.api.client import event, ids, scanned, sealed
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served
from tests.browser.plants import NOW, OnRecord, fault_free, photograph

_seeds = count(70_000)


def ago(**span: float) -> datetime:
    """Some time before now."""
    return NOW - timedelta(**span)


@pytest.fixture
def tell(house: Served) -> Callable[..., None]:
    """Have events recorded; all must be taken."""
    return OnRecord(house).tell


@pytest.fixture
def bag(tell: Callable[..., None]) -> str:
    """A bag of soiled waste that went from a ward to a plant, and was sent back for its weight."""
    [container] = ids(1, next(_seeds))
    register = sealed(container, ago(hours=30))
    collect = event("collected", container, at=ago(hours=28), from_party="icu",
                    to_party="handlers", protective_gear=True)  # fmt: skip
    tell(
        register,
        collect,
        event("stored", container, at=ago(hours=27), store="ambient-store"),
        event("weighed", container, at=ago(hours=26), weight_g=3450, scale="store-scale"),
        event("dispatched", container, at=ago(hours=20), consignment=f"C-{container[:5]}",
              carrier="carrier-quillow", consignee="plant-kiln", seal=f"S-{container[:5]}"),
        event("received", container, at=ago(hours=18), party="plant-kiln", weight_g=2100,
              scale="kiln-scale", seal=f"S-{container[:5]}", seal_intact=True),
        event("amended", at=ago(hours=1), supersedes=register["id"], reason="wrong unit chosen",
              corrected={**register, "unit": "emergency"}),
    )  # fmt: skip
    return container


@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
def test_the_whole_path_stands_on_one_page(
    signed_in: Visit, bag: str, screen: dict[str, int], pictures: Path | None
) -> None:
    """State, holder, deadline, next steps, violations; and the drawing says what the table says."""
    page = signed_in(Role.PLANT, f"/containers/{bag}", screen)

    expect(page.get_by_role("heading", name=grouped(bag))).to_contain_text("received")
    expect(page.locator("dl")).to_contain_text("Kiln Moor Common Treatment Facility")
    expect(page.locator("#ahead ~ *").first).to_contain_text("left")
    expect(page.locator(".acts")).to_contain_text("incinerate")
    expect(page.locator("#wrong ~ ul")).to_contain_text("Next:")
    marks = page.locator("svg .mark-number")
    lines = page.locator("table.path tbody tr")
    assert marks.all_text_contents() == lines.locator("td:first-child").all_text_contents()
    expect(page.locator("svg .limit")).to_have_count(1)
    assert page.locator("[style]").count() == 0
    fault_free(page)
    photograph(page, pictures, f"container-{screen['width']}")


def test_late_and_corrected_entries_show_both_times(signed_in: Visit, bag: str) -> None:
    """What was first told stays readable, with who corrected it and why."""
    page = signed_in(Role.PLANT, f"/containers/{bag}", DESK)

    first = page.locator("table.path tbody tr").first
    expect(first).to_contain_text("Emergency")
    expect(first.locator("del")).to_have_text("Intensive care")
    expect(first).to_contain_text("wrong unit chosen")
    expect(first.locator("td").last).to_contain_text("later")


def test_what_did_not_happen_stays_on_the_page(signed_in: Visit, tell: Callable[..., None]) -> None:
    """An event that was struck out is told apart, struck through, with the reason."""
    [container] = ids(1, next(_seeds))
    lost = event("lost", container, at=ago(hours=2), last_seen="icu")
    tell(
        sealed(container, ago(hours=4)),
        lost,
        event("amended", at=ago(hours=1), supersedes=lost["id"], reason="it was never away"),
    )
    page = signed_in(Role.PLANT, f"/containers/{container}", DESK)

    struck = page.get_by_role("listitem").filter(has_text="it was never away")
    expect(struck.locator("del")).to_contain_text("missing")
    expect(page.locator("table.path tbody tr")).to_have_count(1)


def test_a_violation_leads_to_what_shows_it(signed_in: Visit, bag: str) -> None:
    """Its evidence is a link to the line of the event."""
    page = signed_in(Role.PLANT, f"/containers/{bag}", DESK)

    mismatch = page.locator("#wrong ~ ul li").filter(has_text="g")
    link = mismatch.get_by_role("link").last
    target = link.get_attribute("href")
    assert target is not None
    expect(page.locator(target.replace("#", "tr#"))).to_have_count(1)


def test_a_labels_address_only_shows(signed_in: Visit, bag: str, house: Served) -> None:
    """The address that a camera opens shows the container, and says whether the label is ours."""
    address = scanned(bag).removeprefix("HTTPS://CUSTODY.EXAMPLE")
    page = signed_in(Role.PLANT, address)
    expect(page.get_by_text("The label is one of ours")).to_be_visible()
    before = page.locator("table.path tbody tr").count()
    page.reload()
    assert page.locator("table.path tbody tr").count() == before

    page.goto(f"/{bag}/0000000")
    expect(page.get_by_text("not one of ours")).to_be_visible()
    page.goto(f"/{bag}")
    expect(page).to_have_url(re.compile(f"/containers/{bag}$"))


def test_a_slip_in_an_id_is_found_and_shown_by_its_group(
    signed_in: Visit, bag: str, pictures: Path | None
) -> None:
    """One wrong character: the container on record is offered, with the group that differs."""
    wrong = next(c for c in ALPHABET if not is_valid(bag[:5] + c + bag[6:]) and c != bag[5])
    page = signed_in(Role.PLANT, "/find")
    page.get_by_label("Scan a label").fill((bag[:5] + wrong + bag[6:]).lower())
    page.get_by_role("button", name="Open").click()

    expect(page.get_by_role("alert")).to_contain_text("check character")
    offer = page.get_by_role("link", name=re.compile(grouped(bag)))
    expect(page.get_by_role("alert")).to_contain_text("second group differs")
    fault_free(page)
    photograph(page, pictures, "find-slip-390")
    offer.click()
    expect(page).to_have_url(re.compile(f"/containers/{bag}$"))


@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
def test_containers_are_found_by_what_is_known_of_them(
    signed_in: Visit, bag: str, screen: dict[str, int], pictures: Path | None
) -> None:
    """By unit, day, seal, consignment, category and state; what does not fit is not there."""
    page = signed_in(Role.PLANT, "/find", screen)
    day = ago(hours=30).astimezone().strftime("%Y-%m-%d")
    row = page.get_by_role("row").filter(has_text=grouped(bag))
    for asked in (
        {"Seal": f"S-{bag[:5]}"},
        {"Consignment": f"C-{bag[:5]}", "State": "received", "Unit": "Emergency"},
    ):
        page.goto("/find")
        for name, value in asked.items():
            field = page.get_by_label(name, exact=True)
            if field.evaluate("e => e.tagName") == "SELECT":
                field.select_option(label=value)
            else:
                field.fill(value)
        page.get_by_role("button", name="Find", exact=True).click()
        expect(row).to_have_count(1)
    fault_free(page)
    photograph(page, pictures, f"find-{screen['width']}")

    page.goto(f"/find?seal=S-{bag[:5]}&unit=icu")
    expect(page.get_by_text("Nothing was found")).to_be_visible()
    page.goto(f"/find?day={day[:8]}99")
    expect(page.get_by_role("alert")).to_contain_text("no date")


def test_what_was_found_is_paged(signed_in: Visit, tell: Callable[..., None]) -> None:
    """Fifty on a page; the next page goes on where the last one ended."""
    some = ids(53, next(_seeds))
    tell(*(sealed(one, ago(hours=3)) for one in some))
    name = f"P-{some[0][:5]}"
    tell(event("dispatched", *some, at=ago(hours=1), consignment=name, carrier="carrier-quillow",
               consignee="plant-kiln", seal="S-1"))  # fmt: skip
    page = signed_in(Role.PLANT, f"/find?consignment={name}", DESK)
    expect(page.locator("tbody tr")).to_have_count(50)
    seen = page.locator("tbody th").all_inner_texts()
    page.get_by_role("link", name="More").click()
    expect(page.locator("tbody tr")).to_have_count(3)
    seen += page.locator("tbody th").all_inner_texts()
    assert sorted(s.replace(" ", "") for s in seen) == sorted(some)
