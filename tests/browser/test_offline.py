"""No network for a whole shift: the pages open, nothing is lost, and what was wrong comes back."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from zlib import crc32

import pytest
from playwright.sync_api import Browser, Page, expect

from service.custody.identifiers import grouped
from service.custody.words import Role
from tests.api.client import event, ids, scanned, sealed
from tests.browser.cellar import cut, entries, in_cache, kept, learnt, recorded, restored, signs_in
from tests.browser.conftest import CHROMIUM, DESK, FLAGS, PHONE, Visit
from tests.browser.house import Served
from tests.browser.plants import scan as burst
from tests.browser.test_leave import close
from tests.browser.test_run import begin, counted
from tests.browser.yard import Yard, ago, faultless, picture, scan

SCREENS = pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])


@pytest.fixture
def yard(house: Served, request: pytest.FixtureRequest) -> Yard:
    """Waste of this test's own."""
    return Yard(house, seed=crc32(request.node.name.encode()))


def seal(page: Page, bag: str, *, closed: bool = True) -> None:
    """Seal a bag as the ward does."""
    scan(page, bag)
    page.locator('[data-category="yellow-c"]').click()
    page.locator("#weight").fill("3.4")
    page.get_by_label("It is closed").set_checked(closed)
    page.get_by_role("button", name="Sealed: record it").click()
    expect(page.locator("#done")).to_be_visible()


# --- the pages open


def test_the_ward_page_opens_without_a_network_and_says_of_when_it_is(
    signed_in: Visit, yard: Yard, house: Served
) -> None:
    """What is sealed meanwhile waits on the device, through a reload, and is sent on return."""
    page, bag = kept(signed_in(Role.WARD, "/ward"), "/ward"), yard.fresh()
    expect(page.locator("#old")).to_be_hidden()
    cut(page)
    page.reload()
    expect(page.locator("#old")).to_contain_text("this page is as it was at")
    seal(page, bag)
    expect(page.locator("#done [data-told]")).to_contain_text("kept on this device")
    page.reload()
    expect(page.locator("#unsent")).to_contain_text(re.compile(r"^1 not yet sent"))
    assert entries(house, bag) == {bag: 0}
    restored(page)
    assert entries(house, bag) == {bag: 1}
    page.reload()
    expect(page.locator("#old")).to_be_hidden()


@pytest.mark.parametrize(
    ("role", "pages"),
    [
        (Role.WARD, ["/ward", "/ward/today", "/spill"]),
        (Role.HANDLER, ["/run", "/leave", "/wall", "/spill"]),
        (Role.PLANT, ["/receive", "/load", "/spill"]),
    ],
)
def test_every_page_that_acts_opens_though_nobody_opened_it_before(
    signed_in: Visit, role: Role, pages: list[str]
) -> None:
    """They are kept when somebody has signed in; and where one begins is the first of them."""
    page = kept(signed_in(role, pages[-1]), *pages)
    cut(page)
    for address in pages:
        page.goto(address)
        expect(page.locator("#old")).to_be_visible()
        expect(page.locator("h1").first).not_to_have_text("No connection to the service")
    page.goto("/")
    assert page.url.endswith(pages[0])


def test_a_page_that_is_not_kept_says_so(signed_in: Visit) -> None:
    """And that nothing is lost by it."""
    page = kept(signed_in(Role.WARD, "/ward"), "/ward")
    cut(page)
    page.goto("/find")
    expect(page.locator("h1")).to_have_text("No connection to the service")
    expect(page.locator("main")).to_contain_text("kept here, and sent when there is a connection")


def test_a_service_that_hangs_is_not_waited_for(signed_in: Visit) -> None:
    """After some seconds the last copy is shown."""
    page = kept(signed_in(Role.WARD, "/ward"), "/ward")
    page.context.route("**/ward", lambda _: None)
    page.reload()
    expect(page.locator("#old")).to_be_visible()
    page.context.unroute_all(behavior="ignoreErrors")


# --- a shared telephone


def test_who_signs_out_leaves_no_page_behind(signed_in: Visit) -> None:
    """The next person sees nothing of theirs, with a network or without."""
    page = kept(signed_in(Role.WARD, "/me"), "/ward")
    page.get_by_role("button", name="Sign out", exact=True).click()
    page.wait_for_url("**/sign-in")
    assert in_cache(page.context) == 0
    cut(page)
    page.goto("/ward")
    expect(page.locator("h1")).to_have_text("No connection to the service")


