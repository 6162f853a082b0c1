"""Leaves: what is hashed of an entry or a set-up is read back whole, from its very bytes only."""

import json
from typing import Any

import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from service.custody.events import KINDS, Entry, Origin
from service.custody.site import Site
from service.ledger.leaf import LeafError, SiteVersion, entry_leaf, read, setup_leaf
from service.ledger.merkle import leaf_hash
from tests.house import HOSPITAL
from tests.ledger.tree import flipped
from tests.trade import Story, at

LINE = Origin("ward «3».csv", 12, 'keeper "of" the list')
FURTHER: dict[str, dict[str, Any]] = {
    "registered": {
        "weight_g": 3400,
        "scale": "ward-scale",
        "fill_fraction": "0.70",
        "closed": False,
        "hub_cut": True,
        "in_use_since": at("2026-06-30 08:00"),
        "contents": 'needles,\t"used"\n10 € \u007e 😀',
    },
    "weighed": {"scale": "ward-scale"},
    "double_bagged": {"outer": "OUTER-1", "tare_g": 40},
    "collected": {"protective_gear": True},
    "stored": {"temperature_c": "-18.50"},
    "dispatched": {"vehicle": "V-1", "closed": False, "condition": "chilled"},
    "received": {"weight_g": 3000, "scale": "s", "exceptions": "wet"},
    "disposed": {"receipt": "R-1"},
    "inspected": {"wrong_items": ("glass",), "items_seen": 10, "items_wrong": 1},
    "lost": {"last_seen": "yard"},
    "spilled": {"people_exposed": 2},
    "notified": {"reference": "N-7"},
    "activity_counted": {"procedures": 42, "occupied_bed_days": "0.50"},
}
PLAIN = {"weighed": {"weight_g": 3400}}
NAMES = [kind.model_fields["kind"].default for kind in KINDS]


def _told(kind: str, **said: Any) -> Entry:
    story = Story().sealed("2026-07-01 09:00")
    if kind == "amended":
        return story.amended("2026-07-01 12:00", "registered", note="put right").entries[-1]
    return story.tell(kind, "2026-07-01 10:00", **(PLAIN.get(kind, {}) | said)).entries[-1]


def _entries(kind: str) -> list[Entry]:
    plain = _told(kind)
    if kind == "amended":
        voided = Story().sealed("2026-07-01 09:00").voided("2026-07-01 12:00", "registered")
        return [plain, voided.entries[-1]]
    further = {"device": "phone 3", "place": "ward-3", "note": "née\\"} | FURTHER.get(kind, {})
    whole = _told(kind, clock_offset_s=-75, false=("check",), origin=LINE, **further)
    return [plain, whole]


@pytest.mark.parametrize("kind", NAMES)
def test_an_entry_is_read_back_from_its_leaf(kind: str) -> None:
    """Every kind of event, with what is usual and with all it can say, is read back the same."""
    for entry in _entries(kind):
        leaf = entry_leaf(entry)
        assert read(leaf) == entry
        assert leaf == rfc8785.dumps(json.loads(leaf))


def test_a_leaf_once_written_is_written_so_for_ever() -> None:
    """Logs are signed over these very bytes, and the second migration writes them anew."""
    written = (
        '{"clock_offset_s":-75,"event":{"actor":"nurse","category":"soiled","closed":false,'
        '"container_kind":"bag","containers":["BAG-1"],'
        '"contents":"needles,\\t\\"used\\"\\n10 € ~ 😀",'
        '"fill_fraction":"0.7","id":"019f1d1f-0500-7000-8000-000000000006","kind":"registered",'
        '"occurred_at":"2026-07-01T10:00:00Z","unit":"ward-3","weight_g":3400},'
        '"false_codes":["check"],"origin":{"file":"ward «3».csv","keeper":"keeper","line":12},'
        '"recorded_at":"2026-07-01T10:02:15Z"}'
    ).encode()
    entry = read(written)

    assert isinstance(entry, Entry)
    assert entry_leaf(entry) == written
    assert (
        leaf_hash(written).hex()
        == "ca41ec121dc94ae49cae4e14f4497e8a9c288d693b4ccc88f554ec1739e6c2af"
    )


def test_a_set_up_is_read_back_from_its_leaf() -> None:
    """A version of the site with all it says is read back the same."""
    version = SiteVersion(Site.model_validate(HOSPITAL), 3, at("2026-07-01 09:00"))
    leaf = setup_leaf(version)

    assert read(leaf) == version
    assert leaf == rfc8785.dumps(json.loads(leaf))


