"""The ward seals a container: on a telephone, with and without a network."""

import json
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from service.custody.words import Role
from tests.api.client import ids
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served

_fresh = iter(ids(400, seed=41))


def scan(page: Page, code: str) -> None:
    """A hand scanner writes and ends with Enter, wherever the cursor stands."""
    page.keyboard.type(code)
    page.keyboard.press("Enter")


def seal(page: Page, bag: str, category: str = "yellow-c") -> int:
    """Seal a bag the usual way; give how many taps that took."""
    scan(page, bag)
    page.locator(f'[data-category="{category}"]').click()
    page.locator("#weight").fill("3,4")
    page.get_by_role("button", name="Sealed: record it").click()
    expect(page.locator("#done")).to_be_visible()
    return 2


def known(house: Served) -> dict[str, str]:
    """The state of every container on record."""
    with house.store.reading() as connection:
        rows = connection.exec_driver_sql("SELECT container, state FROM container").all()
    return {row[0]: row[1] for row in rows}


def entries(house: Served, bag: str) -> int:
    """How many entries name a container."""
    with house.store.reading() as connection:
        asked = "SELECT count(DISTINCT seq) FROM named WHERE container = ?"
        return int(connection.exec_driver_sql(asked, (bag,)).scalar() or 0)


def test_a_bag_is_sealed_with_one_scan_and_no_more_than_three_taps(
    signed_in: Visit, house: Served
) -> None:
    """And the ward is told until when it may be kept."""
    page, bag = signed_in(Role.WARD, "/ward"), next(_fresh)
    assert seal(page, bag) <= 3
    expect(page.locator("#done [data-told]")).to_contain_text("is on record")
    expect(page.locator("#done [data-told]")).to_contain_text("It may be kept until")
    assert known(house)[bag] == "registered"


def test_it_can_be_taken_back(signed_in: Visit, house: Served) -> None:
    """By a further entry: both stay."""
    page, bag = signed_in(Role.WARD, "/ward"), next(_fresh)
    seal(page, bag)
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator("#done [data-told]")).to_contain_text("taken back")
    assert known(house)[bag] != "registered"
    assert entries(house, bag) == 2


def test_what_is_wrong_is_told_at_once(signed_in: Visit) -> None:
    """An open bag is recorded, and flagged."""
    page = signed_in(Role.WARD, "/ward")
    scan(page, next(_fresh))
    page.locator('[data-category="yellow-c"]').click()
    page.get_by_label("It is closed").uncheck()
    page.get_by_role("button", name="Sealed: record it").click()
    expect(page.locator("#done [data-wrong] li")).to_contain_text("not closed")


@pytest.mark.parametrize(
    ("typed", "says"), [("ABC", "twelve characters"), ("000000000001", "check character")]
)
def test_a_slip_in_a_typed_id_is_told(signed_in: Visit, typed: str, says: str) -> None:
    """Before anything else is asked."""
    page = signed_in(Role.WARD, "/ward")
    page.locator("#typed").fill(typed)
    page.get_by_role("button", name="Go on").click()
    expect(page.locator("#slip")).to_contain_text(says)


def test_a_shift_without_a_network_is_sent_once_when_it_returns(
    signed_in: Visit, house: Served
) -> None:
    """Nothing is lost and nothing is doubled; what is not sent is always in sight."""
    page = signed_in(Role.WARD, "/ward")
    bags = [next(_fresh) for _ in range(30)]
    page.context.set_offline(offline=True)
    page.evaluate(_SEAL_MANY, json.dumps(bags))
    expect(page.locator("#unsent")).to_contain_text(re.compile(r"^30 "))
    assert not set(bags) & set(known(house))
    page.context.set_offline(offline=False)
    expect(page.locator("#unsent")).to_be_hidden(timeout=30_000)
    assert {known(house)[bag] for bag in bags} == {"registered"}
    assert [entries(house, bag) for bag in bags] == [1] * 30


_SEAL_MANY = """async (bags) => {
  const queue = await import(document.querySelector('script[src*="ward.js"]').src.replace("ward.js", "queue.js"));
  for (const bag of JSON.parse(bags)) {
    const fields = { containers: [bag], category: "yellow-c", unit: "icu", container_kind: "bag", weight_g: 3400 };
    await queue.record(queue.newEvent("registered", fields));
  }
}"""  # noqa: E501 - a program of the browser's


def test_what_the_service_does_not_take_is_shown_until_somebody_has_seen_it(
    signed_in: Visit,
) -> None:
    """With the reason; it is never dropped."""
    page = signed_in(Role.WARD, "/ward")
    page.evaluate(_SEAL_MANY.replace('unit: "icu"', 'unit: "nowhere"'), json.dumps([next(_fresh)]))
    away = page.locator("#turned-away")
    expect(away).to_contain_text("nowhere")
    page.reload()
    expect(away).to_contain_text("nowhere")
    away.get_by_role("button", name="Seen").click()
    expect(away).to_be_hidden()


def test_a_spill_is_taken_down(signed_in: Visit, house: Served) -> None:
    """What to do first stands above."""
    page = signed_in(Role.WARD, "/spill")
    page.get_by_label("What was done").fill("cordoned off, covered, disinfected")
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_text("It is on record.")).to_be_visible()


@pytest.mark.parametrize("screen", [PHONE, DESK])
@pytest.mark.parametrize("address", ["/ward", "/ward/today", "/spill", "/me"])
def test_the_pages_shut_nobody_out(signed_in: Visit, address: str, screen: dict[str, int]) -> None:
    """No violation that axe finds (WCAG 2.2 A and AA)."""
    page = signed_in(Role.WARD, address, screen)
    assert _none(page)
    if address == "/ward":
        scan(page, next(_fresh))
        assert _none(page)
        page.locator('[data-category="yellow-c"]').click()
        assert _none(page)


def _none(page: Page) -> bool:
    found = Axe().run(page).response["violations"]
    assert [(each["id"], [n["html"] for n in each["nodes"]][:3]) for each in found] == []
    return True


def test_hypochlorite_is_reckoned_and_its_dangers_stand_above(signed_in: Visit) -> None:
    """By the service; the usual mixes stand on the page itself, for when there is no network."""
    page = signed_in(Role.WARD, "/spill")
    made = page.get_by_role("region", name="Hypochlorite, measured")
    expect(made).to_contain_text("Never with acids, ammonia, urine or formaldehyde")
    expect(made.get_by_role("row", name="10 % liquid")).to_contain_text("50 ml")
    made.get_by_label("available chlorine").fill("5")
    made.get_by_label("Wanted").fill("0,5")
    made.get_by_label("How much").fill("10")
    made.get_by_role("button", name="Reckon").click()
    expect(made.get_by_role("status")).to_contain_text("9,000 ml of water, and 1,000 ml of stock")
    made.get_by_label("Wanted").fill("6")
    made.get_by_role("button", name="Reckon").click()
    expect(made.get_by_role("alert")).to_contain_text("makes no solution")
