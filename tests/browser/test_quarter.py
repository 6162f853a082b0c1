"""The balance, the quarter's manifest, the signed log, and a bundle that is checked."""

import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from service.custody.words import Role
from tests.api.client import event, ids, sealed
from tests.browser.conftest import DESK, PHONE, Visit
from tests.browser.house import Served
from tests.browser.officers import faults, seated, tell

WHOLE, LIGHT, LEFT_OUT, TOO_MUCH, UNWEIGHED = ids(5, seed=5201)
SCREENS = pytest.mark.parametrize("screen", [PHONE, DESK], ids=["phone", "desk"])


@pytest.fixture(scope="module")
def sent(house: Served) -> str:
    """A consignment of three: one is lighter, one did not come, one came that never left."""
    now = datetime.now(UTC)
    at = [now - timedelta(minutes=minutes) for minutes in (50, 40, 30, 20, 10)]
    plant = {"party": "plant-kiln", "consignment": "C-5201", "scale": "kiln-scale"}
    tell(
        house,
        *(sealed(bag, at=at[0]) for bag in (WHOLE, LIGHT, LEFT_OUT, TOO_MUCH)),
        event("collected", WHOLE, LIGHT, LEFT_OUT, at=at[1], from_party="icu", to_party="handlers"),
        event(
            "dispatched", WHOLE, LIGHT, LEFT_OUT, at=at[2], consignment="C-5201",
            carrier="carrier-quillow", consignee="plant-kiln", seal="S-1",
        ),
        event("received", WHOLE, at=at[3], weight_g=3400, **plant),
        event("received", LIGHT, at=at[3], weight_g=1400, **plant),
        event("received", TOO_MUCH, at=at[4], weight_g=3400, complete=True, **plant),
    )  # fmt: skip
    zone = house.store.rules(house.facility).site.zone
    first, last = (each.astimezone(zone) for each in (at[0], now))  # midnight may lie between
    return f"first={first:%Y-%m-%d}&last={last:%Y-%m-%d}"


def _quarter(house: Served) -> str:
    now = datetime.now(UTC).astimezone(house.store.rules(house.facility).site.zone)
    return f"{now.year}-Q{(now.month + 2) // 3}"


@SCREENS
def test_a_consignment_is_held_against_what_arrived(
    house: Served, visit: Visit, sent: str, screen: dict[str, int]
) -> None:
    """Missing, extra, and what no scale's error explains, each with its containers."""
    page = seated(house, visit, Role.OFFICER, "/balance", screen)
    row = page.get_by_role("row").filter(has_text="C-5201")
    for words, container in (
        ("weight", LIGHT), ("missing 1", LEFT_OUT), ("extra 1", TOO_MUCH)
    ):  # fmt: skip
        line = row.locator("p").filter(has_text=words)
        expect(line.locator(f"a[href='/containers/{container}']")).to_have_count(1)
    expect(row.locator(f"a[href='/containers/{WHOLE}']")).to_have_count(0)
    expect(row).to_contain_text("-5.400 kg")
    assert page.evaluate("document.documentElement.scrollWidth") <= screen["width"]
    assert faults(page) == []


def test_what_nobody_weighed_on_arrival_does_not_agree(house: Served, visit: Visit) -> None:
    """Nothing was found wrong, and nothing was shown to be right."""
    now = datetime.now(UTC)
    at = [now - timedelta(minutes=each) for each in (40, 30, 20)]
    tell(
        house,
        sealed(UNWEIGHED, at=at[0]),
        event("collected", UNWEIGHED, at=at[0], from_party="icu", to_party="handlers"),
        event(
            "dispatched", UNWEIGHED, at=at[1], consignment="C-5202",
            carrier="carrier-quillow", consignee="plant-kiln", seal="S-2",
        ),
        event("received", UNWEIGHED, at=at[2], party="plant-kiln", consignment="C-5202"),
    )  # fmt: skip
    row = seated(house, visit, Role.OFFICER, "/balance", DESK).get_by_role("row")
    found = row.filter(has_text="C-5202").locator("td").last
    expect(found).to_contain_text("not weighed on arrival: 1")
    expect(found.locator(f"a[href='/containers/{UNWEIGHED}']")).to_have_count(1)
    expect(found).not_to_contain_text("agrees")


def test_a_chart_says_what_its_table_says(house: Served, visit: Visit, sent: str) -> None:
    """By category and by unit; a pattern stands beside the colour, and the name beside both."""
    page = seated(house, visit, Role.OFFICER, f"/balance?{sent}", DESK)
    chart = page.get_by_role("img", name="C Soiled waste")
    expect(chart).to_be_visible()
    bar = chart.locator("rect.bar title").inner_html()
    [table] = page.get_by_role("table", name="Kilograms by category").all()
    heads = table.locator("thead th").all_inner_texts()
    cells = table.locator("tbody tr").first.locator("th, td").all_inner_texts()
    assert bar.endswith(f"{cells[heads.index('C Soiled waste')]} kg")
    expect(page.get_by_role("img", name="Intensive care")).to_be_visible()
    expect(page.get_by_role("table", name="Kilograms by unit")).to_be_visible()


