"""What is promised of the pages, measured: weight, reach, size of targets, grey, keyboard."""

from io import BytesIO
from itertools import combinations, pairwise
from typing import Any
from zlib import crc32

import pytest
from PIL import Image, ImageStat
from playwright.sync_api import Locator, Page, expect

from service.custody.words import Role, Severity
from service.pages.places import places_of
from tests.api.client import event, scanned
from tests.browser.cellar import kept
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served
from tests.browser.officers import seated
from tests.browser.yard import Yard, ago, faultless, scan

ACTING = [
    (role, place.address)
    for role in (Role.WARD, Role.HANDLER, Role.PLANT)
    for place in places_of(role)
]
DESKS = [(Role.OFFICER, p.address) for p in places_of(Role.OFFICER)]
DESKS += [(Role.ADMINISTRATOR, "/people"), (Role.OFFICER, "/regimes")]
OPEN = [(None, "/sign-in"), (None, "/begin"), (None, "/no-network")]


@pytest.fixture(scope="module", autouse=True)
def waste(house: Served) -> Yard:
    """Something of each kind on record, so that no page is empty."""
    yard = Yard(house, seed=crc32(b"measured"))
    yard.bag(hours=60)
    yard.bag(unit="theatres", closed=False)
    stored = yard.stored("ambient-store", hours=50)
    yard.stored("ambient-store")
    said = {"consignment": "C-1", "carrier": "carrier-quillow", "consignee": "plant-kiln"}
    yard.tell({**_dispatched(stored), **said})
    return yard


def _dispatched(container: str) -> dict[str, Any]:
    return event("dispatched", container, at=ago(1), vehicle="V-17", seal="T-1")


@pytest.fixture
def opened(visit: Visit, house: Served) -> Any:
    """Open a page as somebody of a role."""

    def open_(role: Role | None, address: str, screen: dict[str, int]) -> Page:
        if role is None:
            return visit(address, screen)
        return seated(house, visit, role, address, screen)

    return open_


# --- weight


def test_the_ward_page_is_light(opened: Any, house: Served) -> None:
    """At most 100 kB at first, with all that the device keeps; at most 30 kB from then on."""
    page = opened(Role.WARD, "/sign-in", PHONE)  # a new browser: nothing is kept
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    counted: list[int] = []
    session.on("Network.loadingFinished", lambda told: counted.append(told["encodedDataLength"]))
    house.sent.clear()
    page.goto("/ward")
    kept(page, "/ward", "/ward/today", "/spill")
    first, by_service = sum(counted), sum(size for _, size in house.sent)
    counted.clear()
    house.sent.clear()
    page.reload()
    page.wait_for_load_state("networkidle")
    again, again_by_service = sum(counted), sum(size for _, size in house.sent)
    assert 1000 < first <= 100_000
    assert by_service <= 100_000
    assert max(again, again_by_service) <= 30_000


# --- zoom, size, schemes

_TOO_WIDE = """() => {
  const most = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= Math.min(most, innerWidth)) return [];
  return [...document.querySelectorAll("body *")]
    .filter((e) => !e.closest(".wide") && e.getBoundingClientRect().right > most + 1)
    .map((e) => e.outerHTML.slice(0, 90)).concat("it scrolls");
}"""

_SMALL = """() => {
  const seen = (e) => e.checkVisibility({ visibilityProperty: true }) && !e.closest(".skip");
  const inText = (e) => e.tagName === "A" && ["inline", "inline-block"].includes(getComputedStyle(e).display)
    && !e.closest("nav, .acts") && !e.matches(".button");
  const box = (e) => (e.matches("[type=checkbox], [type=radio], .out") ? e.closest("label") ?? e : e);
  return [...document.querySelectorAll("a[href], button, input, select, textarea, summary")]
    .filter((e) => seen(e) && !inText(e))
    .map((e) => [box(e).getBoundingClientRect(), e.outerHTML.slice(0, 90)])
    .filter(([r]) => r.height < 43.9 || r.width < 43.9)
    .map(([r, html]) => `${Math.round(r.width)} x ${Math.round(r.height)} ${html}`);
}"""  # noqa: E501 - a program of the browser's