def test_who_signs_out_without_a_network_is_signed_out_when_it_returns(signed_in: Visit) -> None:
    """Their pages are gone at once; the service is told before anything else is shown."""
    page = kept(signed_in(Role.WARD, "/me"), "/ward")
    page.goto("/ward")
    cut(page)
    page.evaluate("() => fetch('/v1/sign-out', { method: 'POST' })")
    page.goto("/ward")
    expect(page.locator("h1")).to_have_text("No connection to the service")
    page.context.set_offline(offline=False)
    page.goto("/ward")
    page.wait_for_url("**/sign-in?to=/ward")


def test_who_signs_in_after_somebody_finds_none_of_their_pages(signed_in: Visit) -> None:
    """Though nobody signed out."""
    page = kept(signed_in(Role.WARD, "/ward"), "/ward")
    signs_in(page, "p-handler")
    kept(page, "/run")
    cut(page)
    page.goto("/ward/today")
    expect(page.locator("h1")).to_have_text("No connection to the service")
    page.goto("/")
    assert page.url.endswith("/run")


def test_a_copy_that_the_service_gives_to_programs_is_never_kept(signed_in: Visit) -> None:
    """Of the JSON doors, only what a run has to know beforehand."""
    page = kept(signed_in(Role.HANDLER, "/run"), "/run")
    learnt(page)
    page.evaluate("() => fetch('/v1/containers')")
    asked = """async () => {
      const names = await caches.keys();
      const all = await Promise.all(names.map(async (n) => (await caches.open(n)).keys()));
      return all.flat().map((key) => new URL(key.url).pathname).filter((p) => p.startsWith("/v1"));
    }"""
    assert page.evaluate(asked) == []


# --- each flow without a network, and on return


@SCREENS
def test_a_run_without_a_network_stops_for_what_was_known_before(
    signed_in: Visit, yard: Yard, screen: dict[str, int], pictures: Path | None
) -> None:
    """What is late, open or of another unit; also after the browser was opened anew."""
    late, open_, foreign = (
        yard.bag(hours=60),
        yard.bag(closed=False),
        yard.bag(unit="theatres"),
    )
    page = kept(signed_in(Role.HANDLER, "/run", screen), "/run")
    learnt(page, late, open_, foreign)
    cut(page)
    page.goto("/run")
    begin(page, "Pick up", from_party="icu", to_party="handlers")
    for bag, says in ((late, "limit"), (open_, "not closed"), (foreign, "It is of")):
        scan(page, scanned(bag))
        expect(page.locator("#stop")).to_contain_text(says)
        page.get_by_role("button", name="Leave it here").click()
    counted(page, 0)
    picture(page, pictures, "offline-run")
    faultless(page)


@SCREENS
def test_what_could_not_be_known_is_recorded_and_comes_back(
    signed_in: Visit, yard: Yard, screen: dict[str, int], pictures: Path | None
) -> None:
    """It stands at the top of every page until it is seen, with the container and what to do."""
    page = kept(signed_in(Role.HANDLER, "/run", screen), "/run")
    stranger = yard.fresh()
    cut(page)
    begin(page, "Pick up", from_party="icu", to_party="handlers")
    scan(page, scanned(stranger))
    counted(page, 1)
    restored(page)
    back = page.locator("#came-back")
    expect(back).to_contain_text(grouped(stranger))
    page.goto("/leave")
    expect(back).to_contain_text(grouped(stranger))
    expect(back.locator(".state").first).not_to_be_empty()
    expect(back.locator(".next").first).not_to_be_empty()
    picture(page, pictures, "came-back")
    faultless(page)
    back.get_by_role("button", name="Seen, take them off").click()
    expect(back).to_be_hidden()
    page.reload()
    expect(back).to_be_hidden()
    assert len(yard.happened(stranger, "collected")) == 1


def test_what_a_ward_sealed_open_without_a_network_comes_back(signed_in: Visit, yard: Yard) -> None:
    """The finding, after the act, to who did it."""
    page, bag = kept(signed_in(Role.WARD, "/ward"), "/ward"), yard.fresh()
    cut(page)
    seal(page, bag, closed=False)
    restored(page)
    expect(page.locator("#came-back")).to_contain_text("not closed")
    page.reload()
    expect(page.locator("#came-back")).to_contain_text(grouped(bag))


