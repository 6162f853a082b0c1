"""What a handler finds: bags at units and in stores, as others told of them; and a hand scanner."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from service.access.caller import Caller
from service.custody.events import Event
from service.custody.words import Role
from service.duties import lookup
from service.duties.lookup import ContainerView
from service.duties.record import Told, record_events
from tests.api.client import event, ids, sealed
from tests.browser.house import Served

_BURST = """(code) => {
  const press = (key) => document.activeElement.dispatchEvent(
    new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
  for (const key of code) if (press(key)) document.execCommand("insertText", false, key);
  const { activeElement: field } = document;
  if (press("Enter") && field.matches("input")) field.form?.requestSubmit();
}"""


@dataclass
class Yard:
    """The hospital's waste, with ids that no other test has."""

    house: Served
    seed: int
    drawn: int = 0

    def tell(self, *events: dict[str, Any]) -> None:
        """Record what others did, each at its time."""
        for said in events:
            at = datetime.fromisoformat(said["occurred_at"])
            [outcome] = record_events(self.house.store, self._officer, [said], Told(at))
            assert outcome.outcome == "recorded", outcome

    def bag(self, hours: float = 1, **said: Any) -> str:
        """Seal a bag at a unit, some hours ago."""
        id_ = self.fresh()
        self.tell(sealed(id_, at=ago(hours), **said))
        return id_

    def stored(self, store: str, hours: float = 1, **said: Any) -> str:
        """Seal a bag, pick it up and put it in a store within the hour."""
        id_ = self.bag(hours, **said)
        unit = said.get("unit", "icu")
        parties = {"from_party": unit, "to_party": "handlers", "protective_gear": True}
        self.tell(
            event("collected", id_, at=ago(hours - 0.3), **parties),
            event("stored", id_, at=ago(hours - 0.6), store=store),
        )
        return id_

    def fresh(self) -> str:
        """Draw an id of a label that nobody has used."""
        self.drawn += 1
        return ids(self.drawn, self.seed)[-1]

    def view(self, container: str) -> ContainerView:
        """Look a container up as it stands now."""
        return lookup.container(self.house.store, self._officer, container, datetime.now(UTC))

    def happened(self, container: str, kind: str) -> list[Any]:
        """Give what holds of one kind for a container."""
        found: list[Event] = [h.event for h in self.view(container).history.happened]
        return [told for told in found if told.kind == kind]

    @property
    def _officer(self) -> Caller:
        return Caller(self.house.facility, "tests", Role.OFFICER)


def ago(hours: float) -> datetime:
    """Give the time so many hours before now."""
    return datetime.now(UTC) - timedelta(hours=hours)


def scan(page: Page, code: str) -> None:
    """Point the hand scanner: it writes the code where the cursor stands, and Enter.

    All keys come in one go, as from a scanner: a busy machine would spread keys that are sent to
    the browser one by one, and the page would take the last of them for a code of its own.
    """
    page.evaluate(_BURST, code)


def faultless(page: Page) -> None:
    """Have axe-core find nothing on the page as it stands."""
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def picture(page: Page, folder: Path | None, name: str) -> None:
    """Keep a picture of the page, if pictures are wanted."""
    if folder is not None:
        width = (page.viewport_size or {"width": 0})["width"]
        page.screenshot(path=folder / f"{name}-{width}.png", full_page=True)
