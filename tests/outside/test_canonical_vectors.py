"""Canonical JSON against the test files of RFC 8785, JSON Canonicalization Scheme (2020).

Sources: RFC 8785, appendix B (numbers) and the six pairs of cyberphone/json-canonicalization,
from memory. The library ``rfc8785`` is the oracle elsewhere, so it is held to them itself; what is
written here has ASCII keys and whole numbers only, and there it must agree to the byte.
"""

import json
import struct
from typing import Any

import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st

from scenario.hospital import FILE
from service.duties.setup_file import read_site
from service.ledger.leaf import SiteVersion, canonical, setup_leaf
from tests.trade import at

NUMBERS = [
    ("4340000000000001", "9007199254740994"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
]

ARRAYS = ('[56, {"d": true, "10": null, "1": []}]', '[56,{"1":[],"10":null,"d":true}]')
FRENCH = (
    (
        '{"peach": "This sorting order", "péché": "is wrong according to French",'
        ' "pêche": "but canonicalization MUST", "sin": "ignore locale"}'
    ),
    (
        '{"peach":"This sorting order","péché":"is wrong according to French",'
        '"pêche":"but canonicalization MUST","sin":"ignore locale"}'
    ),
)
STRUCTURES = (
    (
        r'{"1": {"f": {"f": "hi", "F": 5}, "\n": 56.0}, "10": {}, "": "empty", "a": {},'
        r' "111": [{"e": "yes", "E": "no"}], "A": {}}'
    ),
    (
        r'{"":"empty","1":{"\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{"E":"no","e":"yes"}],'
        r'"A":{},"a":{}}'
    ),
)
UNICODE = (
    r'{"Unnormalized Unicode": "A\u030a"}',
    '{"Unnormalized Unicode":"A\u030a"}',
)
VALUES = (
    (
        r'{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],'
        r' "string": "\u20ac$\u000F\u000aA\u0027\u0042\u0022\u005c\\\"\/",'
        r' "literals": [null, true, false]}'
    ),
    (
        r'{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        r'"string":"€$\u000f\nA'
        r"'"
        r'B\"\\\\\"/"}'
    ),
)
WEIRD = (
    (
        r'{"\u20ac": "Euro Sign", "\r": "Carriage Return",'
        r' "\ufb33": "Hebrew Letter Dalet With Dagesh",'
        r' "1": "One", "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control",'
        r' "\u00f6": "Latin Small Letter O With Diaeresis"}'
    ),
    (
        '{"\\r":"Carriage Return","1":"One","\u0080":"Control",'
        '"\u00f6":"Latin Small Letter O With Diaeresis","\u20ac":"Euro Sign",'
        '"\U0001f600":"Emoji: Grinning Face","\ufb33":"Hebrew Letter Dalet With Dagesh"}'
    ),
)
PAIRS = {
    "arrays": ARRAYS,
    "french": FRENCH,
    "structures": STRUCTURES,
    "unicode": UNICODE,
    "values": VALUES,
    "weird": WEIRD,
}


@pytest.mark.parametrize(("bits", "written"), NUMBERS)
def test_the_oracle_writes_numbers_as_the_standard_does(bits: str, written: str) -> None:
    """The library gives each double of the appendix the digits printed there."""
    (value,) = struct.unpack(">d", bytes.fromhex(bits))

    assert rfc8785.dumps(value).decode() == written


@pytest.mark.parametrize("name", PAIRS)
def test_the_oracle_passes_the_six_pairs(name: str) -> None:
    """The library turns each input into its published output."""
    given_, written = PAIRS[name]

    assert rfc8785.dumps(json.loads(given_)).decode() == written


@pytest.mark.parametrize("name", ["arrays", "french", "unicode"])
def test_what_we_write_passes_the_pairs_of_its_kind(name: str) -> None:
    """Where numbers are whole and keys are no surrogate pairs, the published output is ours too."""
    given_, written = PAIRS[name]

    assert canonical(json.loads(given_)) == written


def test_texts_are_escaped_as_published() -> None:
    """The string of the pair 'values': short escapes where there are any, the rest as it is."""
    given_, written = VALUES

    assert canonical(json.loads(given_)["string"]) == '"' + written.partition('"string":"')[2][:-1]


KEYS = st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E), max_size=8)
WHOLE = st.integers(-(2**53) + 1, 2**53 - 1)
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
TREES = st.recursive(
    st.none() | st.booleans() | WHOLE | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=12,
)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(value=TREES)
def test_whatever_has_ascii_keys_and_whole_numbers_is_written_as_the_standard_does(
    value: Any,
) -> None:
    """Any texts, any nesting: the same bytes as the library's."""
    assert canonical(value).encode() == rfc8785.dumps(value)


def test_a_whole_set_up_is_in_the_canonical_form() -> None:
    """The invented hospital, with all that a set-up can say, is a leaf in the standard's bytes."""
    leaf = setup_leaf(SiteVersion(read_site(FILE), 1, at("2026-01-01 00:00")))

    assert leaf == rfc8785.dumps(json.loads(leaf))
