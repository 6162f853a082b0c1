"""What is set, who may come in and as what, and a wall that nobody is signed in on."""

from datetime import UTC, datetime, time, timedelta

import pytest
from playwright.sync_api import Page, expect

from service.access.caller import WHOLE, Scope
from service.custody.words import Role
from service.duties import administrator, signing_in
from service.duties.access import Caller
from service.store import identities
from service.web.credentials import DEVICE_COOKIE
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served, person
from tests.browser.officers import faults, seated
from tests.browser.yard import Yard

SCREENS = pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])


@SCREENS
def test_what_is_set_is_shown_with_what_changes_it(
    house: Served, visit: Visit, screen: dict[str, int]
) -> None:
    """And an authorisation that has ended stands out by a word."""
    page = seated(house, visit, Role.OFFICER, "/settings", screen)
    for part in (
        "Facility",
        "Rules in force",
        "Units",
        "Stores",
        "Scales",
        "Record, logs and keys",
    ):
        expect(page.get_by_role("heading", name=part, exact=True)).to_be_visible()
    expect(page.get_by_role("row", name="Tressel Vans")).to_contain_text("has ended")
    expect(page.get_by_text("custody setup hospital.toml").first).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= screen["width"]
    assert faults(page) == []


@pytest.mark.parametrize("role", [Role.OFFICER, Role.ADMINISTRATOR])
def test_the_places_lead_to_rules_people_and_settings(
    house: Served, visit: Visit, role: Role
) -> None:
    """From every page of theirs."""
    page = seated(house, visit, role, "/desk", DESK)
    places = page.get_by_role("navigation", name="Places")
    for name, address in (("Rules", "/regimes"), ("People", "/people"), ("Settings", "/settings")):
        expect(places.get_by_role("link", name=name)).to_have_attribute("href", address)


def test_many_places_fold_into_one_row_on_a_telephone(house: Served, visit: Visit) -> None:
    """Opened by a key, also without scripts; at a desk they stand open."""
    page = seated(house, visit, Role.OFFICER, "/desk", PHONE, java_script_enabled=False)
    places = page.get_by_role("navigation", name="Places")
    settings = places.get_by_role("link", name="Settings")
    expect(settings).to_be_hidden()
    places.locator("summary").press("Enter")
    expect(settings).to_be_visible()
    page.set_viewport_size(DESK)  # type: ignore[arg-type]
    page.reload()
    expect(settings).to_be_visible()
    expect(places.locator("summary")).to_be_hidden()


def test_a_last_day_ends_with_the_day_of_the_facility(house: Served, visit: Visit) -> None:
    """Not with that of the place where the administrator's device stands."""
    person(house.store, house.facility, "p-ends", Role.WARD)
    elsewhere = {"timezone_id": "Pacific/Auckland"}
    page = seated(house, visit, Role.ADMINISTRATOR, "/people", DESK, **elsewhere)
    zone = house.store.rules(house.facility).site.zone
    last = datetime.now(zone).date() + timedelta(days=30)
    form = _form(page, "p-ends")
    form.get_by_label("Another last day").fill(last.isoformat())
    with page.expect_navigation():
        form.get_by_role("button", name="Change it so").click()
    after = datetime.combine(last + timedelta(days=1), time(), zone)
    assert _found(house, "p-ends").valid_until == after


def test_a_ward_is_not_shown_what_is_set(signed_in: Visit) -> None:
    """It is not theirs; no place leads there."""
    page = signed_in(Role.WARD, "/me")
    expect(page.get_by_role("link", name="Settings")).to_have_count(0)
    answer = page.request.get("/settings")
    assert answer.status == 403


