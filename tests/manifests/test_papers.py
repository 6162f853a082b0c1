"""The manifest as PDF, workbook and CSV: they agree, and are the same every time."""

import shutil
import subprocess
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl  # type: ignore[import-untyped]
import pypdfium2  # type: ignore[import-untyped]
import pytest

from service.custody.rules import Rules
from service.manifests.figures import QuarterFigures
from service.manifests.pdf import pdf
from service.manifests.quarter import Quarter
from service.manifests.tables import guarded, single_csv, tables
from service.manifests.xlsx import xlsx
from service.regimes.load import assemble
from tests.house import hospital
from tests.manifests.quarters import LATER, invented, pages, reckoned, rows, told
from tests.trade import Story, at, bag


def book(f: QuarterFigures) -> Any:
    """Read the workbook back with another library."""
    return openpyxl.load_workbook(BytesIO(xlsx(f)))


def sheet(f: QuarterFigures, name: str) -> list[dict[str, Any]]:
    """Read a sheet's rows by its header."""
    header, *found = book(f)[name].iter_rows(values_only=True)
    return [dict(zip(header, row, strict=True)) for row in found]


def test_pdf_workbook_and_csv_say_the_same_totals() -> None:
    """Six kilograms and 520 g were sealed: on paper, in the workbook, in the CSV."""
    f = reckoned()
    in_csv = rows(tables(f)["by-category.csv"])
    in_book = sheet(f, "by-category")
    assert sum(int(r["weight_g"]) for r in in_csv) == 3420 + 1100 + 2000
    assert [(r["category"], r["weight g"]) for r in in_book] == [
        (r["category"], int(r["weight_g"])) for r in in_csv
    ]
    first, second, *_ = pages(pdf(f))
    assert "+ sealed in the quarter 4 6.520 1" in " ".join(first.split())
    assert "total 4 6.520 1" in " ".join(second.split())


def test_the_first_page_says_who_when_and_what_it_rests_on() -> None:
    """Facility, period, zone, return due, local codes, and lines to sign on."""
    first = " ".join(pages(pdf(reckoned()))[0].split())
    for said in (
        "Hill hospital",
        "1 July 2026 to 30 September 2026",
        "in the time of UTC",
        "Quarterly return, for 2026-Q3 31 October 2026",
        "30 September 2029 or longer",
        "Local codes, the site's authorisation and licensed practice prevail",
        "Seen by (inspector)",
        "page 1 of",
    ):
        assert said in first


def test_every_section_is_on_paper() -> None:
    """Consignment, open container, violation with clause and event, correction, spill."""
    f = reckoned()
    text = " ".join(" ".join(pages(pdf(f))).split())
    evidence = str(f.violations[0].violation.evidence[0])[-8:]
    for said in (
        "C-9", "V-9", "-2.040", "8 Open containers: 4 held at the end", "custody.missing, lost: 1",
        "Clause: limit (House text); house policy or common practice.", evidence,
        "slip of the pen", "absorbed, disinfected", "Annex Containers: 6",
    ):  # fmt: skip
        assert said in text, said


def test_one_container_can_be_followed_from_label_to_pit() -> None:
    """In the CSV each time, cycle and outlet of the bag; on paper the same on one line."""
    f = reckoned()
    line = next(r for r in rows(single_csv(f)) if r["container"] == "WELL")
    assert line["sealed_utc"] == "2026-07-02T08:00:00Z"
    assert line["double_bagged_utc"] == "2026-07-02T09:00:00Z"
    assert line["dispatched_utc"] == "2026-07-02T18:00:00Z"
    assert (line["consignments"], line["received_g"]) == ("C-1", "3460")
    assert line["treatments"] == "incinerate 2026-07-02T22:00:00Z K-1"
    assert (line["disposed_utc"], line["outlet"]) == ("2026-07-03T04:00:00Z", "ash_landfill")
    annex = " ".join(pages(pdf(f))[-1].split())
    assert (
        f"{line['line']} WELL S soiled Ward 3 3.420 2026-07-02 08:00 2× 07-02 11:00 07-02 12:00 "
        "07-02 18:00 C-1 07-02 20:00 3.460 incinerate K-1 07-03 04:00 ash landfill"
    ) in annex


def test_an_unfinished_quarter_says_so_on_every_page() -> None:
    """Nobody can take part of a quarter for the whole."""
    found = pages(pdf(reckoned(now=at("2026-09-20 09:00"))))
    assert all("NOT FINISHED" in page for page in found)
    assert not any("NOT FINISHED" in page for page in pages(pdf(reckoned())))


def test_the_same_figures_give_the_same_bytes() -> None:
    """PDF, workbook and tables of the same quarter are equal byte by byte."""
    stories = told()
    assert pdf(reckoned(stories)) == pdf(reckoned(stories))
    assert xlsx(reckoned(stories)) == xlsx(reckoned(stories))
    assert tables(reckoned(stories)) == tables(reckoned(stories))


def test_the_single_csv_is_the_table_of_containers() -> None:
    """Whoever asks for one file of figures gets the one that all others are sums of."""
    f = reckoned()
    assert single_csv(f) == tables(f)["containers.csv"]


def test_an_empty_quarter_is_a_paper_too() -> None:
    """It says none where there is nothing."""
    f = reckoned(quarter=Quarter(2025, 1))
    assert "None." in " ".join(pages(pdf(f)))
    assert rows(single_csv(f)) == []
    assert [r["containers"] for r in sheet(f, "by-category")] == []


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@A1", "\t=1", "\r=1", "\n=1"])
def test_a_text_is_never_a_formula(text: str) -> None:
    """OWASP, CSV injection: a leading = + - @ tab or line end gets an apostrophe before it."""
    assert guarded(text) == f"'{text}"
    assert guarded(f"a{text}") == f"a{text}"


