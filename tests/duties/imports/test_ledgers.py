"""Ledgers as hospitals keep them: commas, umlauts, local clocks, numbers of their own."""

from datetime import UTC, datetime

import pytest

from service.custody import identifiers
from service.custody.events import Origin
from service.duties.importing import MappingError, UnreadableListError, plain
from tests.duties.imports.office import (
    FIELDS,
    KEEPER,
    LEDGER,
    LEDGER_HEADER,
    Office,
    code,
    reasons,
    sealed,
)

GERMAN = f"""{LEDGER_HEADER}
17;19.07.2026;08:30;3,42;Gelber Sack;Station Süd;ja;Kü
18;19.07.2026;8:31;0,5 kg;roter  sack;OP;nein;Kü
"""


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_a_ledger_with_umlauts_and_decimal_commas(office: Office, encoding: str) -> None:
    """Words are translated, 3,42 kg is 3420 g, and local summer time becomes UTC."""
    said = "cp1252" if encoding == "cp1252" else "auto"
    path = office.write("juli.csv", GERMAN, encoding)
    report = office.bring_in(path, office.mapping(f'encoding = "{said}"\n{LEDGER}'))
    assert (report.recorded, report.refused, report.rejects) == (2, 0, None)
    first, second = (entry.event for entry in office.entries())
    assert (first.weight_g, first.category, first.unit) == (3420, "yellow-c", "ward-3")
    assert first.occurred_at == datetime(2026, 7, 19, 6, 30, tzinfo=UTC)
    assert (second.weight_g, second.category, second.closed) == (500, "red", False)
    assert first.containers == (identifiers.derived_id(KEEPER, "17"),)
    assert first.note == "their number: 17"


def test_a_ledger_that_knows_days_only(office: Office) -> None:
    """The mapping says the time of day; no midnight is made up."""
    text = "\n".join(line for line in LEDGER.splitlines() if "Uhrzeit" not in line)
    mapping = office.mapping(text.replace("[constants]", '[constants]\ntime = "12:00"'))
    list_of_days = GERMAN.replace("Uhrzeit;", "").replace("08:30;", "").replace("8:31;", "")
    report = office.bring_in(office.write("juli.csv", list_of_days), mapping)
    assert reasons(report) == {}
    noon = datetime(2026, 7, 19, 10, 0, tzinfo=UTC)
    assert {entry.event.occurred_at for entry in office.entries()} == {noon}


def test_each_entry_says_where_it_came_from(office: Office) -> None:
    """Origin is the file's name without its folder, the line, and who kept the list."""
    office.bring_in(office.write("juli.csv", GERMAN), office.mapping())
    assert [e.origin for e in office.entries()] == [
        Origin("juli.csv", 2, KEEPER),
        Origin("juli.csv", 3, KEEPER),
    ]


def test_an_import_is_late_only_by_the_rule_for_imports(office: Office) -> None:
    """Of two old entries only the one older than the 30 days for imports is recorded late."""
    days = [f"{FIELDS}\n"] + [
        sealed(n, occurred_at=f"2026-0{month}-10T06:00Z") + "\n" for n, month in ((1, 5), (2, 7))
    ]
    report = office.bring_in(office.write("old.csv", "".join(days)))
    late = ["record.late" in o.violations for o in report.outcomes()]
    assert late == [True, False]


def test_the_report_tells_the_outcome_of_every_line(office: Office) -> None:
    """Recorded, repeated and refused lines stand in the report with id, reason and violations."""
    text = f"{FIELDS}\n{sealed(1)}\n{sealed(1)}\n\n{sealed(2, weight_g='3.4.2')}\n"
    report = office.bring_in(office.write("list.csv", text))
    outcomes = list(report.outcomes())
    assert [(o.line, o.outcome) for o in outcomes] == [
        (2, "recorded"),
        (3, "repeated"),
        (5, "refused"),
    ]
    assert outcomes[0].event_id == outcomes[1].event_id == str(office.entries()[0].event.id)
    assert (report.lines, report.recorded, report.repeated, report.refused) == (3, 1, 1, 1)
    assert report.file.name == "list.report.csv"


def test_violations_are_told_on_the_line_that_shows_them(office: Office) -> None:
    """A bag registered open is recorded, and its line says so."""
    row = sealed(1) + ",false"
    report = office.bring_in(office.write("list.csv", f"{FIELDS},closed\n{row}\n"))
    (outcome,) = report.outcomes()
    assert outcome.outcome == "recorded"
    assert "packing.open" in outcome.violations
    assert report.violations == len(outcome.violations)


