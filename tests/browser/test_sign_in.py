"""Signing in, as people do it."""

import re

from service.custody.words import Role
from tests.browser.conftest import DESK, PHONE, Visit


def test_who_is_not_signed_in_is_asked_who_it_is(visit: Visit) -> None:
    """And comes to the page that was asked for afterwards."""
    page = visit("/me")
    assert page.url.endswith("/sign-in?to=/me")


def test_who_signs_in_comes_where_they_were_going(visit: Visit) -> None:
    """And is told as whom."""
    page = visit("/sign-in?to=/me")
    page.get_by_label("Your id").fill("p-ward")
    page.get_by_role("textbox", name="Password").fill("seven kettles under birch")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(re.compile(r"//[^/]+/me$"))
    assert page.get_by_text("p-ward").first.is_visible()


def test_somebody_signs_out(signed_in: Visit) -> None:
    """On every page of theirs is the way to where it is done."""
    for screen in (PHONE, DESK):
        page = signed_in(Role.PLANT, "/me", screen)
        page.get_by_role("button", name="Sign out", exact=True).click()
        page.wait_for_url("**/sign-in")
        page.goto("/me")
        assert "/sign-in" in page.url
