"""Cells: exact weights, dates, local times and words; what can be read in two ways is refused."""

from datetime import UTC, date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.custody.events import KINDS
from service.duties.imports.cells import CellError, Clock, Figure, Moment, Split, Translated, truth
from service.duties.imports.fields import FIELDS, NESTED, OPTIONS, Sort, readers
from service.duties.imports.mapping import through

BERLIN, KOLKATA = ZoneInfo("Europe/Berlin"), ZoneInfo("Asia/Kolkata")
KG_COMMA, KG_POINT = Figure("kg", ",", whole=True), Figure("kg", ".", whole=True)


@pytest.mark.parametrize(
    ("figure", "cell", "grams"),
    [
        (KG_COMMA, "3,42", 3420),
        (KG_COMMA, " 3,42 kg ", 3420),
        (KG_COMMA, "3,42KG", 3420),
        (KG_COMMA, "1,234", 1234),
        (KG_COMMA, "3,42000", 3420),
        (KG_COMMA, "0", 0),
        (KG_POINT, "3.420", 3420),
        (KG_POINT, "12", 12_000),
        (Figure("g", ".", whole=True), "3420 g", 3420),
        (Figure("g", ".", whole=True), "3420.0", 3420),
        (KG_COMMA, "", None),
        (KG_COMMA, 3, 3000),
    ],
)
def test_a_weight_is_read_to_the_gram(figure: Figure, cell: Any, grams: int | None) -> None:
    """Kilograms or grams, decimal comma or point, become whole grams exactly."""
    assert figure(cell) == grams


@pytest.mark.parametrize(
    ("figure", "cell", "why"),
    [
        (KG_COMMA, "3,4205", "finer than a gram"),
        (Figure("g", ".", whole=True), "3.5", "finer than a gram"),
        (KG_COMMA, "1.234", "ambiguous"),
        (KG_COMMA, "1.234,5", "ambiguous"),
        (KG_POINT, "1,234.5", "ambiguous"),
        (KG_POINT, "3,42", "ambiguous"),
        (KG_POINT, "1 234", "ambiguous"),
        (KG_POINT, "1\u202f234", "ambiguous"),
        (KG_POINT, "1'234", "ambiguous"),
        (KG_POINT, "3420 g", "is in g, but the column is in kg"),
        (KG_POINT, "7 lb", "is in lb"),
        (KG_POINT, "1e3", "not a number"),
        (KG_POINT, "abc", "not a number"),
        (KG_POINT, ".", "not a number"),
        (KG_POINT, "٣", "not a number"),
        (KG_POINT, "12345678901", "not a number"),
    ],
)
def test_a_weight_that_would_be_a_guess_is_refused(figure: Figure, cell: str, why: str) -> None:
    """Separators of thousands, another unit, or a part of a gram are told, never rounded."""
    with pytest.raises(CellError, match=why):
        figure(cell)


@given(st.integers(0, 2_000_000), st.sampled_from(",."))
def test_every_weight_written_in_kilograms_is_read_back(grams: int, sign: str) -> None:
    """No weight changes by a gram on its way through kilograms with three decimals."""
    written = f"{grams // 1000}{sign}{grams % 1000:03}"
    assert Figure("kg", sign, whole=True)(written) == grams  # type: ignore[arg-type]


def test_a_fill_in_per_cent() -> None:
    """75 % full is 0.75, exactly; a temperature may bear its unit and a minus sign."""
    assert Figure("percent", ".", whole=False)("75 %") == "0.75"
    assert Figure("celsius", ",", whole=False)("\u22123,5 °C") == "-3.5"


@pytest.mark.parametrize(
    ("zone", "local", "utc"),
    [
        (KOLKATA, "2026-07-19 00:15", "2026-07-18 18:45"),
        (BERLIN, "2026-07-19 08:30", "2026-07-19 06:30"),
        (BERLIN, "2026-01-19 08:30", "2026-01-19 07:30"),
        (BERLIN, "2026-03-29 01:59", "2026-03-29 00:59"),
        (BERLIN, "2026-03-29 03:00", "2026-03-29 01:00"),
    ],
)
def test_local_times_become_utc(zone: ZoneInfo, local: str, utc: str) -> None:
    """A local time is read by its zone, on either side of the change of clocks."""
    wanted = datetime.fromisoformat(utc).replace(tzinfo=UTC)
    assert Clock(zone).instant(datetime.fromisoformat(local)) == wanted


@pytest.mark.parametrize(
    ("local", "why", "earlier", "later"),
    [
        ("2026-03-29 02:30", "never came", "2026-03-29 00:30", "2026-03-29 01:30"),
        ("2026-10-25 02:30", "came twice", "2026-10-25 00:30", "2026-10-25 01:30"),
        ("2026-10-25 02:00", "came twice", "2026-10-25 00:00", "2026-10-25 01:00"),
    ],
)
def test_hours_at_the_change_of_clocks(local: str, why: str, earlier: str, later: str) -> None:
    """A skipped or doubled hour is refused unless the mapping says which of the two is meant."""
    moment = datetime.fromisoformat(local)
    with pytest.raises(CellError, match=why):
        Clock(BERLIN).instant(moment)
    for change, utc in (("earlier", earlier), ("later", later)):
        wanted = datetime.fromisoformat(utc).replace(tzinfo=UTC)
        assert Clock(BERLIN, change).instant(moment) == wanted  # type: ignore[arg-type]


