"""The access log over HTTP: in order, in pages, by kind; ids and no names, no secrets."""

import pytest
from fastapi import FastAPI

from service.custody.words import Role
from service.store.store import Store
from tests.api.browser import PASSWORD, Browser, signed_in, take_on, with_password
from tests.api.client import Clock, problem_of


@pytest.fixture
def admin(browser: Browser, store: Store, clock: Clock) -> Browser:
    """A browser at which an administrator is signed in."""
    signed_in(store, browser, take_on(store, clock.now, "p-admin", Role.ADMINISTRATOR), clock.now)
    return browser


def test_who_came_in_and_who_was_turned_away(
    app: FastAPI, admin: Browser, store: Store, clock: Clock
) -> None:
    """With the id that the answer bore, so that both logs can be laid side by side."""
    with_password(store, clock.now, "p-desk", Role.WARD)
    desk = Browser(app)
    desk.sign_in("p-desk", "not the password at all")
    came = desk.sign_in("p-desk")
    desk.get("/v1/people")
    entries = [e["entry"] for e in admin.get("/v1/access-log").json()["entries"]]
    kinds = [entry["kind"] for entry in entries]
    assert kinds[-3:] == ["sign_in_refused", "signed_in", "refused"]
    signed, refused = entries[-2:]
    assert signed["actor"] == "p-desk"
    assert signed["request"] == came.headers["request-id"]
    assert refused["about"]["what"] == "list_people"


def test_no_name_no_secret_no_address_is_in_it(
    app: FastAPI, admin: Browser, store: Store, clock: Clock
) -> None:
    """Whatever was sent."""
    with_password(store, clock.now, "p-desk", Role.WARD, name="Ila Marrow")
    desk = Browser(app, "198.51.100.23")
    desk.sign_in("p-desk")
    desk.sign_in("p-desk", "not the password at all")
    desk.sign_in("typed into the wrong field", "x")
    given = admin.post("/v1/people/p-desk/badge").json()
    text = admin.get("/v1/access-log").text
    for told in (
        "Marrow", PASSWORD, "not the password", "wrong field", "198.51", desk.session,
        given["badge"], given["first_pin"],
    ):  # fmt: skip
        assert told not in text, told


def test_pages_are_complete_and_kinds_are_found(admin: Browser) -> None:
    """`next` is always given: ask again with it for what came since."""
    for number in range(5):
        admin.post("/v1/people", {"name": "x", "role": "ward", "id": f"p-{number}"})
    seen: list[int] = []
    after = 0
    while page := admin.get("/v1/access-log", after=after, limit=2).json()["entries"]:
        seen += [entry["seq"] for entry in page]
        after = seen[-1]
    assert seen == sorted(set(seen))
    whole = admin.get("/v1/access-log").json()
    assert [e["seq"] for e in whole["entries"]] == seen
    assert whole["next"] == seen[-1]
    assert admin.get("/v1/access-log", after=whole["next"]).json()["next"] == whole["next"]
    added = admin.get("/v1/access-log", kind="person_added").json()["entries"]
    assert len(added) == 6
    problem_of(admin.get("/v1/access-log", kind="eaten"), 422)


def test_it_is_for_administrators_alone(browser: Browser, store: Store, clock: Clock) -> None:
    """An inspector of the waste is none of the staff's comings and goings."""
    for role in Role:
        if role is not Role.ADMINISTRATOR:
            person = take_on(store, clock.now, f"p-{role}", role)
            signed_in(store, browser, person, clock.now)
            problem_of(browser.get("/v1/access-log"), 403)