def test_several_containers_in_one_cell(office: Office) -> None:
    """Ids are parted by blanks or semicolons, and may be grouped as on the label."""
    one, two, three = code(1), code(2), code(3)
    cell = f"{one} {identifiers.grouped(two).lower()};{three[:4]}-{three[4:]}"
    text = (
        "kind,containers,occurred_at,actor,from_party,to_party\n"
        f"collected,{cell},2026-07-19T08:00Z,porter,ward-3,handlers\n"
    )
    report = office.bring_in(office.write("round.csv", text))
    assert reasons(report) == {}
    assert office.entries()[0].event.containers == (one, two, three)


def test_numbers_of_theirs_are_the_same_container_in_every_list(office: Office) -> None:
    """A ledger and a carrier's JSON Lines of the same keeper speak of the same bag."""
    office.bring_in(office.write("juli.csv", GERMAN), office.mapping())
    line = (
        '{"kind": "collected", "containers": ["17", 18], "occurred_at": "2026-07-19T08:00:00Z",'
        ' "actor": "porter", "from_party": "ward-3", "to_party": "handlers"}\n'
    )
    theirs = office.mapping(f'keeper = "{KEEPER}"\ncontainer_ids = "theirs"\n')
    report = office.bring_in(office.write("round.jsonl", line), theirs)
    assert reasons(report) == {}
    sealed_17, sealed_18, collected = (entry.event for entry in office.entries())
    assert collected.containers == (*sealed_17.containers, *sealed_18.containers)
    assert collected.note == "their numbers: 17, 18"


def test_more_numbers_than_a_note_holds(office: Office) -> None:
    """A long consignment is recorded; its note names what fits and says how many more."""
    numbers = ";".join(f"B-{n:05}" for n in range(400))
    text = (
        "kind,containers,occurred_at,actor,carrier,consignee,consignment\n"
        f"dispatched,{numbers},2026-07-19T08:00Z,porter,haulier,plant,C-9\n"
    )
    theirs = office.mapping(f'keeper = "{KEEPER}"\ncontainer_ids = "theirs"\n')
    report = office.bring_in(office.write("load.csv", text), theirs)
    assert reasons(report) == {}
    event = office.entries()[0].event
    assert len(event.containers) == 400
    shown, more = event.note.removeprefix("their numbers: ").rsplit(" and ", 1)
    assert len(shown.split(", ")) + int(more.removesuffix(" more")) == 400
    assert 450 < len(event.note) <= 500


def test_events_of_one_minute_stand_in_the_order_of_a_container_s_life(office: Office) -> None:
    """A list that knows minutes only makes no false gap, in whatever order its lines are."""
    at = "2026-07-19T08:00Z"
    head = "kind,containers,occurred_at,actor,category,unit,container_kind,from_party,to_party"
    for number in range(12):
        rows = [
            f"registered,{code(number)},{at},nurse,yellow-c,ward-3,bag,,",
            f"collected,{code(number)},{at},porter,,,,ward-3,handlers",
        ]
        text = "\n".join([head, *(rows if number % 2 else reversed(rows))])
        office.bring_in(office.write(f"{number}.csv", text))
    found = [e.event.id for e in office.entries() if e.event.kind == "registered"]
    after = [e.event.id for e in office.entries() if e.event.kind == "collected"]
    assert max(found) < min(after)
    assert {i.version for i in found + after} == {8}


def test_formulas_are_text(office: Office) -> None:
    """A cell that a spreadsheet would compute is kept letter for letter."""
    text = f'{FIELDS},note\n{sealed(1)},"=HYPERLINK(""x"")"\n{sealed(2)},@SUM(A1)\n'
    office.bring_in(office.write("list.csv", text))
    assert [e.event.note for e in office.entries()] == ['=HYPERLINK("x")', "@SUM(A1)"]


def test_title_lines_above_the_header(office: Office) -> None:
    """With header_line, what a sheet says above its table is passed over, also in its rejects."""
    text = f"Waste ledger;;\n\n{LEDGER_HEADER}\n17;19.07.2026;25:00;1;OP;OP;ja;\n"
    report = office.bring_in(
        office.write("juli.csv", text), office.mapping(f"header_line = 3\n{LEDGER}")
    )
    assert list(reasons(report)) == [4]
    assert report.rejects is not None
    kept = report.rejects.read_text().splitlines()
    assert kept[:3] == ["Waste ledger;;", "", f"refused because;{LEDGER_HEADER}"]