def test_an_administrator_changes_role_and_reach_and_it_is_entered(
    house: Served, visit: Visit
) -> None:
    """What was chosen before stands chosen; taking the last choice away means the whole."""
    person(house.store, house.facility, "p-moves", Role.WARD, Scope(units=frozenset({"icu"})))
    page = seated(house, visit, Role.ADMINISTRATOR, "/people", DESK)
    form = _form(page, "p-moves")
    expect(form.get_by_label("Intensive care")).to_be_checked()
    form.get_by_label("Role").select_option("handler")
    form.get_by_label("Intensive care").uncheck()
    form.get_by_label("Waste handlers").check()
    with page.expect_navigation():
        form.get_by_role("button", name="Change it so").click()
    found = _found(house, "p-moves")
    assert (found.role, found.scope) == (Role.HANDLER, Scope(parties=frozenset({"handlers"})))
    form = _form(page, "p-moves")
    form.get_by_label("Waste handlers").uncheck()
    with page.expect_navigation():
        form.get_by_role("button", name="Change it so").click()
    assert _found(house, "p-moves").scope.whole
    head = Caller(house.facility, "tests", Role.ADMINISTRATOR)
    entered = administrator.access_entries(house.store, head, 0, 500)
    changes = [text for _, text in entered if "person_changed" in text and "p-moves" in text]
    assert len(changes) == 2
    assert '"actor":"p-administrator"' in changes[0]


def test_what_cannot_be_is_told(house: Served, visit: Visit) -> None:
    """An inspector has a last day; the page has no fault that axe finds."""
    person(house.store, house.facility, "p-stays", Role.WARD)
    page = seated(house, visit, Role.ADMINISTRATOR, "/people", DESK)
    answer = page.request.patch(
        "/v1/people/p-stays",
        data={"role": "inspector"},
        headers={"Sec-Fetch-Site": "same-origin"},
    )
    assert answer.status == 422
    assert "until a day" in answer.json()["detail"]
    assert faults(page) == []


def _form(page: Page, id_: str) -> Page:
    one = page.locator("li.person").filter(has=page.get_by_text(id_, exact=True))
    one.locator("summary").click()
    found: Page = one.locator(f'form[data-order="/v1/people/{id_}"]')  # type: ignore[assignment]
    return found


def _found(house: Served, id_: str) -> identities.Person:
    with house.store.reading() as connection:
        found = identities.person(connection, house.facility, id_)
    assert found is not None
    return found


# --- a wall that nobody is signed in on


def _enrolled(house: Served, page: Page, role: Role) -> None:
    now = datetime.now(UTC)
    head = Caller(house.facility, "tests", Role.ADMINISTRATOR)
    name = f"a wall for {role} at {now.timestamp()}"
    code = administrator.invite_device(house.store, head, name, role, WHOLE, now)
    token = signing_in.enrol_device(house.store, house.facility, code, "", now).token
    cookie = {"domain": "localhost", "path": "/", "secure": True, "httpOnly": True}
    page.context.add_cookies([{"name": DEVICE_COOKIE, "value": token, **cookie}])  # type: ignore[list-item]


@SCREENS
def test_an_enrolled_device_shows_the_wall_with_nobody_signed_in(
    house: Served, visit: Visit, screen: dict[str, int]
) -> None:
    """With the flags of the categories; every other page asks who it is."""
    Yard(house, seed=len(str(screen))).stored("ambient-store", category="yellow-c")
    page = visit("/sign-in", screen)
    _enrolled(house, page, Role.HANDLER)
    page.goto("/wall?store=ambient-store")
    flag = page.locator(".lots .flag").first
    expect(flag).to_be_visible()
    assert flag.evaluate("place => getComputedStyle(place).backgroundColor") != "rgba(0, 0, 0, 0)"
    expect(page.get_by_role("link", name="To the beginning")).to_have_count(0)
    assert faults(page) == []
    for address in ("/", "/run", "/me", "/find", "/ward", "/desk", "/settings", "/spill"):
        page.goto(address)
        assert "/sign-in" in page.url, address


def test_a_device_of_a_ward_shows_no_wall(house: Served, visit: Visit) -> None:
    """What is not for its role is not for it alone either."""
    page = visit("/sign-in")
    _enrolled(house, page, Role.WARD)
    assert page.request.get("/wall").status == 403


def test_without_a_device_the_wall_asks_who_it_is(visit: Visit) -> None:
    """As every page does."""
    assert "/sign-in" in visit("/wall").url
