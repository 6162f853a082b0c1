"""The list as a text: any delimiter, quoting, encoding and length, line by line and no more."""

import csv
import io
import tracemalloc
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.duties.importing import MappingError, UnreadableListError, plain, read_mapping
from service.duties.imports.mapping import Mapping, Said
from service.duties.imports.rows import Line, json_lines, table
from service.duties.imports.sheet import RECORD_LINES_MAX, RECORD_MAX, sound
from tests.duties.imports.office import FIELDS, Office, code, reasons, sealed
from tests.pace import tries

HEADER = ("kind", "containers", "occurred_at", "actor", "from_party", "to_party", "note")
START = datetime(2026, 1, 1, tzinfo=UTC)


def lines_of(path: Path, mapping: Mapping) -> list[Line]:
    """Read a list to its end, with nothing recorded."""
    with sound(path, mapping.said.encoding).open() as text:
        return list(table(text, mapping, path.name).lines)


words = st.text(
    st.characters(codec="cp1252", exclude_categories=("Cc", "Cs", "Zl", "Zp"))
    | st.sampled_from(";,\t|\"'\n ="),
    max_size=30,
)
names = words.map(lambda w: " ".join(w.split())[:20].strip()).filter(bool)
collections = st.lists(
    st.fixed_dictionaries(
        {
            "kind": st.just("collected"),
            "containers": st.lists(st.integers(0, 50).map(code), min_size=1, max_size=4),
            "occurred_at": st.integers(0, 10**7).map(lambda s: START + timedelta(seconds=s)),
            "actor": names,
            "from_party": names,
            "to_party": names,
            "note": words.map(str.strip),
        }
    ),
    max_size=6,
)


@settings(
    max_examples=tries(150),
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    events=collections,
    delimiter=st.sampled_from(",;\t|"),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le"]),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
)
def test_whatever_the_table_is_written_as_the_events_are_the_same(
    tmp_path: Path,
    events: list[dict[str, Any]],
    delimiter: str,
    quoting: int,
    encoding: str,
    end: str,
) -> None:
    """Any valid rows, by any delimiter, quoting, line end and encoding, read back as they were."""
    to = io.StringIO(newline="")
    writer = csv.writer(to, delimiter=delimiter, quoting=quoting, lineterminator=end)  # type: ignore[arg-type]
    writer.writerow(HEADER)
    for e in events:
        told = e | {
            "containers": "; ".join(e["containers"]),
            "occurred_at": e["occurred_at"].isoformat(),
        }
        writer.writerow(told[name] for name in HEADER)
    path = tmp_path / "list.csv"
    path.write_bytes(to.getvalue().encode(encoding))
    said = Said(keeper="k", encoding="auto" if encoding.endswith("8") else encoding)
    read = lines_of(path, Mapping("test", said))
    assert [line.reason for line in read] == [""] * len(events)
    wanted = [{k: v for k, v in e.items() if v != ""} for e in events]
    got = [{k: v for k, v in (line.event or {}).items() if k != "id"} for line in read]
    assert got == wanted


def test_a_note_of_several_lines_counts_from_where_its_record_begins(office: Office) -> None:
    """Quoted line ends belong to the cell; blank lines and lines of empty cells are no records."""
    note = '"wet\n\nvery, wet"'
    text = f'\n{FIELDS},note\n\n{sealed(1)},{note}\n,,,,,,,,\n{sealed(2)},"x"\n'
    report = office.bring_in(office.write("list.csv", text))
    assert [(o.line, o.outcome) for o in report.outcomes()] == [(4, "recorded"), (8, "recorded")]
    assert office.entries()[0].event.note == "wet\n\nvery, wet"


def test_rows_that_are_no_rows(office: Office) -> None:
    """Too few or many cells, a NUL, a line without end: each is told, the others go on."""
    rows = [
        sealed(1),
        sealed(2) + ",more",
        sealed(3).rsplit(",", 1)[0],
        sealed(4, actor="nu\0rse"),
        sealed(5, actor="x" * (RECORD_MAX + 10)),
        sealed(6, actor='"nurse" A'),
        sealed(7, actor="x" * 140_000),
        sealed(8),
    ]
    report = office.bring_in(office.write("list.csv", "\n".join([FIELDS, *rows])))
    why = reasons(report)
    assert report.recorded == 2
    assert why[3] == "the row has 9 columns, the header 8"
    assert why[4] == "the row has 7 columns, the header 8"
    assert "NUL" in why[5]
    assert f"more than {RECORD_MAX} characters" in why[6]
    assert "quotation mark" in why[7]
    assert why[8] == "one cell of the line is too long"
    assert [o.line for o in report.outcomes()] == list(range(2, 10))
    assert report.rejects is not None
    kept = report.rejects.read_text()
    assert "nu\0rse" in kept
    assert kept.count("\n") == 7, "the line that was cut is whole, as a line"