def test_json_lines_are_events_as_the_interface_takes_them(office: Office) -> None:
    """An object a line, exact numbers, an id of its own or one derived; bad ones are told."""
    good = (
        '{"kind":"registered","containers":["%s"],"occurred_at":"2026-07-19T10:00:00+05:30",'
        '"actor":"nurse","category":"yellow-c","unit":"ward-3","container_kind":"bag",'
        '"fill_fraction":0.7%s}'
    )
    own = "019f1d1f-0500-7000-8000-000000000001"
    lines = [
        good % (code(1), f',"id":"{own}"'),
        good % (code(2), ""),
        good % (code(3), ',"weight_g":3.5'),
        "[1, 2]",
        '{"kind":"registered"',
        '{"kind":"found","kind":"lost"}',
        '{"kind":"found","weight_g":NaN}',
        "[" * 100_000,
        good % (code(4), ',"colour":"yellow"'),
        good % (code(5), ',"note":"\\ud800"'),
    ]
    report = office.bring_in(office.write("events.jsonl", "\n".join(lines)))
    assert [str(e.event.fill_fraction) for e in office.entries()] == ["0.7", "0.7"]
    assert str(office.entries()[0].event.id) == own
    why = reasons(report)
    assert list(why) == [3, 4, 5, 6, 7, 8, 9, 10]
    assert "'3.5' is finer than a gram" in why[3]
    assert why[4] == "the line is not an object"
    assert why[5].startswith("the line is not JSON")
    assert "'kind' is there twice" in why[6]
    assert "NaN" in why[7]
    assert why[8] == "the line is nested too deep"
    assert why[9] == "colour is not a field of this kind of event"
    assert "note" in why[10]


def test_json_lines_by_a_mapping(office: Office) -> None:
    """Keys are mapped as columns are: units, words and local times."""
    mapping = office.mapping(
        LEDGER.replace('time_zone = "Europe/Berlin"', 'time_zone = "Asia/Kolkata"')
    )
    line = (
        '{"Sack-Nr.": 17, "Datum": "19.07.2026", "Uhrzeit": "00:15", "Gewicht (kg)": 3.42,'
        ' "Abfallart": "Gelber Sack", "Bereich": "OP", "dicht?": null, "Unterschrift": "x"}'
    )
    report = office.bring_in(office.write("juli.jsonl", line), mapping)
    assert reasons(report) == {}
    event = office.entries()[0].event
    assert event.weight_g == 3420
    assert event.occurred_at == datetime(2026, 7, 18, 18, 45, tzinfo=UTC), "UTC is a day behind"


def test_an_event_that_may_not_be_recorded_by_the_caller_is_refused(office: Office) -> None:
    """Each line is judged by the caller's role, in the duty's own words."""
    ward = Office(office.folder, office.store, office.caller.__class__("hill", "w", "ward"))  # type: ignore[arg-type]
    text = "kind,containers,occurred_at,actor\n" + f"found,{code(1)},2026-07-19T08:00Z,porter\n"
    report = ward.bring_in(office.write("list.csv", text))
    assert reasons(report) == {2: "a token for ward may not record 'found'"}


@pytest.mark.parametrize(
    ("content", "encoding", "said"),
    [
        (b"kind\nabc \xfc\n", "auto", "byte 0xfc at offset 9 (line 2)"),
        (b"\xef\xbb\xbfkind\r\na\r\n\xe9\xe9", "auto", "byte 0xe9 at offset 12 (line 3)"),
        (b"kind\ra\r\x81", "cp1252", "byte 0x81 at offset 7 (line 3)"),
        (b"\xff\xfea", "auto", "is not in utf-16-le"),
        (b"kind", "utf-16", "no byte order mark"),
        (b"\xff\xfea\0", "cp1252", "begins with the byte order mark of utf-16-le"),
        (b"PK\x03\x04rest", "auto", "is a workbook or archive"),
        (b"", "auto", "has no header line"),
        (b"\n \n", "auto", "has no header line"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_whole(
    office: Office, content: bytes, encoding: str, said: str
) -> None:
    """The error says where; nothing is recorded and no report begun."""
    path = office.write("list.csv", content)
    mapping = office.mapping(f'keeper = "k"\nencoding = "{encoding}"')
    with pytest.raises(UnreadableListError) as caught:
        office.bring_in(path, mapping)
    assert said in str(caught.value)
    assert office.entries() == []
    assert list(office.folder.glob("*report*")) == []


def test_a_wrong_byte_far_down_stops_the_list_before_its_first_line(office: Office) -> None:
    """The encoding is checked to the end first: nothing half-done."""
    rows = "".join(f"{sealed(1)}\n" for _ in range(20_000))
    path = office.write("list.csv", f"{FIELDS}\n{rows}".encode() + b"\xdf\n")
    with pytest.raises(UnreadableListError, match=r"byte 0xdf .*line 20002.*Nothing was recorded"):
        office.bring_in(path)
    assert office.entries() == []


def test_no_such_file(office: Office) -> None:
    """A missing list is an error in a sentence."""
    with pytest.raises(UnreadableListError, match=r"none\.csv: No such file"):
        office.bring_in(office.folder / "none.csv")


def test_a_list_that_lacks_a_required_column_is_refused_at_once(office: Office) -> None:
    """The error names the fields that nothing gives."""
    with pytest.raises(MappingError) as caught:
        office.bring_in(office.write("list.csv", "kind,containers\nfound,x\n"), plain("k"))
    assert [key for key, _ in caught.value.problems] == ["actor", "occurred_at"]