_HEADINGS = """() => [...document.querySelectorAll("main :is(h1,h2,h3,h4)")]
  .filter((e) => e.checkVisibility()).map((e) => Number(e.tagName[1]))"""


@pytest.mark.parametrize(
    ("role", "address"),
    list(dict.fromkeys([*ACTING, *DESKS, *OPEN])),
    ids=lambda v: str(v).strip("/").replace("/", "-"),
)
def test_no_page_shuts_anybody_out(opened: Any, role: Role | None, address: str) -> None:
    """By day, by night, at any size and to whoever listens: WCAG 2.2, A and AA, and more.

    axe-core finds nothing in either scheme. Headings go down step by step (1.3.1). Where people
    act in gloves, what they press is 44 by 44 (2.5.5, level AAA), but for links within a sentence.
    Nothing scrolls sideways but tables at 320 wide and at 200 % on a desk of 1280 (1.4.4, 1.4.10).
    """
    page = opened(role, address, PHONE)
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        faultless(page)
    levels = page.evaluate(_HEADINGS)
    assert levels[:1] == [1]
    assert all(deeper - level <= 1 for level, deeper in pairwise(levels))
    if (role, address) in ACTING:
        assert page.evaluate(_SMALL) == []
    for width, height in ((320, 640), (640, 512)):
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate(_TOO_WIDE) == []


def test_what_is_pressed_while_sealing_and_scanning_is_large(opened: Any, waste: Yard) -> None:
    """In every state of the ward's page, of a run, and where it stops."""
    page = opened(Role.WARD, "/ward", PHONE)
    scan(page, waste.fresh())
    assert page.evaluate(_SMALL) == []
    page.locator('[data-category="yellow-c"]').click()
    assert page.evaluate(_SMALL) == []
    page.get_by_role("button", name="Sealed: record it").click()
    expect(page.locator("#done")).to_be_visible()
    assert page.evaluate(_SMALL) == []
    page = opened(Role.HANDLER, "/run", PHONE)
    page.get_by_role("radio", name="Pack into").check()
    page.get_by_role("button", name="Begin").click()
    assert page.evaluate(_SMALL) == []
    scan(page, "0000-0000-0001")
    expect(page.locator("#stop")).to_be_visible()
    assert page.evaluate(_SMALL) == []


# --- without colour


def _grey(place: Locator) -> Image.Image:
    return Image.open(BytesIO(place.screenshot())).convert("L")


def _contrast(image: Image.Image) -> float:
    """WCAG 2.2, definition of contrast ratio, between the darkest and the lightest of a picture."""

    def luminance(grey: float) -> float:
        part = grey / 255
        return part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)

    dark, light = (luminance(level) for level in image.getextrema())  # type: ignore[arg-type]
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_how_something_stands_is_told_without_colour(opened: Any, scheme: Any) -> None:
    """Each state has its word and its edge; in greys it can be read, and no two look alike."""
    page = opened(Role.WARD, "/ward", PHONE)
    page.emulate_media(color_scheme=scheme)
    states = [*Severity, "good"]
    add = """(states) => document.querySelector("main").replaceChildren(...states.map((one) => {
      const made = document.createElement("p");
      made.innerHTML = `<span class="state ${one}">word</span>`;
      return made;
    }))"""
    page.evaluate(add, [str(state) for state in states])
    greys = [_grey(page.locator(f".state.{state}")) for state in states]
    assert all(_contrast(grey) >= 4.5 for grey in greys)
    edges = [
        page.locator(f".state.{state}").evaluate(
            "(e) => { const s = getComputedStyle(e);"
            " return `${s.borderTopStyle} ${s.borderTopWidth} ${s.backgroundImage}`; }"
        )
        for state in states
    ]
    unsafe = states.index(Severity.UNSAFE)  # it is filled; its edge is the plain one
    assert len(set(edges[:unsafe] + edges[unsafe + 1 :])) == len(edges) - 1
    filled, plain = (ImageStat.Stat(greys[at]).mean[0] for at in (unsafe, -1))
    assert abs(filled - plain) > 40