@settings(max_examples=200, deadline=None, derandomize=True)
@given(
    offset=st.integers(-(10**9), 10**9),
    micros=st.integers(0, 999_999),
    note=st.text(
        st.characters(exclude_categories=["Cs", "Cc"]) | st.sampled_from("\n\t"), max_size=30
    ),
    line=st.integers(1, 10**9),
)
def test_times_offsets_and_texts_are_kept_to_the_letter(
    offset: int, micros: int, note: str, line: int
) -> None:
    """Fractions of a second, any clock offset and any text come back as they went in."""
    when = at("2026-07-01 10:00").replace(microsecond=micros)
    origin = Origin("list.csv", line, note or "unknown")
    entry = Story().sealed(when, note=note, clock_offset_s=offset, origin=origin).entries[-1]
    leaf = entry_leaf(entry)

    assert read(leaf) == entry
    assert leaf == rfc8785.dumps(json.loads(leaf))


@settings(max_examples=300, deadline=None, derandomize=True)
@given(kind=st.sampled_from(NAMES), bit=st.integers(0))
def test_a_changed_leaf_never_says_the_same(kind: str, bit: int) -> None:
    """One bit turned over: it is no leaf any more, or one that says something else."""
    entry = _entries(kind)[-1]
    changed = flipped(entry_leaf(entry), bit)
    try:
        found = read(changed)
    except LeafError:
        return

    assert found != entry
    assert isinstance(found, Entry)
    assert entry_leaf(found) == changed


LEAF = entry_leaf(_told("weighed"))
WHOLE = json.loads(LEAF)


def _but(**changes: Any) -> bytes:
    return rfc8785.dumps(WHOLE | changes)


@pytest.mark.parametrize(
    "other",
    [
        json.dumps(WHOLE).encode(),
        json.dumps(WHOLE, separators=(",", ":")).encode().replace(b"BAG", b"\\u0042AG"),
        LEAF + b"\n",
        b" " + LEAF,
        LEAF.replace(b"Z", b"+00:00"),
        LEAF.replace(b"2026-07-01T10:00:00Z", b"2026-07-01T10:00:00.000Z"),
        LEAF.replace(b"2026-07-01T10:00:00Z", b"2026-07-01T15:30:00+05:30"),
        LEAF.replace(b'{"event"', b'{"clock_offset_s":0,"event"'),
        LEAF.replace(b'"recorded_at"', b'"origin":null,"recorded_at"'),
        LEAF.replace(b'"recorded_at"', b'"false_codes":[],"recorded_at"'),
        LEAF.replace(b'"weight_g"', b'"note":"","weight_g"'),
        LEAF.replace(b"{", b'{"event":{},', 1),
        b"{" + b",".join(reversed(LEAF[1:-1].rsplit(b",", 1))) + b"}",
    ],
)
def test_other_bytes_that_say_the_same_are_refused(other: bytes) -> None:
    """Another order, spaces, escapes, zones, defaults written out, a key twice: not canonical."""
    with pytest.raises(LeafError, match="not in the canonical form"):
        read(other)


@pytest.mark.parametrize(
    "other",
    [
        b"",
        b"\xff",
        b"{}",
        b"[]",
        b"null",
        LEAF[:-1],
        LEAF + LEAF,
        b"[" * 100_000,
        _but(more=1),
        _but(event=WHOLE["event"] | {"more": 1}),
        _but(event=WHOLE["event"] | {"kind": "eaten"}),
        _but(event=WHOLE["event"] | {"weight_g": -1}),
        _but(event=WHOLE["event"] | {"note": "\0"}),
        LEAF.replace(b"3400", b"9007199254740993"),
        _but(recorded_at="yesterday"),
        _but(recorded_at=1_782_900_000),
        _but(recorded_at="2026-07-01T10:00:00"),
        _but(clock_offset_s=10**15),
        _but(origin={"file": "a", "line": 1, "keeper": "k", "more": 1}),
        _but(setup={}),
        rfc8785.dumps({"setup": {}, "version": 1, "recorded_at": "2026-07-01T10:00:00Z"}),
        rfc8785.dumps({"setup": HOSPITAL, "version": 0, "recorded_at": "2026-07-01T10:00:00Z"}),
        LEAF.replace(b"nurse", b"\\ud800").replace(b"handler", b"\\ud800"),
    ],
)
def test_what_is_no_entry_is_refused(other: bytes) -> None:
    """Unknown keys and kinds, values out of bounds, half a file: an error of ours, no other."""
    with pytest.raises(LeafError, match="this is no entry of a record"):
        read(other)


@pytest.mark.parametrize("field", ["items_seen", "items_wrong"])
def test_no_number_outgrows_the_canonical_form(field: str) -> None:
    """A count beyond what RFC 8785 can write (2^53) is refused before it can be recorded."""
    with pytest.raises(ValidationError, match="less than or equal"):
        _told("inspected", **{field: 2**53})