def test_formulas_typed_into_the_record_stay_text_in_every_file() -> None:
    """A seal and a reason that would be formulas are shown, not run; numbers stay numbers."""
    bad = '=HYPERLINK("x")'
    story = (
        bag()
        .sealed("2026-08-01 08:00", weight_g=900)
        .dispatched("2026-08-01 09:00", seal=bad, vehicle="@now")
        .spilled("2026-08-01 09:30", action_taken="-2+3")
    )
    f = reckoned([story])
    (sent,) = rows(tables(f)["consignments.csv"])
    assert (sent["seal"], sent["vehicle"], sent["difference_g"]) == (f"'{bad}", "'@now", "-900")
    (spill,) = rows(tables(f)["incidents.csv"])
    assert spill["action_or_reason"] == "'-2+3"
    cells = [c for s in book(f) for row in s.iter_rows() for c in row]
    assert not [c for c in cells if c.data_type == "f"]
    assert bad in [c.value for c in cells]
    assert "@now" in " ".join(pages(pdf(f)))


def test_accents_and_foreign_letters_are_kept_or_shown_as_missing() -> None:
    """Éloïse is printed; what the paper's font lacks is marked there and whole in the files."""
    rules = invented(unit=[{"id": "ward-3", "name": "Éloïse 病", "location": "wards"}])
    f = reckoned([bag().sealed("2026-08-01 08:00", weight_g=1)], rules)
    assert "Éloïse \N{REPLACEMENT CHARACTER}" in " ".join(pages(pdf(f)))
    assert rows(single_csv(f))[0]["unit_name"] == "Éloïse 病"
    assert sheet(f, "containers")[0]["unit name"] == "Éloïse 病"


def test_times_are_in_site_time_on_paper_and_in_both_in_the_csv() -> None:
    """08:00 UTC is 13:30 in Kolkata, and the paper says which it means."""
    f = reckoned([bag().sealed("2026-08-01 08:00")], invented(time_zone="Asia/Kolkata"))
    (line,) = rows(single_csv(f))
    assert (line["sealed_utc"], line["sealed_local"]) == (
        "2026-08-01T08:00:00Z",
        "2026-08-01T13:30:00+05:30",
    )
    (cells,) = sheet(f, "containers")
    assert f"{cells['sealed (Asia/Kolkata)']:%H:%M:%S}" == "13:30:00"
    last = pages(pdf(f))[-1]
    assert "2026-08-01 13:30" in last
    assert "Times in Asia/Kolkata" in last


def test_two_thousand_containers_make_numbered_pages_with_every_line_once() -> None:
    """Each page carries head, number and the table's header; each container stands once."""
    entries = [
        Story(f"N{n:04d}").sealed("2026-08-01 08:00", weight_g=n + 1).entries for n in range(2000)
    ]
    f = reckoned([Story(f"N{n:04d}", entries=e) for n, e in enumerate(entries)])
    paper = pypdfium2.PdfDocument(pdf(f))
    found = [page.get_textpage().get_text_range() for page in paper]
    annex = [p for p in found if "treated: step, cycle" in p]
    assert len(annex) > 30
    for number, page in enumerate(found, 1):
        assert f"page {number} of {len(found)}" in " ".join(page.split())
    ids = [w for page in annex for w in page.split() if w[0] == "N" and w[1:].isdigit()]
    assert sorted(ids) == [f"N{n:04d}" for n in range(2000)]
    assert f.made.grams == 2000 * 2001 // 2


def test_a_text_too_long_for_a_sheet_is_cut_and_says_so() -> None:
    """A spill that names two thousand containers is whole in the CSV only."""
    names = [f"CONTAINER-{n:08d}" for n in range(2000)]
    f = reckoned([bag().spilled("2026-08-01 08:00", *names)])
    (spill,) = sheet(f, "incidents")
    assert spill["containers"].endswith("… (whole in the CSV)")
    (whole,) = rows(tables(f)["incidents.csv"])
    assert whole["containers"].split() == names
    assert "see the CSV" in " ".join(pages(pdf(f)))


def test_the_indian_manifest_of_a_fourth_quarter_names_form_iv_and_its_ground() -> None:
    """The regime's own statement and return stand on the paper, marked as from memory."""
    rules = Rules(assemble("india-2016"), hospital(regime="india-2016"))
    f = reckoned(told(), rules, Quarter(2025, 4), LATER)
    first = " ".join(pages(pdf(f))[0].split())
    assert "Form IV, annual report, for 2025 30 June 2026" in first
    assert "from memory of the published text" in first
    assert "local codes" in first


def test_names_in_scripts_that_join_or_run_from_right_to_left_are_on_paper(
    tmp_path: Path,
) -> None:
    """The facility and its units, as poppler's pdftotext takes them from the page."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (Debian: poppler-utils) is not installed")
    units = [
        {"id": "ward-3", "name": "शल्य चिकित्सा कक्ष", "location": "wards"},
        {"id": "theatre", "name": "جناح الجراحة", "location": "theatres"},
    ]
    paper = tmp_path / "paper.pdf"
    f = reckoned(by=invented(name="మండల ఆసుపత్రి", unit=units))
    paper.write_bytes(pdf(f))
    told = subprocess.run(["pdftotext", "-layout", paper, "-"], capture_output=True, check=True)
    text = told.stdout.decode()
    for name in ("మండల ఆసుపత్రి", "शल्य चिकित्सा कक्ष", "جناح الجراحة"):
        assert name in text
    assert "\N{REPLACEMENT CHARACTER}" not in text
    assert pdf(f) == paper.read_bytes()
