"""Lists against what is published: CSV by RFC 4180, JSON by RFC 8259, ids by RFC 9562, clocks."""

import io
import uuid
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import rfc8785
from stdnum.iso7064 import mod_37_36

from service.custody.identifiers import ALPHABET, LENGTH, derived_id, name_based
from service.duties.imports.cells import CellError, Clock
from service.duties.imports.ids import NAMESPACE, event_id
from service.duties.imports.sheet import Lines, objects, rows
from tests.trade import bag


def cells(text: str) -> list[list[str]]:
    """The rows of a text."""
    read = list(rows(Lines(io.StringIO(text, newline="")), ","))
    assert not any(record.reason for record in read)
    return [record.cells for record in read]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        # RFC 4180 (October 2005), section 2; the rule's number is given.
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),  # 1
        ("aaa,bbb,ccc\r\nzzz,yyy,xxx", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),  # 2
        ("aaa,bbb,ccc", [["aaa", "bbb", "ccc"]]),  # 4
        ('"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),  # 5
        (
            '"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',  # 6
            [["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"]],
        ),
        ('"aaa","b""bb","ccc"', [["aaa", 'b"bb', "ccc"]]),  # 7
        ("a, b ,c", [["a", " b ", "c"]]),  # 4: spaces are part of a field
    ],
)
def test_the_examples_of_rfc_4180(text: str, wanted: list[list[str]]) -> None:
    """Rows are read as the examples of RFC 4180, section 2, say."""
    assert cells(text) == wanted


@pytest.mark.parametrize(
    ("text", "good"),
    [
        # RFC 8259 (December 2017): sections 3 and 6 (literals and numbers), 4 (unique names: where
        # they are not, software differs, hence refused), 7 (strings).
        ('{"a": [1, -0.5, 1e2, true, null]}', True),
        ('{"a": NaN}', False),
        ('{"a": Infinity}', False),
        ('{"a": 1, "a": 2}', False),
        ("{'a': 1}", False),
        ('{"a": 01}', False),
        ('{"a": "\t"}', False),
        ('{"a": 1,}', False),
    ],
)
def test_json_lines_take_json_and_nothing_else(text: str, good: bool) -> None:
    """What RFC 8259 does not allow, or leaves open, is refused."""
    (record,) = objects(Lines(io.StringIO(text)))
    assert (record.reason == "") is good


def test_the_example_of_a_name_based_uuid() -> None:
    """RFC 9562, Appendix B.2: SHA-256 of "www.example.com" in the DNS namespace."""
    wanted = uuid.UUID("5c146b14-3c52-8afd-938a-375d0df1fbf6")
    made = name_based(uuid.NAMESPACE_DNS, "www.example.com")
    assert made == wanted
    assert made.version == 8
    assert made.variant == uuid.RFC_4122


def test_ids_of_imported_events_are_made_from_canonical_json() -> None:
    """The name is the keeper and the event by RFC 8785, as the library rfc8785 writes it."""
    event = bag(container="7K3M").sealed("2026-07-01 10:00", weight_g=3420).last("registered")
    content: dict[str, Any] = {
        "actor": "nurse",
        "category": "soiled",
        "container_kind": "bag",
        "containers": ["7K3M"],
        "id": str(uuid.UUID(int=0)),
        "kind": "registered",
        "occurred_at": "2026-07-01T10:00:00Z",
        "unit": "ward-3",
        "weight_g": 3420,
    }
    name = f"ledger ü\n{rfc8785.dumps(content).decode()}"
    made = event_id("ledger ü", event)
    assert made.bytes[1:] == name_based(NAMESPACE, name).bytes[1:]
    assert made.bytes[0] == 1, "registered is the second kind of a container's life"
    assert (made.version, made.variant) == (8, uuid.RFC_4122)


def test_derived_container_ids_pass_the_reference_library() -> None:
    """python-stdnum (iso7064.mod_37_36) takes each; keeper and number both make the difference."""
    made = [derived_id("ledger 2026", str(n)) for n in range(2_000)]
    assert len(set(made)) == 2_000
    for container_id in made:
        assert mod_37_36.is_valid(container_id)
        assert len(container_id) == LENGTH
        assert set(container_id) <= set(ALPHABET)
    assert derived_id("ledger 2026", "1") == made[1], "for ever the same"
    assert derived_id("ledger 2025", "1") != made[1]
    assert derived_id("a", "bc") != derived_id("ab", "c")


@pytest.mark.parametrize(
    ("zone", "local", "utc"),
    [
        # Directive 2000/84/EC, articles 2 and 3: summer time begins at 01:00 UTC on the last Sunday
        # of March and ends at 01:00 UTC on the last Sunday of October (2026: 29 March, 25 October).
        ("Europe/Berlin", "2026-03-29 01:59", "2026-03-29 00:59"),
        ("Europe/Berlin", "2026-03-29 02:00", None),
        ("Europe/Berlin", "2026-03-29 02:59", None),
        ("Europe/Berlin", "2026-03-29 03:00", "2026-03-29 01:00"),
        ("Europe/Berlin", "2026-10-25 01:59", "2026-10-24 23:59"),
        ("Europe/Berlin", "2026-10-25 02:00", None),
        ("Europe/Berlin", "2026-10-25 03:00", "2026-10-25 02:00"),
        # Indian Standard Time is UTC+05:30 all the year (from memory).
        ("Asia/Kolkata", "2026-03-29 02:30", "2026-03-28 21:00"),
        # Uniform Time Act, 15 U.S.C. 260a: second Sunday of March, first of November, at 02:00
        # local time (2026: 8 March, 1 November).
        ("America/New_York", "2026-03-08 02:30", None),
        ("America/New_York", "2026-11-01 01:30", None),
        ("America/New_York", "2026-11-01 02:00", "2026-11-01 07:00"),
    ],
)
def test_clocks_are_changed_when_the_law_says(zone: str, local: str, utc: str | None) -> None:
    """Local times become UTC; the hours that never came or came twice are refused."""
    moment, clock = datetime.fromisoformat(local), Clock(ZoneInfo(zone))
    if utc is None:
        with pytest.raises(CellError, match=r"never came|came twice"):
            clock.instant(moment)
    else:
        assert clock.instant(moment) == datetime.fromisoformat(utc).replace(tzinfo=UTC)


def test_a_skipped_hour_read_as_later_is_as_calendars_do() -> None:
    """RFC 5545, section 3.3.5: a time in the gap is read by the offset before the gap."""
    moment = datetime(2007, 3, 11, 2, 30)  # noqa: DTZ001 - the example is a local time
    # The example there: TZID=America/New_York:20070311T023000 is 3:30 A.M. EDT (UTC-04:00).
    wanted = datetime(2007, 3, 11, 7, 30, tzinfo=UTC)
    assert Clock(ZoneInfo("America/New_York"), "later").instant(moment) == wanted
    # And 20071104T013000, which comes twice, is its first: EDT (UTC-04:00).
    twice = datetime(2007, 11, 4, 1, 30)  # noqa: DTZ001
    first = datetime(2007, 11, 4, 5, 30, tzinfo=UTC)
    assert Clock(ZoneInfo("America/New_York"), "earlier").instant(twice) == first