def test_bags_are_put_in_outer_bags_without_a_network(signed_in: Visit, yard: Yard) -> None:
    """With the weight and the label of the outer one."""
    bag, outer = yard.bag(), yard.fresh()
    page = kept(signed_in(Role.HANDLER, "/run"), "/run")
    cut(page)
    page.reload()
    page.get_by_role("radio", name="Put in an outer bag").check()
    page.locator("[name=tare_g]").fill("85")
    page.get_by_role("checkbox", name="The outer bag has a label of its own").check()
    page.get_by_role("button", name="Begin").click()
    scan(page, scanned(bag))
    scan(page, scanned(outer))
    counted(page, 1)
    assert yard.happened(bag, "double_bagged") == []
    restored(page)
    [told] = yard.happened(bag, "double_bagged")
    assert (told.outer, told.tare_g) == (outer, 85)


def test_a_consignment_leaves_without_a_network(signed_in: Visit, yard: Yard) -> None:
    """Under the number that was shown; the same one when it is sent."""
    bag = yard.stored("ambient-store")
    page = kept(signed_in(Role.HANDLER, "/leave"), "/leave")
    learnt(page, bag)
    cut(page)
    page.reload()
    scan(page, scanned(bag))
    expect(page.locator("#kg")).to_have_text("3.400 kg")
    number = close(page)
    expect(page.locator("#kept")).to_be_visible()
    restored(page)
    [gone] = yard.happened(bag, "dispatched")
    assert gone.consignment == number


def test_a_consignment_is_counted_in_without_a_network(signed_in: Visit, yard: Yard) -> None:
    """Its list was kept when it was seen to be on its way; one bag is missing and one too many."""
    bags, stray = [yard.bag(hours=5) for _ in range(3)], yard.bag(hours=5)
    name = f"R-{bags[0][:6]}"
    said = {"consignment": name, "carrier": "carrier-quillow", "consignee": "plant-kiln"}
    yard.tell(event("dispatched", *bags, at=ago(2), vehicle="V-17", seal="T-1", **said))
    page = kept(signed_in(Role.PLANT, "/receive"), f"/receive?consignment={name}")
    cut(page)
    page.goto(f"/receive?consignment={name}")
    page.wait_for_selector("form[data-ready]")
    for bag in (*bags[:2], stray):
        burst(page, scanned(bag))
    page.locator("#party").select_option("plant-kiln")
    page.get_by_role("button", name="Compare").click()
    page.locator("#complete").check()
    page.locator("#take").click()
    expect(page.locator("#outcome")).to_contain_text("Kept on this device")
    restored(page)
    assert [len(yard.happened(bag, "received")) for bag in (*bags, stray)] == [1, 1, 0, 1]
    expect(page.locator("#came-back")).to_be_visible()


def test_a_load_and_a_spill_are_taken_down_without_a_network(
    signed_in: Visit, yard: Yard, house: Served
) -> None:
    """What could not be looked up says so."""
    bag = yard.bag()
    page = kept(signed_in(Role.PLANT, "/load"), "/load", "/spill")
    cut(page)
    page.goto("/load")
    page.wait_for_selector("form[data-ready]")
    page.locator("#step").select_option("autoclave")
    if page.locator("select#party").count():
        page.locator("#party").select_option("plant-kiln")
    page.locator("#cycle").fill("C-17")
    burst(page, scanned(bag))
    expect(page.locator("#on")).to_contain_text("not looked up")
    page.get_by_role("button", name="The cycle was run: record it").click()
    expect(page.locator("#outcome")).to_contain_text("Kept on this device")
    page.goto("/spill")
    page.get_by_label("What was done").fill("covered and disinfected")
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_text("It is kept on this device")).to_be_visible()
    before = recorded(house)
    restored(page)
    assert recorded(house) == before + 2
    assert len(yard.happened(bag, "treated")) == 1


# --- a whole shift


_SEAL_MANY = """async (bags) => {
  const { src } = document.querySelector('script[src*="queue.js"]');
  const { newEvent, record } = await import(src);
  const said = { category: "yellow-c", unit: "icu", container_kind: "bag", weight_g: 3400 };
  for (const bag of bags) await record(newEvent("registered", { containers: [bag], ...said }));
}"""
_SCAN_MANY = """codes => {
  const press = (key) => document.body.dispatchEvent(
    new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
  for (const code of codes) for (const key of [...code, "Enter"]) press(key);
}"""


