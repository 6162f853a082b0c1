"""Mappings: each mistake in one is named with file, key and reason before any line is read."""

import pytest

from service.duties.importing import MappingError, plain, read_mapping
from service.duties.imports.mapping import REASON
from tests.duties.imports.office import FIELDS, LEDGER, LEDGER_HEADER, Office, reasons, sealed

K = 'keeper = "k"\n'


@pytest.mark.parametrize(
    ("text", "key", "why"),
    [
        ("keeper = ", "", "not TOML"),
        ("", "keeper", "is missing"),
        ("keeper = 5", "keeper", "must be text"),
        (K + 'colour = "red"', "colour", "unknown key"),
        (K + 'encoding = "utf-9"', "encoding", "unknown encoding 'utf-9'"),
        (K + 'delimiter = "::"', "delimiter", "not one character"),
        (K + 'time_zone = "Europe/Atlantis"', "time_zone", "no time zone is called"),
        (K + 'time_zone = "../etc/passwd"', "time_zone", "no time zone is called"),
        (K + 'clock_change = "maybe"', "clock_change", "'refuse', 'earlier' or 'later'"),
        (K + 'container_ids = "both"', "container_ids", "'ours' or 'theirs'"),
        (K + "header_line = 0", "header_line", "greater than or equal to 1"),
        (K + '[columns]\nBag = "bags"', "columns.Bag", "unknown field 'bags'"),
        (K + "[columns]\nBag = 5", "columns.Bag", "must be"),
        (K + '[columns]\nBag = { field = "note", colour = "x" }', "columns.Bag.colour", "unknown"),
        (K + '[columns]\nBag = { unit = "kg" }', "columns.Bag.field", "is missing"),
        (K + '[columns]\nA = "note"\nB = "note"', "columns.B", "already given by the column 'A'"),
        (
            K + '[columns]\nW = { field = "weight_g", unit = "lb" }',
            "columns.W.unit",
            "'lb' is no unit of weight_g: g or kg",
        ),
        (
            K + '[columns]\nW = { field = "weight_g", decimal = ";" }',
            "columns.W.decimal",
            "'.' or ','",
        ),
        (K + '[columns]\nN = { field = "note", unit = "kg" }', "columns.N.unit", "means nothing"),
        (
            K + '[columns]\nK = { field = "container_kind", values = { Sack = "sack" } }',
            "columns.K.values.Sack",
            "container_kind",
        ),
        (
            K + '[columns]\nK = { field = "kind", values = { weg = "gone" } }',
            "columns.K.values.weg",
            "no kind of event",
        ),
        (
            K + '[columns]\nD = { field = "occurred_at", format = "%d.%m.%Y %H:%M" }',
            "columns.D.format",
            "say time_zone",
        ),
        (
            K + '[columns]\nD = { field = "date", format = "%d.%m." }',
            "columns.D.format",
            "does not say a date in full",
        ),
        (K + '[constants]\nkind = "gone"', "constants.kind", "no kind of event"),
        (K + '[constants]\nbags = "x"', "constants.bags", "no field"),
        (K + '[constants]\nid = "x"', "constants.id", "no field that can be the same"),
        (K + '[constants]\nclosed = "perhaps"', "constants.closed", "neither true nor false"),
        (K + '[constants]\nactor = ""', "constants.actor", "is empty"),
        (
            K + '[constants]\nnote = "x"\n[columns]\nN = "note"',
            "constants.note",
            "already given by the column 'N'",
        ),
    ],
)
def test_a_malformed_mapping(office: Office, text: str, key: str, why: str) -> None:
    """The error names the file, the key and the reason in one line."""
    with pytest.raises(MappingError) as caught:
        office.mapping(text)
    found = dict(caught.value.problems)
    assert list(found) == [key]
    assert why in found[key]
    assert str(caught.value).startswith(f"mapping.toml: {key}" if key else "mapping.toml: not")


