"""A logger's file: what is read, and what is refused with its place; nothing is repaired."""

import json
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.treatment.problems import PROBLEMS_MAX, TraceError
from service.treatment.trace import Trace, read_trace
from tests.treatment.traces import HEADER, cycle, trace

A, B, C = "0,20.5,101.3", "10,21.5,101.4", "20,22.5,101.5"


def refusal(text: str, **said: object) -> str:
    """What is said of a file that is refused."""
    with pytest.raises(TraceError) as caught:
        read_trace(text, **said)  # type: ignore[arg-type]
    return str(caught.value)


def rules(found: Trace) -> set[str]:
    """The rules of the remarks."""
    return {remark.rule for remark in found.remarks}


def test_a_plain_file() -> None:
    """Seconds, one probe, absolute pressure."""
    found = trace(A, B, C)
    assert found.time_s.tolist() == [0, 10, 20]
    assert found.temperatures_c[""].tolist() == [20.5, 21.5, 22.5]
    assert found.pressure_kpa is not None
    assert found.pressure_kpa.tolist() == [101.3, 101.4, 101.5]
    assert (found.start, found.remarks) == (None, ())
    assert found.linked.all()


@pytest.mark.parametrize("ends", ["\r\n", "\r", "\n", "\n\n", "\n  \n"])
def test_line_ends_and_blank_lines(ends: str) -> None:
    """Whatever ends the lines; blank ones are passed over."""
    assert read_trace("\ufeff" + ends.join([HEADER, A, B, C]) + ends).time_s.tolist() == [0, 10, 20]


def test_places_count_blank_lines() -> None:
    """A line's number is that of the file as it is."""
    assert refusal(f"{HEADER}\n\n{A}\n\n10,hot,101.4\n").startswith("line 5: temperature_c: 'hot'")


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ("Err", "'Err' is no number"),
        ("121.5 C", "is no number"),
        ("1_21", "is no number"),
        ("nan", "is no number"),
        ("inf", "is no number"),
        ("1e999", "no number that a sensor gives"),
        ("0x79", "is no number"),
        ("١٢١", "is no number"),
        ("--", "is no number"),
        ("12 1", "is no number"),
    ],
)
def test_text_in_numbers(cell: str, said: str) -> None:
    """Each is named with its line and column."""
    told = refusal(f"{HEADER}\n{A}\n10,{cell},101.4\n{C}\n")
    assert told.startswith("line 3: temperature_c: ")
    assert said in told


def test_many_problems_are_counted() -> None:
    """The first few and the last are named, the rest counted."""
    told = refusal(f"{HEADER}\n" + "".join(f"{n},x,1\n" for n in range(100)))
    assert "90 more like it" in told
    assert told.startswith("line 2")
    assert "line 101" in told
    assert told.count("is no number") == PROBLEMS_MAX


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("time_s,temperature,pressure_kpa", "declare the unit: temperature_c"),
        ("time_s,temp_c,pressure_kpa", "declare the unit"),
        ("time_s,pressure_kpa,humidity", "there is no temperature"),
        ("seconds,temperature_c,pressure_kpa", "one column must be called time_s"),
        ("time_s,time,temperature_c", "two columns of time"),
        ("time_s,temperature_c,temperature_c", "two columns have this header"),
        ("time_s,temperature_c,temperature_f", "one probe has two columns"),
        ("time_s,temperature_c,", "column 3 has no header"),
        ("time_s,temperature_c,pressure", "declare the unit: pressure_kpa"),
        ("time_s,temperature_c,pressure_bar", "say pressure_bar_abs or pressure_bar_gauge"),
        ("time_s,temperature_c", "3 cells under 2 headers"),
    ],
)
def test_headers(header: str, said: str) -> None:
    """A header that leaves something open is refused with what to write."""
    assert said in refusal(f"{header}\n{A}\n{B}\n")


def test_two_pressures() -> None:
    """Which one is the chamber's is not guessed."""
    header = "time_s,temperature_c,pressure_kpa,pressure_bar_abs"
    assert "two columns of pressure" in refusal(f"{header}\n0,1,2,3\n1,2,3,4\n")


def test_units_are_converted_as_declared() -> None:
    """°F, bar above the atmosphere: said, and the same for every reading."""
    found = read_trace(
        "time_min,temperature_f,pressure_bar_gauge,humidity\n0,212,0,40\n1,249.98,1.037,41\n",
        ambient_kpa=101.3,
    )
    assert found.time_s.tolist() == [0, 60]
    assert found.temperatures_c[""] == pytest.approx([100, 121.1])
    assert found.pressure_kpa == pytest.approx([101.3, 205])
    assert rules(found) == {"trace.fahrenheit", "trace.gauge", "trace.not_read"}
    assert found.gauge