def test_a_shift_of_300_registrations_and_600_scans_loses_and_doubles_nothing(
    signed_in: Visit, yard: Yard, house: Served
) -> None:
    """Two telephones, no network; the handler's comes back first, and the ward's afterwards."""
    bags = ids(300, seed=4711)
    before = recorded(house)
    ward = kept(signed_in(Role.WARD, "/ward"), "/ward")
    handler = kept(signed_in(Role.HANDLER, "/run"), "/run")
    for page in (ward, handler):
        cut(page)
        page.reload()
    ward.evaluate(_SEAL_MANY, bags)
    begin(handler, "Pick up", from_party="icu", to_party="handlers")
    handler.evaluate(_SCAN_MANY, [scanned(bag) for bag in bags])
    expect(handler.locator("#count")).to_have_text("300", timeout=120_000)
    handler.get_by_role("button", name="End the run").click()
    handler.get_by_role("link", name="Another run").click()
    begin(handler, "Put in a store", store="ambient-store")
    handler.evaluate(_SCAN_MANY, [scanned(bag) for bag in bags])
    expect(handler.locator("#count")).to_have_text("300", timeout=120_000)
    handler.reload()
    expect(handler.locator("#unsent")).to_contain_text(re.compile(r"^600 not yet sent"))
    expect(ward.locator("#unsent")).to_contain_text(re.compile(r"^300 not yet sent"))
    assert recorded(house) == before
    restored(handler)
    restored(ward)
    assert recorded(house) == before + 900
    assert set(entries(house, *bags).values()) == {3}
    view = yard.view(bags[-1])
    assert [h.event.kind for h in view.history.happened] == ["registered", "collected", "stored"]


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Path]:
    """Where a browser keeps what it keeps between two starts."""
    yield tmp_path / "profile"


def test_the_queue_and_the_ward_page_outlive_a_restart_of_the_browser(
    chromium: Browser, house: Served, yard: Yard, folder: Path
) -> None:
    """Started again without a network, it shows the page and what waits; all is sent on return."""
    kind: Any = chromium.browser_type
    bags = [yard.fresh() for _ in range(3)]

    def started() -> Page:
        context = kind.launch_persistent_context(
            str(folder), executable_path=CHROMIUM, args=FLAGS, viewport=PHONE,
            base_url=house.address,
        )  # fmt: skip
        return context.pages[0]  # type: ignore[no-any-return]

    page = started()
    signs_in(page, "p-ward")
    kept(page, "/ward")
    cut(page)
    page.evaluate(_SEAL_MANY, bags)
    page.context.close()

    page = started()
    cut(page)
    page.goto("/")
    assert page.url.endswith("/ward")
    expect(page.locator("#unsent")).to_contain_text(re.compile(r"^3 not yet sent"))
    page.context.set_offline(offline=False)
    if page.goto("/ward") and "/sign-in" in page.url:
        signs_in(page, "p-ward")  # a session may end with the browser; what waits does not
    expect(page.locator("#unsent")).to_be_hidden(timeout=30_000)
    page.context.close()
    assert entries(house, *bags) == dict.fromkeys(bags, 1)


def test_it_can_be_put_on_a_home_screen(signed_in: Visit) -> None:
    """A name, a beginning, a mark as drawing and as pictures (W3C Web Application Manifest)."""
    page = signed_in(Role.WARD, "/ward")
    told = json.loads(page.request.get("/app.webmanifest").text())
    assert (told["start_url"], told["scope"], told["display"]) == ("/", "/", "standalone")
    for icon in told["icons"]:
        answer = page.request.get(icon["src"])
        assert answer.headers["content-type"] == icon["type"]
    session = page.context.new_cdp_session(page)
    found = session.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert [each["errorId"] for each in found if each["errorId"] != "in-incognito"] == []


def test_a_time_told_by_a_clock_that_is_off_is_put_right(signed_in: Visit, yard: Yard) -> None:
    """Also of what was done hours before it was sent; what the device told stays on record."""
    ahead = "Date = class extends Date { constructor(...a) { super(...(a.length ? a : "
    ahead += "[Date.now()])); } static now() { return super.now() + 600_000; } };"
    page = signed_in(Role.WARD, "/me")
    page.add_init_script(ahead)
    page.goto("/ward")
    bag = yard.fresh()
    cut(page)
    made = sealed(bag, at="1999-01-01T00:00:00Z")
    said = {name: made[name] for name in ("category", "unit", "container_kind", "weight_g")}
    page.evaluate(
        """async (said) => {
          const { newEvent, record } = await import(
            document.querySelector('script[src*="queue.js"]').src);
          const told = newEvent("registered", said);
          await record({ ...told, occurred_at: new Date(Date.now() - 5 * 3_600_000) });
        }""",
        {"containers": [bag], **said},
    )
    restored(page)
    [found] = yard.view(bag).history.happened
    assert 598 <= found.entry.clock_offset_s <= 602
    assert abs((found.at - ago(5)).total_seconds()) < 60
    assert abs((found.event.occurred_at - ago(5)).total_seconds() - 600) < 60
