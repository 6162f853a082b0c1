"""A label is read from a photograph or a camera, by a browser that reads no codes itself.

Symbols are drawn by segno (ISO/IEC 18004).
"""

import base64
from io import BytesIO
from pathlib import Path
from typing import Any
from zlib import crc32

import pytest
import segno
from playwright.sync_api import Page, expect

from service.custody.identifiers import grouped
from service.custody.words import Role
from tests.api.client import ids, scanned
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served
from tests.browser.test_run import begin, counted, signalled
from tests.browser.yard import Yard, faultless, picture

SCREENS = pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
_fresh = iter(ids(100, seed=67))


@pytest.fixture
def yard(house: Served, request: pytest.FixtureRequest) -> Yard:
    """Waste of this test's own."""
    return Yard(house, seed=crc32(request.node.name.encode()))


def symbol(code: str) -> bytes:
    """A picture of a label's symbol."""
    out = BytesIO()
    segno.make(code, error="h", micro=False).save(out, kind="png", scale=8, border=6)
    return out.getvalue()


def photograph(page: Page, content: bytes) -> None:
    """Take one."""
    taken = {"name": "photo.png", "mimeType": "image/png", "buffer": content}
    page.locator("input[data-photo]").first.set_input_files(taken)  # type: ignore[arg-type]


def reading(signed_in: Visit, role: Role, address: str, screen: dict[str, int] = PHONE) -> Page:
    """Open a page in a browser that reads no codes itself."""
    page = signed_in(role, "/me", screen)
    page.add_init_script("delete globalThis.BarcodeDetector")
    page.goto(address)
    return page


def test_a_photograph_is_as_good_as_a_scan(signed_in: Visit) -> None:
    """The ward goes on to what is in the container."""
    page, bag = reading(signed_in, Role.WARD, "/ward"), next(_fresh)
    photograph(page, symbol(scanned(bag)))
    expect(page.locator("#choose")).to_be_visible()
    expect(page.locator("#choose [data-id]")).to_have_text(grouped(bag))


def test_what_holds_no_label_is_told(signed_in: Visit) -> None:
    """With what to do; the page stays where it was."""
    page = reading(signed_in, Role.WARD, "/ward")
    photograph(page, symbol("THE LAMP OVER THE DOOR"))
    expect(page.locator("[data-photos] [role=status]")).to_contain_text("No label was found")
    photograph(page, b"this is no picture")
    expect(page.locator("[data-photos] [role=status]")).to_contain_text("no picture")
    expect(page.locator("#scan")).to_be_visible()


def test_of_two_labels_somebody_says_which(signed_in: Visit) -> None:
    """Neither is taken by itself."""
    page, bags = reading(signed_in, Role.WARD, "/ward"), [next(_fresh), next(_fresh)]
    page.route(
        "**/v1/codes",
        lambda route: route.fulfill(
            json={"codes": [{"text": scanned(bag), "container": bag} for bag in bags]}
        ),
    )
    photograph(page, symbol("A"))
    page.get_by_role("button", name=grouped(bags[1])).click()
    expect(page.locator("#choose [data-id]")).to_have_text(grouped(bags[1]))


def test_without_a_network_a_photograph_waits_and_is_shown_when_it_was_read(
    signed_in: Visit,
) -> None:
    """The id can be typed meanwhile; a restart of the browser loses none; nothing is recorded."""
    page, bag = reading(signed_in, Role.WARD, "/ward"), next(_fresh)
    page.route("**/v1/codes", lambda route: route.abort("internetdisconnected"))
    photograph(page, symbol(scanned(bag)))
    told = page.locator("[data-photos] [role=status]")
    expect(told).to_contain_text("kept on this device")
    expect(page.locator("[data-photos] li")).to_contain_text("waits to be read")
    expect(page.locator("#typed")).to_be_enabled()
    page.reload()
    expect(page.locator("[data-photos] li")).to_contain_text("waits to be read")
    page.unroute("**/v1/codes")
    page.evaluate("dispatchEvent(new Event('online'))")
    read = page.locator("[data-photos] li").get_by_role("button", name=grouped(bag))
    expect(read).to_be_visible()
    expect(page.locator("#scan")).to_be_visible()
    page.reload()
    read.click()
    expect(page.locator("#choose [data-id]")).to_have_text(grouped(bag))
    expect(page.locator("[data-photos] li")).to_have_count(0)


def test_a_photograph_that_waits_can_be_thrown_away(signed_in: Visit) -> None:
    """Unread."""
    page = reading(signed_in, Role.WARD, "/ward")
    page.route("**/v1/codes", lambda route: route.abort("internetdisconnected"))
    photograph(page, symbol(scanned(next(_fresh))))
    page.get_by_role("button", name="Throw away").click()
    expect(page.locator("[data-photos] li")).to_have_count(0)
    page.reload()
    expect(page.locator("[data-photos] li")).to_have_count(0)


