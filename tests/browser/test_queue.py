"""What waits on a device: by whom it is sent, when, how often; a fault holds up nothing."""

import json
from datetime import UTC, datetime
from zlib import crc32

import pytest
from playwright.sync_api import Page, Route, expect

from service.access.caller import WHOLE, Caller
from service.custody.words import Role
from service.duties import administrator
from service.web.credentials import SESSION_COOKIE
from tests.api.client import scanned
from tests.browser.cellar import cut, entries, restored, signs_in
from tests.browser.conftest import Visit
from tests.browser.house import Served
from tests.browser.test_run import begin, counted
from tests.browser.yard import Yard

SEAL = """async ([bags, more]) => {
  const { newEvent, record } = await import(document.querySelector('script[src*="queue.js"]').src);
  const said = { category: "yellow-c", unit: "icu", container_kind: "bag", weight_g: 3400 };
  const all = bags.map((bag) => record(newEvent("registered", { containers: [bag], ...said, ...more })));
  return Promise.all(all);
}"""  # noqa: E501 - a program of the browser's
PROVOKED = ("Failed to load resource",)
PIN = "83910472"
AGAIN = "() => dispatchEvent(new Event('online'))"


@pytest.fixture
def yard(house: Served, request: pytest.FixtureRequest) -> Yard:
    """Waste of this test's own."""
    return Yard(house, seed=crc32(request.node.name.encode()))


def seal(page: Page, *bags: str, **more: object) -> None:
    """Seal bags, through what the page itself keeps them with."""
    page.evaluate(SEAL, [list(bags), more])


def sealed_in_the_cellar(page: Page, *bags: str) -> None:
    """Seal bags without a network, and be told that they wait."""
    cut(page)
    seal(page, *bags)
    expect(page.locator("#unsent")).to_contain_text(f"{len(bags)} not yet sent")


# --- one at fault among many


@pytest.mark.parametrize("status", [400, 413, 422])
def test_one_that_spoils_a_batch_is_found_and_shown_and_the_others_are_sent(
    signed_in: Visit, yard: Yard, house: Served, status: int
) -> None:
    """By halves; the reason is the service's own (RFC 9457, section 3.1: its ``detail``)."""
    bags = [yard.fresh() for _ in range(9)]
    page = signed_in(Role.WARD, "/ward")
    sealed_in_the_cellar(page, *bags)

    def spoilt(route: Route) -> None:
        if bags[4] in (route.request.post_data or ""):
            body = json.dumps({"detail": "this one cannot stand"})
            route.fulfill(status=status, content_type="application/problem+json", body=body)
        else:
            route.fallback()

    page.route("**/v1/events", spoilt)
    page.context.set_offline(offline=False)
    away = page.locator("#turned-away li")
    expect(away).to_have_count(1)
    expect(away).to_contain_text("this one cannot stand")
    expect(page.locator("#unsent")).to_be_hidden()
    found = entries(house, *bags)
    assert found.pop(bags[4]) == 0
    assert set(found.values()) == {1}


def test_one_that_the_service_fails_at_waits_and_holds_up_nothing(
    signed_in: Visit, yard: Yard, house: Served
) -> None:
    """It is no fault of who sealed it: it is tried again."""
    bags = [yard.fresh() for _ in range(5)]
    page = signed_in(Role.WARD, "/ward")
    sealed_in_the_cellar(page, *bags)
    page.route(
        "**/v1/events",
        lambda r: r.fulfill(status=500) if bags[0] in (r.request.post_data or "") else r.fallback(),
    )
    page.context.set_offline(offline=False)
    expect(page.locator("#unsent")).to_contain_text("1 not yet sent")
    assert entries(house, *bags) == dict.fromkeys(bags, 1) | {bags[0]: 0}
    page.unroute("**/v1/events")
    page.evaluate(AGAIN)
    expect(page.locator("#unsent")).to_be_hidden()
    assert entries(house, bags[0]) == {bags[0]: 1}


