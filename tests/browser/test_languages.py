"""Pages in Hindi and in Arabic: the whole work of a ward, and no English that is not marked."""

from datetime import datetime, timedelta
from itertools import count
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Page, expect

from service.custody.words import Role
from service.pages.language import COOKIE, DOORS, language
from tests.api.client import event, ids, sealed
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import PASSWORD, Served
from tests.browser.officers import faults
from tests.browser.plants import NOW, OnRecord, ready, scan
from tests.browser.test_cycles import drop, run
from tests.browser.test_load import AtPlant
from tests.machines import FAILING

TAGS = ("hi", "ar")
ROLES: dict[Role, tuple[str, ...]] = {
    Role.WARD: ("/ward", "/ward/today", "/spill", "/me"),
    Role.HANDLER: ("/run", "/leave?store=ambient-store", "/wall"),
    Role.PLANT: ("/receive", "/load"),
    Role.INSPECTOR: (
        "/desk",
        "/find",
        "/balance",
        "/figures",
        "/plan?days=3",
        "/quarter",
        "/cycles",
        "/machines",
        "/regimes",
        "/regimes/india-2016",
    ),
    Role.OFFICER: ("/settings",),
    Role.ADMINISTRATOR: ("/people",),
}
_seeds = count(88_000)

LINGUA = """() => {
  const allowed = "[lang=en], bdi, .id, .code, script, option[dir=auto], time, input";
  const words = /[A-Za-z]{2,}/g;
  const signs = new Set(["kg", "PIN", "ZIP", "PDF", "CSV", "XLSX", "GS1", "EPCIS", "GS", "OIML", "custody", "JSON", "SHA", "min", "kPa"]);
  const found = [];
  const marked = new Set([...document.querySelectorAll("[lang=en], bdi")].map((one) => one.textContent));
  const look = (element, text) => {
    if (element.tagName === "TITLE") for (const each of marked) text = text.replace(each, "");  // it bears no marks
    for (const word of text.replace(/([0-9A-Z]{4} ?){3}/g, "").match(words) ?? []) {
      if (!signs.has(word) && !element.closest(allowed)) found.push(`${text.trim().slice(0, 80)} <${element.tagName}>`);
    }
  };
  const walker = document.createTreeWalker(document.documentElement, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) look(walker.currentNode.parentElement, walker.currentNode.data);
  for (const element of document.querySelectorAll("[aria-label], [placeholder], [title]")) {
    for (const name of ["aria-label", "placeholder", "title"]) look(element, element.getAttribute(name) ?? "");
  }
  return [...new Set(found)];
}"""  # noqa: E501 - a program of the browser's
"""Texts with words of Latin letters that are neither marked as English, nor a name, nor an id."""


def enters(visit: Visit, role: Role, tag: str) -> Page:
    """Sign in with a browser that asks for a language."""
    page = visit("/sign-in", locale=tag)
    page.locator("#person").fill(f"p-{role}")
    page.locator("#password").fill(PASSWORD)
    page.locator("form[data-door='/v1/sign-in'] button").click()
    page.wait_for_url(lambda url: "/sign-in" not in url)
    return page


def fair(page: Page, tag: str, label: str) -> None:
    """In its language and direction, open to all, and no wider than the screen."""
    root = page.locator("html")
    assert root.get_attribute("lang") == tag, label
    assert root.get_attribute("dir") == ("rtl" if tag == "ar" else "ltr"), label
    assert page.evaluate(LINGUA) == [], label
    fits(page, label)
    assert faults(page) == [], label


def fits(page: Page, label: str) -> None:
    """No wider than the screen."""
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert wide <= 0, label


@pytest.fixture(scope="module")
def waste(house: Served) -> list[str]:
    """Something wrong of every severity, something in a store, a consignment on the road."""
    record = OnRecord(house)
    bags = ids(6, next(_seeds))
    full, gone, late, stored, sent, stray = bags
    record.tell(
        sealed(full, NOW - timedelta(hours=3), fill_fraction=0.95),
        sealed(gone, NOW - timedelta(hours=3)),
        sealed(late, NOW - timedelta(days=20)),
        *(sealed(each, NOW - timedelta(hours=5)) for each in (stored, sent, stray)),
    )
    record.tell(
        event("lost", gone, at=NOW - timedelta(hours=2), last_seen="ambient-store"),
        event("collected", stored, at=NOW - timedelta(hours=4), from_party="icu",
              to_party="handlers", protective_gear=True),
        event("stored", stored, at=NOW - timedelta(hours=3), store="ambient-store"),
        event("dispatched", sent, at=NOW - timedelta(hours=2), consignment="R-77",
              carrier="carrier-quillow", consignee="plant-kiln", vehicle="V-17", seal="T-9"),
    )  # fmt: skip
    return bags