def test_several_probes() -> None:
    """Numbers or names; the coldest and hottest at each reading."""
    found = read_trace("time_s,temperature_1_c,temperature_load_2_c\n0,100,90\n1,101,103\n")
    assert list(found.temperatures_c) == ["1", "load_2"]
    assert (found.coldest_c.tolist(), found.hottest_c.tolist()) == ([90, 101], [100, 103])


def test_decimal_commas() -> None:
    """Between semicolons or tabs they are read and told; mixed with points they are refused."""
    text = "time_s;temperature_c\n0;120,5\n1;121,5\n"
    assert read_trace(text).temperatures_c[""].tolist() == [120.5, 121.5]
    assert rules(read_trace(text)) == {"trace.decimal_comma"}
    assert read_trace(text.replace(";", "\t")).temperatures_c[""].tolist() == [120.5, 121.5]
    assert "some a point" in refusal("time_s;temperature_c\n0;120,5\n1;121.5\n")
    assert "is no number" in refusal("time_s;temperature_c\n0;1.120,5\n1;121,5\n")
    assert "has a comma" in refusal('time_s,temperature_c\n0,"120,5"\n1,"121,5"\n')
    assert "decimal commas?" in refusal("time_s,temperature_c\n0,120,5\n1,121,5\n")


def test_quotations() -> None:
    """Quoted cells are read; a quotation left open is refused."""
    assert read_trace('"time_s","temperature_c"\n"0","20"\n"1","21"\n').time_s.tolist() == [0, 1]
    assert "no CSV" in refusal('time_s,temperature_c\n"0,20\n1,21\n')
    assert "no CSV" in refusal('time_s,temperature_c\n0,"2\n0"\n1,21\n')


def test_time_backwards_and_twice() -> None:
    """Backwards is refused; an equal reading is told; a different one at one time is refused."""
    assert refusal(f"{HEADER}\n{A}\n{C}\n{B}\n") == "line 4: time_s: time runs backwards here"
    assert rules(trace(A, B, B, C)) == {"trace.repeated"}
    assert "line 4: another reading" in refusal(f"{HEADER}\n{A}\n{B}\n10,21.6,101.4\n")


def test_a_cell_without_a_reading() -> None:
    """The reading is left out, the time on both sides does not count, and it is told."""
    found = trace(A, B, "15,,101.4", C, "30,23,101.6")
    assert found.time_s.tolist() == [0, 10, 20, 30]
    assert found.linked.tolist() == [True, False, True]
    assert rules(found) == {"trace.missing"}
    assert "no time" in refusal(f"{HEADER}\n{A}\n,21,101\n")


@pytest.mark.parametrize(
    "text", ["", "  \n \n", "time_s,temperature_c\n", "time_s,temperature_c\n0,1"]
)
def test_too_little(text: str) -> None:
    """Nothing, a header, or one reading."""
    assert "empty" in refusal(text) or "two readings" in refusal(text)


def test_no_text_file() -> None:
    """A workbook or another binary is told as such."""
    assert "no text file" in refusal("PK\x03\x04\x00\x00")


ISO = "time,temperature_c\n"


def test_clock_times() -> None:
    """With an offset; the start is an instant, the rest seconds from it."""
    found = read_trace(f"{ISO}2026-07-01T10:00:00+05:30,20\n2026-07-01T04:30:01.5Z,21\n")
    assert found.time_s.tolist() == [0, 1.5]
    assert found.start == datetime(2026, 7, 1, 4, 30, tzinfo=UTC)


def test_a_declared_zone() -> None:
    """Times without a zone take the declared one; with none declared they are refused."""
    text = f"{ISO}2026-07-01 10:00:00,20\n2026-07-01 10:00:30,21\n"
    assert "have no zone" in refusal(text)
    found = read_trace(text, zone=ZoneInfo("Asia/Kolkata"))
    assert found.start == datetime(2026, 7, 1, 4, 30, tzinfo=UTC)


def test_zones_that_disagree() -> None:
    """An offset that is not the declared zone's is refused; UTC is taken at its word and told."""
    text = f"{ISO}2026-07-01T10:00:00+02:00,20\n2026-07-01T10:00:30+02:00,21\n"
    assert "one is wrong" in refusal(text, zone=ZoneInfo("Asia/Kolkata"))
    assert rules(read_trace(text, zone=ZoneInfo("Europe/Paris"))) == set()
    utc = text.replace("+02:00", "Z")
    assert rules(read_trace(utc, zone=ZoneInfo("Europe/Paris"))) == {"trace.zone"}


