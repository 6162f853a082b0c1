"""Takes the pictures of the pages that the docs show: ``python -m tests.browser.pictures``.

The invented hospital is served with a morning's waste; each role is signed in, does what the page
is for, and is photographed on the screen it works at. Run it again when the pages look otherwise,
where the browser has fonts for every language of the pages: their names stand at the foot of each.
"""

import sys
from collections.abc import Callable
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from PIL import Image
from playwright.sync_api import Browser, Page, expect, sync_playwright

from service.custody.words import Role
from tests.api.client import event, scanned
from tests.browser.conftest import CHROMIUM, FLAGS, PHONE
from tests.browser.house import Served, served
from tests.browser.officers import seated
from tests.browser.plants import NOW
from tests.browser.plants import scan as scan_at_once
from tests.browser.test_load import AtPlant
from tests.browser.test_load import begin as begin_load
from tests.browser.test_receive import Sent
from tests.browser.test_run import begin as begin_run
from tests.browser.yard import Yard

FOLDER = Path(__file__).parents[2] / "docs" / "images"
DESK = {"width": 1200, "height": 760}
BYTES_MAX = 60_000
COLOURS = (64, 32, 16, 8)
Open = Callable[..., Page]


def keep(page: Page, name: str, folder: Path = FOLDER) -> None:
    """Keep what is in sight, in as many colours as its size allows."""
    page.evaluate("document.activeElement?.blur()")
    picture = Image.open(BytesIO(page.screenshot())).convert("RGB")
    for colours in COLOURS:
        out = BytesIO()
        fewer = picture.quantize(colours, dither=Image.Dither.NONE)
        fewer.save(out, "PNG", optimize=True)
        if len(out.getvalue()) <= BYTES_MAX:
            (folder / f"{name}.png").write_bytes(out.getvalue())
            return
    raise ValueError(f"the picture {name} stays larger than {BYTES_MAX} bytes")


def of_the_ward(open_: Open, yard: Yard) -> None:
    """Label, content, seal, done."""
    page = open_(Role.WARD, "/ward", PHONE)
    keep(page, "ward-scan")
    page.keyboard.type(scanned(yard.fresh()))
    page.keyboard.press("Enter")
    page.locator("#choose").wait_for()
    keep(page, "ward-choose")
    page.locator('[data-category="yellow-c"]').click()
    page.locator("#weight").fill("3.4")
    keep(page, "ward-weigh")
    page.get_by_role("button", name="Sealed: record it").click()
    page.get_by_text("It may be kept until").wait_for()
    keep(page, "ward-done")


def of_the_handler(open_: Open, yard: Yard) -> None:
    """A run, what stops it, sending away, the wall."""
    bags = [yard.bag(weight_g=2_400), yard.bag(weight_g=3_150)]
    late = yard.bag(hours=60, unit="theatres", closed=False)
    page = open_(Role.HANDLER, "/run", PHONE)
    begin_run(page, "Pick up", from_party="icu", to_party="handlers")
    for number, bag in enumerate(bags, 1):
        scan_at_once(page, scanned(bag))
        expect(page.locator("#count")).to_have_text(str(number))
    page.evaluate("scrollTo(0, document.getElementById('round').offsetTop)")
    keep(page, "handler-run")
    scan_at_once(page, scanned(late))
    page.locator("#stop[open]").wait_for()
    keep(page, "handler-stop")
    for hours, said in (
        (50, {"category": "yellow-a", "unit": "theatres"}),
        (44, {}),
        (9, {}),
        (8, {"category": "red"}),
        (3, {"category": "red"}),
    ):
        yard.stored("ambient-store", hours=hours, **said)  # type: ignore[arg-type]
    keep(open_(Role.HANDLER, "/leave?store=ambient-store", DESK), "handler-leave")
    keep(open_(Role.HANDLER, "/wall?store=ambient-store", DESK), "handler-wall")


def of_the_plant(open_: Open, house: Served) -> None:
    """A receipt compared with what was sent, and a load from which one is held back."""
    sent = Sent(house)
    page = open_(Role.PLANT, f"/receive?consignment={sent.name}", DESK)
    page.wait_for_selector("form[data-ready]")
    page.get_by_label("Seal as it reads now").fill("X-1")
    page.get_by_label("Whole", exact=True).check()
    for code in (sent.a, sent.b):
        scan_at_once(page, scanned(code))
    expect(page.locator("#count")).to_have_text("2")
    page.get_by_role("button", name="Compare").click()
    page.get_by_label("Nothing else came").wait_for()
    page.get_by_role("button", name="Take over").scroll_into_view_if_needed()
    keep(page, "plant-receive")
    here = AtPlant(house)
    page = open_(Role.PLANT, "/load", PHONE)
    page.wait_for_selector("form[data-ready]")
    begin_load(page, "autoclave")
    for code in (here.red, here.cytotoxic):
        scan_at_once(page, scanned(code))
    page.locator("#held li").wait_for()
    page.locator("#held-part").scroll_into_view_if_needed()
    keep(page, "plant-load")


def of_the_officer(open_: Open, yard: Yard) -> None:
    """What is wrong, one container's path, the balance, what is set."""
    lost = yard.stored("chilled-store", hours=30, unit="pharmacy", category="yellow-d2")
    yard.tell(event("lost", lost, at=NOW - timedelta(hours=1), last_seen="chilled-store"))
    keep(open_(Role.OFFICER, "/desk", DESK), "officer-desk")
    keep(open_(Role.OFFICER, "/desk", PHONE), "officer-desk-phone")
    page = open_(Role.OFFICER, f"/containers/{lost}", DESK)
    keep(page, "officer-container")
    keep(open_(Role.OFFICER, "/balance", DESK), "officer-balance")
    keep(open_(Role.OFFICER, "/settings", DESK), "officer-settings")


def main() -> None:
    """Take them all."""
    if CHROMIUM is None:
        sys.exit("chromium is not installed")
    with (
        TemporaryDirectory() as folder,
        served(Path(folder)) as house,
        sync_playwright() as playwright,
    ):
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        _all_of(house, chromium)
        chromium.close()


def _all_of(house: Served, chromium: Browser) -> None:
    def visit(address: str, screen: dict[str, int], cookies: Any = ()) -> Page:
        context = chromium.new_context(base_url=house.address, viewport=screen)  # type: ignore[arg-type]
        context.add_cookies(cookies)
        page = context.new_page()
        page.goto(address)
        return page

    def open_(role: Role, address: str, screen: dict[str, int]) -> Page:
        return seated(house, visit, role, address, screen)

    yard = Yard(house, seed=2026)
    of_the_ward(open_, yard)
    of_the_handler(open_, yard)
    of_the_plant(open_, house)
    of_the_officer(open_, yard)


if __name__ == "__main__":
    main()