@pytest.mark.parametrize(("status", "kind"), [(200, "text/html"), (404, "text/html")])
def test_an_answer_that_is_not_the_services_counts_for_nothing(
    signed_in: Visit, yard: Yard, house: Served, status: int, kind: str
) -> None:
    """As of a network that asks for its own sign-in first."""
    bag = yard.fresh()
    page = signed_in(Role.WARD, "/ward")
    page.route(
        "**/v1/events", lambda r: r.fulfill(status=status, content_type=kind, body="<p>Welcome</p>")
    )
    seal(page, bag)
    expect(page.locator("#unsent")).to_contain_text("1 not yet sent")
    page.unroute("**/v1/events")
    page.evaluate(AGAIN)
    expect(page.locator("#unsent")).to_be_hidden()
    assert entries(house, bag) == {bag: 1}


def test_a_service_that_asks_to_wait_is_left_alone_so_long(
    signed_in: Visit, yard: Yard, house: Served
) -> None:
    """503 with Retry-After (RFC 9110, section 10.2.3): asked once, and again when it is over."""
    bag, asked = yard.fresh(), []
    page = signed_in(Role.WARD, "/ward")

    def busy(route: Route) -> None:
        asked.append(route.request)
        route.fulfill(status=503, headers={"Retry-After": "2"})

    page.route("**/v1/events", busy, times=1)
    seal(page, bag)
    for _ in range(3):
        page.evaluate(AGAIN)
    expect(page.locator("#unsent")).to_contain_text("1 not yet sent")
    assert len(asked) == 1
    assert entries(house, bag) == {bag: 0}
    expect(page.locator("#unsent")).to_be_hidden(timeout=10_000)
    assert entries(house, bag) == {bag: 1}


# --- in whose name


def test_who_is_no_longer_signed_in_is_told_to_and_then_it_is_sent(
    signed_in: Visit, yard: Yard, house: Served
) -> None:
    """Nothing is lost by a session that ended."""
    bag = yard.fresh()
    page = signed_in(Role.WARD, "/ward")
    page.context.clear_cookies()
    seal(page, bag)
    expect(page.locator("#unsent")).to_contain_text("sign in, and they are sent")
    signs_in(page, "p-ward")
    expect(page.locator("#unsent")).to_be_hidden()
    assert entries(house, bag) == {bag: 1}


def test_who_may_not_send_is_told_and_it_waits(signed_in: Visit, yard: Yard, house: Served) -> None:
    """403 is no fault of what was done."""
    bag = yard.fresh()
    page = signed_in(Role.WARD, "/ward")
    page.route("**/v1/events", lambda r: r.fulfill(status=403, body="{}"))
    seal(page, bag)
    expect(page.locator("#unsent")).to_contain_text("who is signed in may not send them")
    expect(page.locator("#turned-away")).to_be_hidden()


def test_what_one_did_is_not_sent_in_anothers_name(
    signed_in: Visit, yard: Yard, house: Served
) -> None:
    """It waits for who did it, and the one who is signed in is told that something does."""
    bag = yard.fresh()
    page = signed_in(Role.WARD, "/ward")
    page.route("**/v1/events", lambda r: r.abort())
    seal(page, bag)
    signs_in(page, "p-handler")
    page.unroute("**/v1/events")
    page.goto("/run")
    expect(page.locator("#unsent")).to_contain_text("1 made by somebody else")
    page.evaluate(AGAIN)
    expect(page.locator("#unsent")).to_contain_text("1 made by somebody else")
    assert entries(house, bag) == {bag: 0}
    with page.expect_response("**/v1/events"):
        signs_in(page, "p-ward")
    expect(page.locator("#unsent")).to_be_hidden()
    [found] = yard.happened(bag, "registered")
    assert found.actor == "p-ward"


def test_what_came_back_to_one_is_shown_to_no_other(signed_in: Visit, yard: Yard) -> None:
    """And stays for who did it."""
    page = signed_in(Role.WARD, "/ward")
    seal(page, yard.fresh(), unit="nowhere")
    expect(page.locator("#turned-away")).to_contain_text("nowhere")
    signs_in(page, "p-handler")
    page.goto("/run")
    expect(page.locator("h1")).to_be_visible()
    expect(page.locator("#turned-away")).to_be_hidden()
    signs_in(page, "p-ward")
    expect(page.locator("#turned-away")).to_contain_text("nowhere")