@pytest.mark.parametrize("first", ["2026-10-25 01:30:00", "2026-10-25 02:15:00"])
def test_the_night_the_clocks_go_back(first: str) -> None:
    """A local time that comes twice, or a change within the trace, is not guessed."""
    later = (datetime.fromisoformat(first) + timedelta(hours=2)).isoformat(" ")
    text = f"{ISO}{first},20\n{later},21\n"
    assert "clocks of Europe/Paris change" in refusal(text, zone=ZoneInfo("Europe/Paris"))
    assert read_trace(text, zone=ZoneInfo("Asia/Kolkata")).time_s.tolist() == [0, 7200]


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        (("2026-07-01T10:00:00", "2026-07-01T10:01:00Z"), "some times have a zone"),
        (("10:00", "10:01"), "'10:00' is no time"),
        (("0", "1"), "is no time"),
        (("9999-12-31T23:59:00", "9999-12-31T23:59:30"), "outside the years"),
        (("0001-01-01T00:00:00", "0001-01-01T00:01:00"), "outside the years"),
        (("01/07/2026 10:00", "01/07/2026 10:01"), "is no time"),
    ],
)
def test_times_that_are_none(cells: tuple[str, str], said: str) -> None:
    """Each is named; seconds in a column called time are told where they belong."""
    assert said in refusal(f"{ISO}{cells[0]},20\n{cells[1]},21\n", zone=UTC)


def test_json_in_both_forms() -> None:
    """A list of objects or an object of lists gives the trace of the CSV."""
    head, *rows = [line.split(",") for line in cycle().splitlines()]
    objects = [dict(zip(head, map(float, r), strict=True)) for r in rows]
    lists = {name: [o[name] for o in objects] for name in head}
    wanted = read_trace(cycle())
    for form in (objects, lists):
        found = read_trace(json.dumps(form))
        assert found.time_s.tolist() == wanted.time_s.tolist()
        assert found.coldest_c.tolist() == wanted.coldest_c.tolist()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "no JSON"),
        ("[1, 2]", "row 1: not an object"),
        ('{"time_s": 1, "temperature_c": 2}', "not a list"),
        ('{"time_s": [0, 1], "temperature_c": [20]}', "not of one length"),
        ('{"time_s": [0, 1], "temperature_c": [20, NaN]}', "'NaN' is no number"),
        ('{"time_s": [0, 1], "temperature_c": [20, "21"]}', "row 2: temperature_c: '21' is no"),
        ('{"time_s": [0, 1], "temperature_c": [20, true]}', "True is no number"),
        ('{"time_s": [0, 1], "time_s": [0, 2], "temperature_c": [1, 2]}', "given twice"),
        ("[" * 100_000, "nested too deep"),
        ('[{"time_s": 0, "temperature_c": 1e400}, {"time_s": 1, "temperature_c": 2}]', "no number"),
        ("[]", "one column must be called"),
    ],
)
def test_json_that_is_no_trace(text: str, said: str) -> None:
    """Each is refused with what is wrong."""
    assert said in refusal(text)


def test_a_value_left_out_of_an_object_is_no_reading() -> None:
    """A logger that leaves a name out, or writes null, gave no reading."""
    found = read_trace(
        '[{"time_s":0,"temperature_c":1},{"time_s":1,"temperature_c":null},{"time_s":2},'
        '{"time_s":3,"temperature_c":2}]'
    )
    assert found.time_s.tolist() == [0, 3]
    assert found.linked.tolist() == [False]


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    """No text makes anything but a trace or a refusal."""
    try:
        read_trace(text)
    except TraceError as error:
        assert error.problems


cells = st.sampled_from(["1", "2.5", "", "x", "1,5", '"', "-3", "1e3", "null", " ", "2026-07-01"])


@given(st.lists(st.lists(cells, min_size=1, max_size=4), max_size=6), st.sampled_from(",;\t"))
def test_any_table_is_read_or_refused(rows: list[list[str]], sign: str) -> None:
    """Nor does any table under a right header."""
    text = "\n".join([f"time_s{sign}temperature_c{sign}pressure_kpa", *map(sign.join, rows)])
    try:
        found = read_trace(text)
    except TraceError as error:
        assert error.problems
    else:
        assert len(found.time_s) == len(found.coldest_c) == len(found.linked) + 1