def test_an_open_quotation_mark_costs_one_line_only(office: Office) -> None:
    """In a list longer than a record can be, the lines behind the mark are read all the same."""
    rows = [sealed(n) for n in range(RECORD_LINES_MAX + 50)]
    rows[3] = '"' + rows[3]
    report = office.bring_in(office.write("list.csv", "\n".join([FIELDS, *rows])))
    assert list(reasons(report)) == [5]
    assert report.recorded == len(rows) - 1


def grown(office: Office, rows: int) -> int:
    """Bytes at the highest while a list of so many rows, most of them bad, is imported."""
    bags = [sealed(n, n, **({"weight_g": "x"} if n % 10 else {})) for n in range(200)]
    text = "\n".join([FIELDS, *(bags[n % 200] for n in range(rows))])
    path = office.write(f"{rows}.csv", text)
    del text
    tracemalloc.start()
    try:
        report = office.bring_in(path)
        assert report.lines == rows
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_memory_does_not_grow_with_the_list(office: Office) -> None:
    """Ten times the lines take no more memory than a fifth above."""
    office.bring_in(office.write("first.csv", f"{FIELDS}\n{sealed(1)}\n"))
    short, long = grown(office, 2_000), grown(office, 20_000)
    assert long < 1.2 * short, f"{short} and {long} bytes"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("last", ["", "end"])
def test_physical_lines_are_counted_as_an_editor_does(tmp_path: Path, end: str, last: str) -> None:
    """Whatever ends them, also across blocks of the file, and a last one without an end."""
    path = tmp_path / "list.csv"
    path.write_bytes((f"{'x' * 41}{end}" * 60_000 + last).encode())
    assert sound(path, "auto").lines == 60_000 + bool(last)


def test_the_delimiter_is_the_one_that_gives_known_columns(tmp_path: Path) -> None:
    """A header whose cells hold other delimiters is parted where its fields are."""
    path = tmp_path / "list.csv"
    path.write_text(f'"note";{";".join(HEADER[:-1])};"a,b,c,d,e,f,g,h,i,j"\n')
    said = Said(keeper="k", ignore=["a,b,c,d,e,f,g,h,i,j"])
    with sound(path, "auto").open() as text:
        assert table(text, Mapping("test", said), path.name).delimiter == ";"


def test_reading_alone_records_nothing_and_needs_no_mapping(tmp_path: Path) -> None:
    """The same line always reads as the same event with the same id."""
    path = tmp_path / "list.csv"
    path.write_text(f"{FIELDS}\n{sealed(1)}\n{sealed(1)}\n{sealed(1, 1)}\n")
    ids = [line.event and line.event["id"] for line in lines_of(path, plain("k"))]
    assert ids[0] == ids[1] != ids[2]


FRAGMENTS = st.sampled_from(
    [*FIELDS.split(","), sealed(1), FIELDS, '"', '""', "\0", "\n", "\r\n", ",", ";", "\t", "{", "}",
     '{"kind": "found"', "[", "]", ":", "null", "1e99", "-", "7K3M 92QD F0VX", "https://", "\ud800",
     "\\ud800", "2026-07-19", "corrected", "date", "time", "\ufeff", "'"]
)  # fmt: skip


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.lists(FRAGMENTS | st.text(max_size=5), max_size=25), st.booleans(), st.booleans())
def test_whatever_a_list_holds_it_is_told_and_nothing_breaks(
    parts: list[str], with_header: bool, as_json: bool
) -> None:
    """Every record becomes an event or a reason, or the list is refused whole with a reason."""
    text = io.StringIO((f"{FIELDS}\n" if with_header else "") + "".join(parts), newline="")
    try:
        sheet = json_lines(text, plain("k")) if as_json else table(text, plain("k"), "list.csv")
    except (MappingError, UnreadableListError) as why:
        assert str(why)
        return
    for line in sheet.lines:
        assert (line.event is None) is bool(line.reason)
        assert line.record.line >= 1


def test_the_mapping_in_the_documentation_is_a_good_one(tmp_path: Path) -> None:
    """What docs/import.md shows is read without complaint."""
    page = (Path(__file__).parents[3] / "docs" / "import.md").read_text("utf-8")
    path = tmp_path / "ledger.toml"
    path.write_text(page.split("```toml\n")[1].split("```")[0], "utf-8")
    mapping = read_mapping(path)
    assert mapping.constants == {
        "kind": "registered",
        "actor": "ledger 2026",
        "container_kind": "bag",
    }
    assert mapping.columns["Weight (kg)"].unit == "kg"