def test_an_enrolled_device_hands_on_what_others_did_at_it(
    visit: Visit, yard: Yard, house: Served
) -> None:
    """Under their names; what the service does not take from it so waits for who did it."""
    now, head = datetime.now(UTC), Caller(house.facility, "tests", Role.ADMINISTRATOR)
    code = administrator.invite_device(house.store, head, "ward-phone-7", Role.WARD, WHOLE, now)
    page = visit("/sign-in")
    assert told(page, "/v1/devices/enrolment", code=code, keep="cookie") == 201
    badges = {
        one: administrator.issue_badge(house.store, head, one, now)
        for one in ("p-ward", "p-handler")
    }

    def shows_badge(person: str, pin: str, **more: str) -> None:
        page.goto("/sign-in")
        badge = badges[person].code
        assert told(page, "/v1/sign-in/badge", badge=badge, pin=pin, **more) == 200
        page.goto("/me")

    shows_badge("p-ward", badges["p-ward"].first_pin, new_pin=PIN)
    bags = [yard.fresh(), yard.fresh()]
    page.route("**/v1/events", lambda r: r.abort())
    seal(page, bags[0])
    seal(page, bags[1], unit="nowhere")
    page.unroute("**/v1/events")
    page.context.clear_cookies(name=SESSION_COOKIE)
    shows_badge("p-handler", badges["p-handler"].first_pin, new_pin=PIN)
    page.evaluate(AGAIN)
    expect(page.locator("#unsent")).to_contain_text("1 made by somebody else")
    expect(page.locator("#turned-away")).to_be_hidden()
    [found] = yard.happened(bags[0], "registered")
    assert (found.actor, bool(found.device)) == ("p-ward", True)
    shows_badge("p-ward", PIN)
    expect(page.locator("#turned-away")).to_contain_text("nowhere")


def told(page: Page, door: str, **said: str) -> int:
    """Post something from a page; give the status of the answer."""
    posted = """([door, said]) => fetch(door, { method: "POST", body: JSON.stringify(said),
      headers: { "Content-Type": "application/json" } }).then((answer) => answer.status)"""
    return int(page.evaluate(posted, [door, said]))


# --- more windows than one


def test_two_windows_of_a_device_double_nothing(
    signed_in: Visit, yard: Yard, house: Served
) -> None:
    """They share what waits, and one sends at a time (Web Locks); both say when it is sent."""
    bags = [yard.fresh() for _ in range(40)]
    one = signed_in(Role.WARD, "/ward")
    two = one.context.new_page()
    two.goto("/ward")
    sent: list[str] = []
    for page in (one, two):
        page.on("request", lambda r: sent.append(r.post_data or "") if "/events" in r.url else None)
    cut(one)
    seal(one, *bags[:20])
    seal(two, *bags[20:])
    for page in (one, two):
        expect(page.locator("#unsent")).to_contain_text("40 not yet sent")
    sent.clear()
    restored(one)
    expect(two.locator("#unsent")).to_be_hidden()
    assert set(entries(house, *bags).values()) == {1}
    whole = "".join(sent)
    assert {whole.count(f'"{bag}"') for bag in bags} == {1}


# --- the hand scanner


def test_a_hand_scanner_may_end_with_tab(signed_in: Visit, yard: Yard) -> None:
    """Many are set up so; fingers still go from field to field by it."""
    bags = [yard.bag(), yard.bag()]
    page = signed_in(Role.HANDLER, "/run")
    begin(page, "Pick up", from_party="icu", to_party="handlers")
    page.keyboard.type(scanned(bags[0]))
    page.keyboard.press("Tab")
    counted(page, 1)
    field = page.get_by_label("Or type what stands under the symbol")
    field.focus()
    page.keyboard.type(scanned(bags[1]))
    page.keyboard.press("Tab")
    counted(page, 2)
    field.fill("")
    field.focus()
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Enter")).to_be_focused()