def test_a_period_that_cannot_be_is_told(house: Served, visit: Visit) -> None:
    """As a page, with the reason."""
    page = seated(house, visit, Role.OFFICER, "/balance", DESK)
    for asked, why in (
        ("first=2026-09-01&last=2026-08-01", "ends before it begins"),
        ("first=2020-01-01&last=2026-01-01", "longer than two years"),
        ("first=yesterday", "a day is written as"),
    ):
        answer = page.context.request.get(f"/balance?{asked}")
        assert (answer.status, why in answer.text()) == (422, True), asked


@SCREENS
def test_a_quarters_figures_are_shown_when_they_are_asked_for(
    house: Served, visit: Visit, sent: str, screen: dict[str, int]
) -> None:
    """One that is not over is said to be so."""
    page = seated(house, visit, Role.INSPECTOR, "/quarter", screen)
    assert faults(page) == []
    page.get_by_role("combobox", name="Quarter").select_option(_quarter(house))
    page.get_by_role("button", name="Show its figures").click()
    expect(page.get_by_text("This quarter is not over")).to_be_visible()
    expect(page.get_by_role("table", name="Sealed, by unit")).to_contain_text("Intensive care")
    expect(page.get_by_role("table", name="Rules not kept")).to_contain_text("weight: mismatch")
    assert page.evaluate("document.documentElement.scrollWidth") <= screen["width"]
    assert faults(page) == []


@pytest.mark.parametrize(
    ("button", "ending", "begins"),
    [
        ("Paper", "pdf", b"%PDF"),
        ("Workbook", "xlsx", b"PK"),
        ("Table", "csv", b""),
        ("Events", "jsonld", b"{"),
        ("Everything", "zip", b"PK"),
    ],
)
def test_a_quarter_is_fetched_in_every_form(
    house: Served, visit: Visit, sent: str, button: str, ending: str, begins: bytes
) -> None:
    """Kept under a name that says what it is."""
    quarter = _quarter(house)
    page = seated(house, visit, Role.INSPECTOR, f"/quarter?quarter={quarter}", DESK)
    with page.expect_download() as saved:
        page.get_by_role("button", name=button).click()
    assert saved.value.suggested_filename == f"custody-{house.facility}-{quarter}.{ending}"
    content = Path(saved.value.path()).read_bytes()
    assert content and content.startswith(begins)
    expect(page.get_by_text("Saved:")).to_be_visible()


def _fetched(house: Served, page: Page) -> bytes:
    answer = page.context.request.get(
        f"/v1/manifests/{_quarter(house)}", headers={"Accept": "application/zip"}
    )
    assert answer.ok
    return answer.body()


@SCREENS
def test_a_bundle_is_brought_and_checked(
    house: Served, visit: Visit, sent: str, tmp_path: Path, screen: dict[str, int]
) -> None:
    """What holds is told, and what was changed; each check with what was found."""
    page = seated(house, visit, Role.INSPECTOR, "/quarter", screen)
    sound, changed = tmp_path / "sound.zip", tmp_path / "changed.zip"
    sound.write_bytes(_fetched(house, page))
    with zipfile.ZipFile(sound) as read, zipfile.ZipFile(changed, "w") as written:
        for entry in read.infolist():
            content = read.read(entry)
            if entry.filename.endswith(".csv"):
                content = content.replace(b"3.4", b"3.5")
            written.writestr(entry.filename, content)
    for file, word in ((sound, "Nothing fails."), (changed, "It does not hold.")):
        page.get_by_label("A quarter's archive").set_input_files(file)
        page.get_by_role("button", name="Check it").click()
        expect(page.get_by_role("heading", name=word)).to_be_visible(timeout=60_000)
        expect(
            page.get_by_role("row").filter(has_text="signature of the checkpoint")
        ).to_have_count(1)
        assert faults(page) == []
    first = page.locator("#checked tbody tr").first
    expect(first).to_contain_text("fails")
    assert page.evaluate("document.documentElement.scrollWidth") <= screen["width"]


def test_the_log_is_signed_and_its_state_shown(house: Served, visit: Visit, sent: str) -> None:
    """Its size, when it was signed, and the key's fingerprint."""
    page = seated(house, visit, Role.OFFICER, "/quarter", DESK)
    with page.expect_download() as saved:
        page.get_by_role("button", name="Have it signed now").click()
    note = Path(saved.value.path()).read_text()
    page.reload()
    part = page.get_by_role("region", name="The signed log")
    expect(part).to_contain_text("all of it")
    expect(part.locator("dd").first).to_have_text(f"{int(note.splitlines()[1]):,}")
    key = page.context.request.get("/v1/checkpoint/key").text()
    expect(part.locator("dd.id").first).to_have_text(key.split("+")[1])
