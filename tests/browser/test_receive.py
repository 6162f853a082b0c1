"""A plant counts a consignment in: the differences are shown before anything is recorded."""

import re
from datetime import timedelta
from itertools import count
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from service.custody.events import Received, Refused
from service.custody.identifiers import grouped
from service.custody.words import Role
from tests.api.client import event, ids, scanned, sealed
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served
from tests.browser.plants import NOW, OnRecord, fault_free, photograph, ready, scan

_seeds = count(71_000)


class Sent(OnRecord):
    """Three bags of a consignment, sealed, weighed and on the road; and one that was not sent."""

    def __init__(self, house: Served) -> None:
        super().__init__(house)
        self.a, self.b, self.c, self.stray = ids(4, next(_seeds))
        self.name, self.seal = f"R-{self.a[:6]}", f"T-{self.a[:6]}"
        made = [
            sealed(one, NOW - timedelta(hours=5)) for one in (self.a, self.b, self.c, self.stray)
        ]
        self.tell(*made)
        self.tell(
            event("dispatched", self.a, self.b, self.c, at=NOW - timedelta(hours=2),
                  consignment=self.name, carrier="carrier-quillow", consignee="plant-kiln",
                  vehicle="V-17", seal=self.seal),
        )  # fmt: skip


@pytest.fixture
def sent(house: Served) -> Sent:
    """A consignment on its way to the kiln."""
    return Sent(house)


def row(page: Page, container: str) -> Locator:
    """The row of a container."""
    return page.locator(f".arrival[data-container='{container}']")


def difference(page: Page, name: str) -> Locator:
    """A part of the differences."""
    return page.locator(f"[data-difference='{name}']")


@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
def test_a_consignment_is_opened_by_any_of_its_containers(
    signed_in: Visit, sent: Sent, screen: dict[str, int], pictures: Path | None
) -> None:
    """What is on its way here is listed; a scan of one container opens its consignment."""
    page = signed_in(Role.PLANT, "/receive", screen)
    expect(page.get_by_role("link", name=sent.name)).to_be_visible()
    fault_free(page)
    photograph(page, pictures, f"receive-list-{screen['width']}")
    scan(page, scanned(sent.b))
    expect(page.get_by_role("heading", level=1)).to_contain_text(sent.name)


def test_a_container_that_left_in_nothing_opens_nothing(signed_in: Visit, sent: Sent) -> None:
    """And is told so."""
    page = signed_in(Role.PLANT, "/receive")
    scan(page, sent.stray)
    expect(page.get_by_role("alert").first).to_contain_text("left in no consignment")


def test_what_agrees_is_taken_over_and_the_receipt_closed(signed_in: Visit, sent: Sent) -> None:
    """Three scans, the seal as read, a comparison without a difference, one press."""
    page = ready(signed_in(Role.PLANT, f"/receive?consignment={sent.name}"))
    page.get_by_label("Seal as it reads now").fill(sent.seal)
    page.get_by_label("Whole", exact=True).check()
    for code in (scanned(sent.a), sent.b, scanned(sent.c)):
        scan(page, code)
    expect(page.locator("#count")).to_have_text("3")
    page.get_by_role("button", name="Compare").click()
    expect(page.get_by_text("None: all that was sent is here")).to_be_visible()
    page.get_by_label("Nothing else came").check()
    page.get_by_role("button", name="Take over").click()

    expect(page.locator("#outcome")).to_contain_text("Recorded: 3")
    for one in (sent.a, sent.b, sent.c):
        view = sent.container(one)
        last = view.history.happened[-1].event
        assert isinstance(last, Received)
        assert (last.party, last.seal, last.seal_intact, last.complete) == (
            "plant-kiln", sent.seal, True, True,
        )  # fmt: skip
        assert not [v for v in view.violations if v.opened_at >= NOW]


@pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])
def test_differences_are_shown_before_anything_is_recorded(
    signed_in: Visit, sent: Sent, screen: dict[str, int], pictures: Path | None
) -> None:
    """Another seal, one missing, one that is not on the list, one that lost a kilogram."""
    page = ready(signed_in(Role.PLANT, f"/receive?consignment={sent.name}", screen))
    page.get_by_label("Seal as it reads now").fill("X-1")
    page.get_by_label("Broken or missing").check()
    page.get_by_label("Scale that weighs here").select_option(label="Kiln Moor reception")
    scan(page, sent.a)
    scan(page, sent.stray)
    row(page, sent.b).get_by_label("Weight here").fill("2.4")
    row(page, sent.b).get_by_label("Weight here").press("Enter")
    expect(page.locator("#count")).to_have_text("2")
    expect(page.locator("#extras")).to_have_text("+ 1")
    expect(row(page, sent.b)).to_contain_text("2400 g after 3400 g")
    page.get_by_role("button", name="Compare").click()

    expect(difference(page, "seal")).to_contain_text(f"seal X-1 instead of {sent.seal}")
    expect(difference(page, "missing")).to_contain_text(grouped(sent.c))
    expect(difference(page, "extra")).to_contain_text(grouped(sent.stray))
    expect(difference(page, "flagged")).to_contain_text("2400 g after 3400 g")
    expect(page.get_by_text("None: all that was sent is here")).to_be_hidden()
    assert sent.container(sent.a).standing.state == "dispatched"
    fault_free(page)
    photograph(page, pictures, f"receive-{screen['width']}")

    page.get_by_label("Nothing else came").check()
    page.get_by_role("button", name="Take over").click()
    expect(page.locator("#outcome")).to_contain_text("Recorded: 3")
    expect(page.locator("#outcome")).to_contain_text("2400 g after 3400 g")
    fault_free(page)
    photograph(page, pictures, f"received-{screen['width']}")
    assert sent.container(sent.b).standing.received_g == 2400
    missing = {
        one
        for one in (sent.a, sent.b, sent.c)
        if "custody.missing" in {v.code for v in sent.container(one).violations}
    }
    assert missing == {sent.c}


def test_a_weight_within_both_scales_error_is_no_difference(signed_in: Visit, sent: Sent) -> None:
    """Ten grams less on a scale of 50 g interval: OIML R 76-1 allows both scales more than that."""
    page = ready(signed_in(Role.PLANT, f"/receive?consignment={sent.name}"))
    page.get_by_label("Scale that weighs here").select_option(label="Kiln Moor reception")
    page.get_by_label("Seal as it reads now").fill(sent.seal)
    for one in (sent.a, sent.b, sent.c):
        row(page, one).get_by_label("Weight here").fill("3,39")
    page.get_by_role("button", name="Compare").click()
    expect(page.get_by_text("None: all that was sent is here")).to_be_visible()


def test_a_weight_that_cannot_be_read_is_asked_for_again(signed_in: Visit, sent: Sent) -> None:
    """Nothing is guessed of it."""
    page = ready(signed_in(Role.PLANT, f"/receive?consignment={sent.name}"))
    row(page, sent.a).get_by_label("Weight here").fill("3.4.1")
    page.get_by_role("button", name="Compare").click()
    expect(page.locator("#fault")).to_contain_text("write it in kilograms")
    expect(page.locator("#differences")).to_be_hidden()


def test_the_ticked_are_turned_away_with_a_reason(signed_in: Visit, sent: Sent) -> None:
    """Without a reason nothing is recorded; the others can be taken over afterwards."""
    page = ready(signed_in(Role.PLANT, f"/receive?consignment={sent.name}"))
    row(page, sent.a).get_by_role("checkbox").check()
    page.get_by_role("button", name="Compare").click()
    page.get_by_text("Turn away what is ticked").click()
    page.get_by_role("button", name="Turn away").click()
    expect(page.locator("#fault")).to_have_text("Say why.")
    page.get_by_label("Why it is turned away").fill("It leaks.")
    page.get_by_role("button", name="Turn away").click()

    expect(row(page, sent.a)).to_contain_text("turned away")
    last = sent.container(sent.a).history.happened[-1].event
    assert isinstance(last, Refused)
    assert last.reason == "It leaks."
    assert sent.container(sent.b).standing.state == "dispatched"
    expect(row(page, sent.b).get_by_role("checkbox")).to_be_enabled()


def test_a_scanned_cart_brings_what_is_in_it(signed_in: Visit, house: Served) -> None:
    """Its bags are ticked, and the cart is what is recorded as received, unopened."""
    sent = Sent(house)
    [cart, one] = ids(2, next(_seeds))
    sent.tell(
        sealed(one, NOW - timedelta(hours=5)),
        event("packed", one, at=NOW - timedelta(hours=4), parent=cart),
        event("dispatched", cart, at=NOW - timedelta(hours=2), consignment=f"K-{one[:6]}",
              carrier="carrier-quillow", consignee="plant-kiln", seal="S-9"),
    )  # fmt: skip
    page = ready(signed_in(Role.PLANT, f"/receive?consignment=K-{one[:6]}"))
    scan(page, cart)
    expect(row(page, one).get_by_role("checkbox")).to_be_checked()
    page.get_by_role("button", name="Compare").click()
    page.get_by_role("button", name=re.compile("Take over")).click()
    expect(page.locator("#outcome")).to_contain_text("Recorded")
    last = sent.container(one).history.happened[-1]
    assert isinstance(last.event, Received)
    assert last.event.containers == (cart,)
    assert not last.direct