def test_so_many_photographs_wait_and_no_more(signed_in: Visit) -> None:
    """A telephone is not filled."""
    page = reading(signed_in, Role.WARD, "/ward")
    page.route("**/v1/codes", lambda route: route.abort("internetdisconnected"))
    content = symbol(scanned(next(_fresh)))
    for number in range(1, 21):
        photograph(page, content)
        expect(page.locator("[data-photos] li")).to_have_count(number)
    photograph(page, content)
    expect(page.locator("[data-photos] [role=status]")).to_contain_text("Too many")
    expect(page.locator("[data-photos] li")).to_have_count(20)


CAMERA = """
navigator.mediaDevices.getUserMedia = async () => {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [640, 480];
  const context = canvas.getContext("2d");
  globalThis.show = async (address) => {
    const picture = new Image();
    picture.src = address;
    await picture.decode();
    context.fillStyle = "grey";
    context.fillRect(0, 0, 640, 480);
    context.drawImage(picture, 100, 40, 400, 400);
  };
  setInterval(() => context.fillRect(0, 0, 1, 1), 40);
  await globalThis.show(globalThis.first);
  return canvas.captureStream(25);
};
"""


def _address(code: str) -> str:
    return "data:image/png;base64," + base64.b64encode(symbol(code)).decode()


def test_the_service_reads_what_the_camera_sees(signed_in: Visit, yard: Yard) -> None:
    """Frame after frame; a label in sight counts once."""
    bags = [yard.bag(), yard.bag()]
    page = signed_in(Role.HANDLER, "/me")
    page.add_init_script("delete globalThis.BarcodeDetector;" + CAMERA)
    page.goto("/run")
    begin(page, "Pick up", from_party="icu", to_party="handlers")
    page.evaluate("address => { globalThis.first = address }", _address(scanned(bags[0])))
    page.get_by_role("button", name="Camera").click()
    counted(page, 1)
    page.evaluate("address => globalThis.show(address)", _address(scanned(bags[1])))
    counted(page, 2)
    signalled(page, "good")
    assert [len(yard.happened(bag, "collected")) for bag in bags] == [1, 1]
    page.get_by_role("button", name="Camera").click()
    expect(page.locator("#view")).to_be_hidden()


def test_a_camera_without_a_network_says_so_and_goes_on(signed_in: Visit, yard: Yard) -> None:
    """As soon as it is back."""
    bag = yard.bag()
    page = signed_in(Role.HANDLER, "/me")
    page.add_init_script("delete globalThis.BarcodeDetector;" + CAMERA)
    page.goto("/run")
    begin(page, "Pick up", from_party="icu", to_party="handlers")
    page.route("**/v1/codes", lambda route: route.abort("internetdisconnected"))
    page.evaluate("address => { globalThis.first = address }", _address(scanned(bag)))
    page.get_by_role("button", name="Camera").click()
    expect(page.locator("#no-camera")).to_contain_text("no network")
    page.unroute("**/v1/codes")
    counted(page, 1)
    expect(page.locator("#no-camera")).to_be_hidden()


def test_a_slip_in_an_id_leads_to_those_that_are_one_slip_away(
    signed_in: Visit, yard: Yard
) -> None:
    """With the group in which the slip is."""
    bag = yard.bag()
    wrong = bag[:5] + ("7" if bag[5] != "7" else "8") + bag[6:]
    page = signed_in(Role.WARD, "/ward")
    page.locator("#typed").fill(wrong)
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("link", name="one slip away").click()
    expect(page.locator(".found")).to_contain_text("second group differs")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@SCREENS
def test_photographs_that_wait_can_be_used_by_all(
    signed_in: Visit, screen: dict[str, int], scheme: Any, pictures: Path | None
) -> None:
    """axe-core (WCAG 2.2 A and AA) finds nothing."""
    page = reading(signed_in, Role.WARD, "/ward", screen)
    page.emulate_media(color_scheme=scheme)
    page.route("**/v1/codes", lambda route: route.abort("internetdisconnected"))
    photograph(page, symbol(scanned(next(_fresh))))
    expect(page.locator("[data-photos] li")).to_have_count(1)
    faultless(page)
    picture(page, pictures, f"photo-waits-{scheme}")
    page.unroute("**/v1/codes")
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.locator("[data-photos] li button.id")).to_be_visible()
    faultless(page)
    picture(page, pictures, f"photo-read-{scheme}")
