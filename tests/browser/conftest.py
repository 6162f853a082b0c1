"""A real Chromium, a telephone's and a desk's screen, and the service behind it."""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from service.custody.words import Role
from tests.browser.house import Served, served
from tests.browser.officers import seated
from tests.needs import without

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1440, "height": 900}
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
CHROMIUM = shutil.which("chromium")

Visit = Callable[..., Page]


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The service with the invented hospital, newly set up for the tests of a file."""
    with served(tmp_path_factory.mktemp("house")) as running:
        yield running


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """The browser; gone with the file's last test, for its loop would be in the way of others."""
    if CHROMIUM is None:
        without("chromium is not installed")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def visit(chromium: Browser, house: Served, request: pytest.FixtureRequest) -> Iterator[Visit]:
    """Open pages; nothing may stand on a console, and nothing be fetched from elsewhere.

    But for what the tests of a file provoke, as its ``PROVOKED`` says.
    """
    contexts, wrong = [], []

    def open_(
        address: str = "/", screen: dict[str, int] = PHONE, cookies: Any = (), **said: object
    ) -> Page:
        context = chromium.new_context(base_url=house.address, viewport=screen, **said)  # type: ignore[arg-type]
        contexts.append(context)
        context.add_cookies(cookies)
        page = context.new_page()
        page.on(
            "console", lambda m: wrong.append(m.text) if m.type in ("error", "warning") else None
        )
        page.on("pageerror", lambda e: wrong.append(str(e)))
        page.on(
            "request",
            lambda r: (
                None if r.url.startswith((house.address, "blob:", "data:")) else wrong.append(r.url)
            ),
        )
        page.goto(address)
        return page

    yield open_
    for context in contexts:
        context.close()
    # A test that takes the network away is told so by the browser itself.
    provoked = ("ERR_INTERNET_DISCONNECTED", *getattr(request.module, "PROVOKED", ()))
    assert [said for said in wrong if not any(each in said for each in provoked)] == []


@pytest.fixture
def signed_in(visit: Visit, house: Served) -> Visit:
    """Open a page as somebody of a role."""

    def open_(
        role: Role, address: str = "/", screen: dict[str, int] = PHONE, **said: object
    ) -> Page:
        return seated(house, visit, role, address, screen, **said)

    return open_


@pytest.fixture
def pictures() -> Path | None:
    """Where to put pictures of what was seen, if the environment names a folder."""
    named = os.environ.get("CUSTODY_PICTURES")
    return Path(named) if named else None