def test_a_time_with_an_offset_needs_no_zone_and_one_without_does() -> None:
    """Without a zone in the mapping a local time is refused, an offset stands for itself."""
    read = Moment("instant", ("iso",))
    assert read("2026-07-19T08:30+05:30") == datetime(2026, 7, 19, 3, tzinfo=UTC)
    assert read("2026-07-19 03:00Z") == datetime(2026, 7, 19, 3, tzinfo=UTC)
    with pytest.raises(CellError, match="say time_zone"):
        read("2026-07-19 08:30")
    with pytest.raises(CellError, match="out of all bounds"):
        Moment("instant", ("iso",), Clock(KOLKATA))("0001-01-01T00:00")


def test_a_day_alone_is_no_moment() -> None:
    """A date without a time of day is not taken for midnight."""
    with pytest.raises(CellError, match="not a date and time"):
        Moment("instant", ("iso",), Clock(BERLIN))("2026-07-19")


def test_dates_and_times_by_patterns() -> None:
    """The patterns of a mapping are tried; two that disagree about a cell refuse it."""
    read = Moment("date", ("%d/%m/%Y", "%m/%d/%Y"))
    assert read("25/12/2026") == date(2026, 12, 25)
    assert read("07/07/2026") == date(2026, 7, 7)
    with pytest.raises(CellError, match="two ways"):
        read("01/02/2026")
    with pytest.raises(CellError, match="not a date written as"):
        read("31/31/2026")
    assert Moment("time", ("%H:%M",))("8:05") == time(8, 5)
    assert Moment("time", ("%I:%M %p",))("8:05  PM") == time(20, 5)


@pytest.mark.parametrize(
    ("part", "pattern"),
    [
        ("date", "%d.%m."),
        ("date", "%H:%M"),
        ("time", "%I:%M"),
        ("time", "%Q"),
        ("time", "%"),
        ("instant", "%d.%m.%Y"),
        ("instant", "%Y-%m-%d %H:%M %Z"),
        ("date", ""),
    ],
)
def test_a_pattern_that_leaves_something_out_is_known_at_once(part: Any, pattern: str) -> None:
    """No year, no half of the day, a directive that there is not."""
    assert "does not say" in Moment(part, (pattern,)).fault()


@pytest.mark.parametrize("pattern", ["%d.%m.%Y %H:%M", "%Y-%m-%dT%H:%M:%S%z", "%d %b %y %I %p"])
def test_a_pattern_that_says_all_is_good(pattern: str) -> None:
    """Two-digit years and offsets are fine."""
    assert Moment("instant", (pattern,)).fault() == ""


def test_words_are_translated_whatever_their_capitals() -> None:
    """A word of the table, or what the table makes of it; any other is refused."""
    read = Translated({Translated.key(" Yellow  bag"): "yellow-c", "-": ""})
    assert read("yellow BAG ") == "yellow-c"
    assert read("yellow-c") == "yellow-c"
    assert read("-") is None
    assert read("  ") is None
    with pytest.raises(CellError, match="'Green bag' is not among the values"):
        read("Green bag")


def test_yes_and_no() -> None:
    """Plain words need no translation; any other does."""
    assert [truth(w) for w in ("Yes", "no", "TRUE", "0", "")] == [True, False, True, False, None]
    with pytest.raises(CellError, match="translate it"):
        truth("perhaps")


def test_lists_in_a_cell() -> None:
    """Wrong items are parted by semicolons and may be translated one by one."""
    assert Split("; ")(" a;b  c;;") == ["a", "b", "c"]
    way = readers("wrong_items", {"values": {"Spritze": "syringe", "Glas": "glass"}}, Clock())
    assert through(way, "Spritze; glas") == ["syringe", "glass"]


def test_every_field_of_every_event_can_be_imported() -> None:
    """The table of fields is complete and each sort of field has readers and options."""
    named = {name for kind in KINDS for name in kind.model_fields} - NESTED
    assert named | {"date", "time"} == set(FIELDS)
    assert set(OPTIONS) == set(Sort)
    weights = {n for n in named if n.endswith("_g")}
    assert weights == {n for n, s in FIELDS.items() if s is Sort.WEIGHT} >= {"weight_g", "load_g"}
    assert {n for n, s in FIELDS.items() if s is Sort.LIST} == {
        "columns", "containers", "parents", "wrong_items",
    }  # fmt: skip
    assert FIELDS["hub_cut"] is FIELDS["closed"] is Sort.TRUTH
    assert FIELDS["occurred_at"] is FIELDS["in_use_since"] is Sort.MOMENT
    assert FIELDS["count"] is FIELDS["items_seen"] is Sort.WHOLE
