"""Where there is no network: a telephone that keeps its pages, and what the record says after."""

from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.house import PASSWORD, Served

_UNTIL = """async (asked) => {
  const looked = HOLDS;
  const end = Date.now() + 60_000;
  while (!(await looked(asked))) {
    const seen = async () => (await (await caches.open("seen")).keys()).map((key) => key.url);
    if (Date.now() > end) throw new Error(`${asked} was not kept, but ${await seen()}`);
    await new Promise((go) => setTimeout(go, 50));
  }
}"""
_KEPT = """async (addresses) => {
  await navigator.serviceWorker.ready;
  const seen = await caches.open("seen");
  const found = await Promise.all([...addresses, "/categories.css"].map((a) => seen.match(a)));
  return navigator.serviceWorker.controller !== null && found.every(Boolean);
}"""
_LEARNT = """async (containers) => {
  const kept = await caches.match("/known");
  if (!kept) return false;
  const { known } = await kept.json();
  return containers.every((each) => each in known);
}"""


def kept(page: Page, *addresses: str) -> Page:
    """Wait until the device has kept these pages."""
    page.evaluate(_UNTIL.replace("HOLDS", _KEPT), list(addresses))
    return page


def learnt(page: Page, *containers: str) -> None:
    """Wait until the device knows of these containers."""
    page.evaluate(_UNTIL.replace("HOLDS", _LEARNT), list(containers))


def cut(page: Page) -> None:
    """Take the network away."""
    page.context.set_offline(offline=True)


def restored(page: Page) -> None:
    """Give it back, and wait until all that waits is sent."""
    expect(page.locator("#unsent")).to_be_visible()
    page.context.set_offline(offline=False)
    expect(page.locator("#unsent")).to_be_hidden(timeout=60_000)


def signs_in(page: Page, person: str) -> None:
    """Somebody signs in with their password."""
    page.goto("/sign-in")
    page.get_by_label("Your id").fill(person)
    page.get_by_role("textbox", name="Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).last.click()
    page.wait_for_url(lambda url: "/sign-in" not in url)


def in_cache(context: BrowserContext) -> int:
    """How many pages a device keeps."""
    counted = "async () => (await (await caches.open('seen')).keys()).length"
    return int(context.pages[0].evaluate(counted))


def entries(house: Served, *containers: str) -> dict[str, int]:
    """How many entries of the record name each container."""
    asked = "SELECT container, count(DISTINCT seq) FROM named GROUP BY container"
    with house.store.reading() as connection:
        found = {row[0]: int(row[1]) for row in connection.exec_driver_sql(asked).all()}
    return {each: found.get(each, 0) for each in containers}


def recorded(house: Served) -> int:
    """How many entries the record has."""
    with house.store.reading() as connection:
        return int(connection.exec_driver_sql("SELECT count(*) FROM event").scalar() or 0)
