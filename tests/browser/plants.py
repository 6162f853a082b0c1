"""What the tests of the plant's pages share: a record to tell of, a hand scanner, a camera."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from service.access.caller import Caller
from service.custody.words import Role
from service.duties import lookup
from service.duties.lookup import ContainerView
from service.duties.record import Told, record_events
from tests.browser.house import Served

NOW = datetime.now(UTC).replace(second=0, microsecond=0)

_KEYS = """code => {
  for (const key of [...code, "Enter"]) {
    const pressed = new KeyboardEvent("keydown", {key, bubbles: true, cancelable: true});
    document.body.dispatchEvent(pressed);
  }
}"""


class OnRecord:
    """The record of a running service, told of by a program of the officer."""

    def __init__(self, house: Served) -> None:
        self.house = house
        self.caller = Caller(house.facility, "tests", Role.OFFICER)

    def tell(self, *events: dict[str, Any]) -> None:
        """Have events recorded; all must be taken."""
        outcomes = record_events(self.house.store, self.caller, events, Told(datetime.now(UTC)))
        assert [o.reason for o in outcomes if o.outcome == "refused"] == []

    def container(self, container: str) -> ContainerView:
        """Give a container as the record has it."""
        return lookup.container(self.house.store, self.caller, container, datetime.now(UTC))


def ready(page: Page) -> Page:
    """Give the page once its script hears scans and presses."""
    page.wait_for_selector("form[data-ready]")
    return page


def scan(page: Page, code: str) -> None:
    """Scan as a hand scanner does, all keys in one go: a busy machine must not spread them."""
    page.evaluate(_KEYS, code)


def fault_free(page: Page) -> None:
    """No rule of accessibility that a machine can check is broken."""
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def photograph(page: Page, pictures: Path | None, name: str) -> None:
    """Take pictures in both colour schemes, if somebody wants them."""
    if pictures is None:
        return
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        page.screenshot(path=pictures / f"{name}-{scheme}.png", full_page=True)
    page.emulate_media(color_scheme="light")