@pytest.mark.parametrize("tag", TAGS)
def test_a_ward_seals_a_bag_from_signing_in_to_the_end(
    visit: Visit, house: Served, tag: str, pictures: Path | None
) -> None:
    """What is said at each step is in its language; the record is the same as any other."""
    said = language(tag).words.gettext
    page, bag = enters(visit, Role.WARD, tag), ids(1, next(_seeds))[0]
    page.goto("/ward")
    expect(page.get_by_role("heading", name=said("Scan the label"))).to_be_visible()
    page.wait_for_load_state("networkidle")
    page.locator("#typed").fill("ABC")
    page.get_by_role("button", name=said("Go on")).click()
    expect(page.locator("#slip")).to_contain_text(said(
        "This is no label of a container: an id has twelve characters, in three groups of four."
    ))  # fmt: skip
    fair(page, tag, "a slip")
    scan(page, bag)
    expect(page.get_by_role("heading", name=said("What is in it?"))).to_be_visible()
    fair(page, tag, "choosing")
    _picture(page, pictures, f"ward-choose-{tag}")
    page.locator('[data-category="yellow-c"]').click()
    page.locator("#weight").fill("٣٫٤" if tag == "ar" else "३.४")
    page.locator("#closed").uncheck()
    fair(page, tag, "weighing")
    _picture(page, pictures, f"ward-weigh-{tag}")
    page.get_by_role("button", name=said("Sealed: record it")).click()
    told = page.locator("#done [data-told]")
    expect(told).to_contain_text(said("is on record."))
    expect(told).to_contain_text(said("It may be kept until"))
    wrong = page.locator("#done [data-wrong] li")
    expect(wrong).to_contain_text(said("packing: open"))
    expect(wrong).to_contain_text(said("Close it before anybody moves it."))
    expect(wrong.locator("[lang=en]")).to_have_text("not closed when it was registered")
    fair(page, tag, "done")
    _picture(page, pictures, f"ward-done-{tag}")
    assert OnRecord(house).container(bag).standing.weight_g == 3400


@pytest.mark.parametrize("tag", TAGS)
@pytest.mark.parametrize("role", ROLES)
def test_no_page_speaks_english_unmarked(
    signed_in: Visit, waste: list[str], role: Role, tag: str, pictures: Path | None
) -> None:
    """On a telephone and at a desk; nothing is wider than the screen, nobody is shut out."""
    page = signed_in(role, "/me", locale=tag)
    for address in (*ROLES[role], f"/containers/{waste[1]}"):
        page.set_viewport_size(PHONE)  # type: ignore[arg-type]
        answer = page.goto(address)
        assert answer is not None
        assert (answer.status, page.url.endswith(address)) == (200, True)
        fair(page, tag, address)
        name = address.split("?")[0].strip("/").split("/")[0]
        _picture(page, pictures, f"{name}-phone-{tag}")
        page.set_viewport_size(DESK)  # type: ignore[arg-type]
        fits(page, address)
        _picture(page, pictures, f"{name}-desk-{tag}")


def test_a_cycle_is_told_in_each_language(signed_in: Visit, house: Served) -> None:
    """With its verdict, its trace and what is asked for next."""
    here = AtPlant(house)
    page = ready(signed_in(Role.PLANT, "/load"))
    run(page, here, f"K-{here.red[:8]}")
    drop(page, FAILING)
    expect(page.locator("#verdict")).to_have_text("failed")
    for tag in TAGS:
        page.locator(f"[data-language={tag}]").click()
        expect(page.locator("#verdict")).to_have_text(language(tag).words.gettext("failed"))
        fair(page, tag, "a cycle")
        page.get_by_role("link", name=language(tag).words.gettext("Cycles"), exact=True).click()
        fair(page, tag, "cycles")
        page.go_back()


@pytest.mark.parametrize("tag", TAGS)
def test_a_run_stops_in_the_language_of_who_walks_it(
    signed_in: Visit, waste: list[str], tag: str, pictures: Path | None
) -> None:
    """For what is late; the clause and the figures are the law's and the service's, and marked."""
    said = language(tag).words.gettext
    page = signed_in(Role.HANDLER, "/run", locale=tag)
    page.wait_for_load_state("networkidle")
    page.locator("[name=way][value=collected]").check()
    page.locator("[name=from_party]").select_option("icu")
    page.locator("[name=gear][value=worn]").check()
    page.locator("#begin").click()
    scan(page, waste[2])
    expect(page.locator("#stop-list")).to_contain_text(said("holding: exceeded"))
    expect(page.locator("#stop-seen")).to_have_text(said("Take it all the same"))
    fair(page, tag, "a stop")
    _picture(page, pictures, f"run-stop-{tag}")
    page.locator("#stop-leave").click()
    expect(page.locator("#heard")).to_contain_text(
        said("{id} was left: nothing is recorded of it").replace("{id}", "").strip()
    )


