"""The page of figures: charts with tables beside them, signals in words, on a phone and a desk."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from playwright.sync_api import expect

from service.custody.words import Role
from tests.api.client import event, ids, sealed
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served
from tests.browser.officers import faults, seated, tell
from tests.duties.test_activity import count

SCREENS = pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
WEEKS = 12


@pytest.fixture(scope="module")
def lived(house: Served) -> date:
    """Twelve whole weeks in dialysis, of which the last two have no sharps; the last Sunday."""
    zone = house.store.rules(house.facility).site.zone
    today = datetime.now(zone).date()
    sunday = today - timedelta(days=(today.weekday() + 1) % 7 or 7)
    bags, raw = iter(ids(400, seed=61)), list[dict[str, Any]]()
    for n in range(7 * WEEKS):
        day = sunday - timedelta(days=7 * WEEKS - 1 - n)
        at = datetime.combine(day, time(12), zone).astimezone(UTC)
        raw.append(count("dialysis", day.isoformat(), occupied_bed_days=None, procedures=20, at=at))
        raw.append(sealed(next(bags), at=at, unit="dialysis", weight_g=1_000 + 40 * (n % 5)))
        if n < 7 * (WEEKS - 2):
            white = {"category": "white", "container_kind": "sharps_container", "hub_cut": True}
            grams = 200 + 5 * (n % 3)
            raw.append(sealed(next(bags), at=at, unit="dialysis", weight_g=grams, **white))
    tell(house, *raw)
    return sunday


@SCREENS
def test_a_drop_and_signals_are_told_in_words_beside_each_chart(
    house: Served, visit: Visit, lived: date, screen: dict[str, int]
) -> None:
    """And every chart has its figures in a table."""
    first = lived - timedelta(days=7 * WEEKS - 1)
    address = f"/figures?first={first}&last={lived}&unit=dialysis"
    page = seated(house, visit, Role.OFFICER, address, screen)
    row = page.locator("section[aria-labelledby=drops] tbody tr").filter(has_text="Dialysis")
    white = row.filter(has_text="white")
    expect(white).to_contain_text("unusual drop")
    expect(white).to_contain_text("nothing about any person")
    expect(page.locator("section[aria-labelledby=signals]")).to_contain_text(
        "look for what changed"
    )
    charts = page.locator("figure.chart")
    assert charts.count() == 6
    for number in range(6):
        assert charts.nth(number).locator("tbody tr").count() == WEEKS
    assert page.locator("rect.signalled").count() > 0
    page.locator("details").first.evaluate("one => one.open = true")
    assert page.evaluate("document.documentElement.scrollWidth") <= screen["width"]
    assert faults(page) == []


@SCREENS
def test_needles_and_pits_are_told_with_what_is_wrong(
    house: Served, visit: Visit, lived: date, screen: dict[str, int]
) -> None:
    """Forty needles of a hundred lacking is told of no person; a pit measured full is to be closed.

    The sharps pit of the set-up is 2 m deep: 40 cm below the surface is less than half a metre.
    """
    at = datetime.combine(lived, time(6), UTC)
    said = {"unit": "icu", "at": at}
    tell(
        house,
        event("needles_counted", stage="used", needles=100, source=f"{screen} book", **said),
        event("needles_counted", stage="cut", needles=60, source=f"{screen} cutter", **said),
        event("pit_covered", at=at, pit="kiln-sharps-pit", cover="lime", layer_cm=10, free_cm=40),
    )
    page = seated(house, visit, Role.OFFICER, f"/figures?first={lived}&last={lived}", screen)
    row = page.locator("section[aria-labelledby=needles] tbody tr").filter(has_text="ntensive")
    expect(row).to_contain_text("counts differ")
    expect(page.locator("section[aria-labelledby=needles]")).to_contain_text("of any person")
    pit = page.locator("section[aria-labelledby=pits] tbody tr")
    expect(pit).to_contain_text("full: stop, cover and close it")
    expect(pit).to_contain_text("common practice, no source")
    assert page.evaluate("document.documentElement.scrollWidth") <= screen["width"]
    assert faults(page) == []


def test_days_that_are_none_are_answered_as_such(house: Served, visit: Visit) -> None:
    """With what a day looks like."""
    page = seated(house, visit, Role.OFFICER, "/figures", DESK)
    answer = page.context.request.get(f"{house.address}/figures?first=soon")
    assert (answer.status, "a day is written as 2026-07-31" in answer.text()) == (422, True)


@SCREENS
def test_the_plan_shows_what_it_avoids_and_what_if(
    house: Served, visit: Visit, lived: date, screen: dict[str, int]
) -> None:
    """As a drawing with its table, for the days ahead."""
    page = seated(house, visit, Role.OFFICER, "/plan?days=3", screen)
    bars = page.locator("section[aria-labelledby=avoided] tbody tr")
    expect(bars).to_have_count(3)
    expect(page.locator("section[aria-labelledby=stores] tbody tr")).to_have_count(2)
    page.get_by_label("What if the plant is closed on").fill(f"{lived + timedelta(days=3)}")
    page.get_by_role("button", name="Plan").click()
    expect(page.locator("section[aria-labelledby=loads]")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= screen["width"]
    assert faults(page) == []


def test_the_balance_of_treatment_is_shown_where_it_is_asked_for(
    house: Served, visit: Visit
) -> None:
    """What went in, and that no residue is on record yet."""
    [bag] = ids(1, seed=62)
    now = datetime.now(UTC)
    tell(
        house,
        sealed(bag, at=now - timedelta(hours=2), weight_g=5_000),
        event(
            "treated", bag, at=now - timedelta(hours=1), step="incinerate", party="plant-kiln",
            cycle="K-62",
        ),
    )  # fmt: skip
    page = seated(house, visit, Role.OFFICER, "/balance", DESK)
    page.get_by_role("link", name="Show the balance of treatment").click()
    row = page.locator("section[aria-labelledby=treated] tbody tr").filter(has_text="incinerate")
    expect(row).to_contain_text("5.000 kg")
    assert faults(page) == []