def test_all_that_is_wrong_is_told_at_once(office: Office) -> None:
    """Who corrects a mapping need not run it again for each mistake."""
    text = K + '[columns]\nA = "bags"\nW = { field = "weight_g", unit = "lb" }'
    with pytest.raises(MappingError) as caught:
        office.mapping(text)
    assert [key for key, _ in caught.value.problems] == ["columns.A", "columns.W.unit"]


def test_a_mapping_that_is_not_there_or_not_utf_8(office: Office) -> None:
    """A file that cannot be read is an error in a sentence, too."""
    with pytest.raises(MappingError, match="not UTF-8 at byte 10"):
        office.mapping(b'keeper = "\xff"')
    with pytest.raises(MappingError, match=r"none\.toml: No such file"):
        read_mapping(office.folder / "none.toml")


@pytest.mark.parametrize(
    ("header", "key", "why"),
    [
        (LEDGER_HEADER.replace("Datum", "Tag"), "columns.Datum", "juli.csv has no such column"),
        (LEDGER_HEADER.replace("Unterschrift", "Farbe"), "columns.Farbe", "mapped to nothing"),
        (LEDGER_HEADER.replace("Unterschrift", "Datum"), "columns.Datum", "this column twice"),
        (LEDGER_HEADER.replace("Unterschrift", "weight_g"), "columns.weight_g", "already given"),
        (LEDGER_HEADER.replace("Unterschrift", "kind"), "columns.kind", "given by a constant"),
        (LEDGER_HEADER.replace("Unterschrift", "store"), "store", "is not a field of 'registered'"),
    ],
)
def test_a_mapping_that_does_not_fit_the_list(
    office: Office, header: str, key: str, why: str
) -> None:
    """A column that is missing, unknown, or there twice stops the list before its first line."""
    path = office.write("juli.csv", f"{header}\n17;19.07.2026;08:30;1;Gelber Sack;OP;ja;x\n")
    with pytest.raises(MappingError) as caught:
        office.bring_in(path, office.mapping())
    found = dict(caught.value.problems)
    assert why in found[key]
    assert office.entries() == []


@pytest.mark.parametrize(
    ("left_out", "missing"),
    [("Sack-Nr.", "containers"), ("Abfallart", "category"), ("Uhrzeit", "time")],
)
def test_a_required_field_that_nothing_gives(office: Office, left_out: str, missing: str) -> None:
    """What the kind of event needs must come from a column or a constant."""
    text = "\n".join(line for line in LEDGER.splitlines() if left_out not in line)
    header = LEDGER_HEADER.replace(f"{left_out};", "")
    with pytest.raises(MappingError) as caught:
        office.bring_in(office.write("juli.csv", header + "\n"), office.mapping(text))
    assert (missing, "neither a column of juli.csv nor a constant gives it") in (
        caught.value.problems
    )


def test_all_other_columns_can_be_ignored(office: Office) -> None:
    """With "*" in ignore, unknown columns are passed over, those named as fields are not."""
    mapping = office.mapping(K + 'ignore = ["*"]')
    text = f"{FIELDS},note,Signature,Signature\n{sealed(1)},wet,x,y\n"
    report = office.bring_in(office.write("list.csv", text), mapping)
    assert reasons(report) == {}
    assert office.entries()[0].event.note == "wet"


def test_columns_without_a_name(office: Office) -> None:
    """Empty columns at the end of a spreadsheet do no harm; what stands in one is told."""
    text = f"{FIELDS},,\n{sealed(1)},,\n{sealed(2)},oops,\n"
    report = office.bring_in(office.write("list.csv", text))
    assert reasons(report) == {3: "'oops' stands in a column without a name"}


def test_a_list_with_field_names_needs_no_mapping(office: Office) -> None:
    """Whatever the delimiter; the column of an earlier refusal is passed over."""
    for number, delimiter in enumerate(",;\t|"):
        text = f"{REASON},{FIELDS}\n-,{sealed(number)}\n".replace(",", delimiter)
        report = office.bring_in(office.write(f"{number}.csv", text), plain("k"))
        assert reasons(report) == {}
    assert len(office.entries()) == 4