@pytest.mark.parametrize("tag", TAGS)
def test_a_consignment_is_counted_in(
    signed_in: Visit, waste: list[str], tag: str, pictures: Path | None
) -> None:
    """With what was not on the list; findings name the rule."""
    said = language(tag).words.gettext
    page = signed_in(Role.PLANT, "/receive?consignment=R-77", locale=tag)
    page.wait_for_selector("form[data-ready]")
    scan(page, waste[4])
    scan(page, waste[5])
    page.locator("#compare").click()
    expect(page.locator("#differences")).to_be_visible()
    expect(page.locator("[data-difference=extra]")).to_contain_text(said("Not on the list:"))
    fair(page, tag, "differences")
    _picture(page, pictures, f"receive-{tag}")


def test_a_language_is_chosen_at_the_foot_before_anybody_has_signed_in(visit: Visit) -> None:
    """By its own name; it stays chosen on this browser, whatever that asks for."""
    page = visit("/sign-in", locale="hi")
    page.get_by_role("button", name=language("ar").name).click()
    expect(page.locator("html")).to_have_attribute("dir", "rtl")
    expect(page.locator("footer [aria-current]")).to_have_text(language("ar").name)
    expect(page.locator("footer p")).to_have_text(
        language("ar").words.gettext(
            "Machine-made translation, to be reviewed by a speaker. Where it is unclear, "
            "the English text holds."
        )
    )
    [kept] = [each for each in page.context.cookies() if each["name"] == COOKIE]
    assert (kept["value"], kept["secure"], kept["path"]) == ("ar", True, "/")
    page.get_by_role("button", name="English").click()
    expect(page.locator("h1")).to_have_text("Sign in")
    expect(page.locator("footer p")).to_have_count(0)


@pytest.mark.parametrize("tag", TAGS)
def test_what_the_service_says_word_for_word_is_in_the_catalogue(visit: Visit, tag: str) -> None:
    """Anything else it says is marked as the English that it is."""
    page = visit("/sign-in", locale=tag)
    told = page.evaluate(
        "async (said) => { const { told } = await import("
        "document.querySelector('script[src*=\"language.js\"]').src);"
        "return said.map((each) => [told(each).textContent, told(each).lang ?? '']); }",
        [DOORS[0], "too many attempts failed: try again in 7 s"],
    )
    assert told == [
        [language(tag).words.gettext(DOORS[0]), ""],
        ["too many attempts failed: try again in 7 s", "en"],
    ]


@pytest.mark.parametrize("tag", TAGS)
def test_a_wards_first_load_stays_small(house: Served, signed_in: Visit, tag: str) -> None:
    """Under 100 kB with all it fetches: no catalogue comes to the browser, but the words used."""
    page = signed_in(Role.WARD, "/me", locale=tag)
    page.evaluate("caches.keys().then((all) => all.map((each) => caches.delete(each)))")
    fresh = page.context.new_cdp_session(page)
    fresh.send("Network.setCacheDisabled", {"cacheDisabled": True})
    house.sent.clear()
    page.goto("/ward")
    page.wait_for_load_state("networkidle")
    assert 10_000 < sum(size for _, size in house.sent) < 100_000


@pytest.mark.parametrize("tag", ("en", *TAGS))
def test_times_that_a_script_writes_are_the_facilitys(signed_in: Visit, tag: str) -> None:
    """On a telephone that stands in another zone, in the figures that labels have."""
    page = signed_in(Role.WARD, "/me", locale="en", timezone_id="America/Lima")
    page.locator(f"[data-language={tag}]").click()
    expect(page.locator("html")).to_have_attribute("lang", tag)
    asked = (
        "async () => (await import(document.querySelector('script[src*=\"language.js\"]').src))"
        ".moment('2026-07-31T20:00:00Z')"
    )
    written = page.evaluate(asked)
    assert "01:30" in written  # 31 July 20:00 UTC is 1 August 01:30 at +05:30
    assert written.startswith("1 ") or "Aug 1" in written


@pytest.mark.parametrize("zone", ["Asia/Kolkata", "Europe/London", "America/St_Johns"])
def test_times_that_are_written_into_a_form_are_the_facilitys(signed_in: Visit, zone: str) -> None:
    """Wherever the device stands, also on the days on which clocks are set (IANA tz database)."""
    page = signed_in(Role.WARD, "/me", timezone_id="Pacific/Auckland")
    written = [
        *("2026-01-01T00:00", "2026-03-08T03:30", "2026-03-29T00:30", "2026-03-29T02:30"),
        *("2026-07-31T20:00", "2026-10-25T00:30", "2026-10-25T02:30", "2026-11-01T02:30"),
    ]
    asked = """async ([zone, written]) => {
      document.body.dataset.zone = zone;
      const own = document.querySelector('script[src*="language.js"]').src;
      const { instant } = await import(`${own}?zone`);
      return written.map((each) => instant(each).toISOString());
    }"""
    read = page.evaluate(asked, [zone, written])
    expected = [datetime.fromisoformat(each).replace(tzinfo=ZoneInfo(zone)) for each in written]
    assert [datetime.fromisoformat(each) for each in read] == expected


def _picture(page: Page, folder: Path | None, name: str) -> None:
    if folder is not None:
        page.screenshot(path=folder / f"{name}.png", full_page=True)