def test_categories_are_told_apart_without_colour(opened: Any, waste: Yard) -> None:
    """By a letter that no other has, and beside it the name and the colour's own word."""
    page = opened(Role.WARD, "/ward", PHONE)
    scan(page, waste.fresh())
    letters = page.locator("#choose .letter").all_inner_texts()
    assert len(letters) > 3
    assert len(set(letters)) == len(letters)
    flags = [_grey(flag) for flag in page.locator("#choose .flag").all()]
    assert all(_contrast(flag) >= 4.5 for flag in flags)
    assert all(a.tobytes() != b.tobytes() for a, b in combinations(flags, 2))
    assert all(page.locator("#choose .name").all_inner_texts())
    assert all(page.locator("#choose .colour").all_inner_texts())


def test_colours_that_a_person_sets_are_kept(opened: Any, waste: Yard) -> None:
    """With forced colours (CSS Color Adjustment 1, section 3) states keep their words and edges."""
    page = opened(Role.HANDLER, "/run", PHONE)
    page.emulate_media(forced_colors="active")
    faultless(page)
    page.get_by_role("radio", name="Pack into").check()
    page.get_by_role("button", name="Begin").click()
    scan(page, waste.fresh())
    scan(page, scanned(waste.fresh()))
    state = page.locator("#stop .state").first
    expect(state).to_be_visible()
    assert state.evaluate("(e) => getComputedStyle(e).borderTopStyle") != "none"
    assert _contrast(_grey(state)) >= 4.5


# --- keys and taps


def test_a_bag_is_registered_by_keyboard_alone(opened: Any, waste: Yard) -> None:
    """From the top of the page, in the order in which it stands there (WCAG 2.2, 2.1.1, 2.4.3)."""
    page, bag = opened(Role.WARD, "/ward", DESK), waste.fresh()
    tab_to(page, "#typed")
    page.keyboard.type(bag, delay=0)
    page.keyboard.press("Enter")
    tab_to(page, '[data-category="yellow-c"]')
    page.keyboard.press("Enter")
    tab_to(page, "#weight")
    page.keyboard.type("3.4")
    tab_to(page, "#seal button")
    page.keyboard.press("Enter")
    expect(page.locator("#done [data-told]")).to_contain_text("is on record")
    tab_to(page, "[data-again]")
    page.keyboard.press("Enter")
    expect(page.locator("#scan")).to_be_visible()
    [told] = waste.happened(bag, "registered")
    assert told.weight_g == 3400


def tab_to(page: Page, place: str) -> None:
    """Press Tab until the cursor is there; it must be seen where it is."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("(place) => document.activeElement.matches(place)", place):
            outline = "() => getComputedStyle(document.activeElement).outlineStyle"
            assert page.evaluate(outline) != "none"
            return
    pytest.fail(f"no key leads to {place}")


def test_a_usual_bag_takes_one_scan_and_three_taps(opened: Any, waste: Yard) -> None:
    """Every press of a finger is counted by the browser itself."""
    page, bag = opened(Role.WARD, "/ward", PHONE), waste.fresh()
    page.evaluate(
        "() => { globalThis.taps = 0; addEventListener('pointerdown', () => taps++, true) }"
    )
    scan(page, scanned(bag))
    page.locator('[data-category="yellow-c"]').click()
    page.locator("#weight").click()
    page.keyboard.type("3.4")
    page.get_by_role("button", name="Sealed: record it").click()
    expect(page.locator("#done [data-told]")).to_contain_text("is on record")
    assert page.evaluate("() => taps") <= 3
    assert waste.view(bag).standing.state == "registered"
