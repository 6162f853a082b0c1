"""Check characters and event ids against ISO/IEC 7064, its reference library and RFC 9562."""

import random
from collections import Counter
from datetime import UTC, datetime
from itertools import pairwise
from uuid import UUID

import pytest
import uuid6
from hypothesis import given, settings
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from service.custody.identifiers import ALPHABET, LENGTH, check_character, is_valid, new_id
from tests.trade import bag, event_id

ALPHANUMERIC = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@pytest.mark.parametrize(
    ("body", "check"),
    [
        # ISO/IEC 7064:2003 MOD 37,36; numbers of published test files of users of the standard
        # (Global Release Identifier, ISRC and ISAN registries).
        ("A12425GABC1234002", "M"),
        ("B159D8FA01240000", "K"),
        ("188166C734200000", "3"),
    ],
)
def test_published_check_characters(body: str, check: str) -> None:
    """Published numbers bear the check character that we compute."""
    assert check_character(body) == check


@settings(deadline=None, derandomize=True, max_examples=300)
@given(st.text(ALPHANUMERIC, min_size=1, max_size=20))
def test_the_reference_library_agrees(body: str) -> None:
    """python-stdnum (module iso7064.mod_37_36) gives the same character for any string."""
    assert check_character(body) == mod_37_36.calc_check_digit(body)


def issued(number: int, seed: int = 7064) -> list[str]:
    """Ids as they are issued, from a fixed seed."""
    below = random.Random(seed).randrange
    return [new_id(below) for _ in range(number)]


def test_issued_ids_pass_the_reference_library() -> None:
    """Every issued id is valid by python-stdnum and has no look-alike in any place."""
    for container_id in issued(500):
        assert mod_37_36.is_valid(container_id)
        assert len(container_id) == LENGTH
        assert set(container_id) <= set(ALPHABET)
        assert not set(container_id) & set("ILOU")


def test_every_single_wrong_character_is_detected() -> None:
    """A hybrid system detects all single substitutions (ISO/IEC 7064:2003, from memory)."""
    for container_id in issued(60):
        for place, right in enumerate(container_id):
            for wrong in ALPHABET.replace(right, ""):
                assert not is_valid(container_id[:place] + wrong + container_id[place + 1 :])


def test_few_swaps_of_neighbours_pass_and_the_reference_library_passes_the_same() -> None:
    """Nearly all swaps of neighbours are detected; what passes is what the standard lets pass."""
    swaps: Counter[bool] = Counter()
    for container_id in issued(2_000):
        for place, (left, right) in enumerate(pairwise(container_id)):
            if left == right:
                continue
            swapped = container_id[:place] + right + left + container_id[place + 2 :]
            assert is_valid(swapped) == mod_37_36.is_valid(swapped)
            swaps[is_valid(swapped)] += 1
    assert swaps[True] / swaps.total() < 0.005


def test_event_ids_are_read_as_the_standard_says() -> None:
    """The example of RFC 9562, Appendix A.6: version 7, 2022-02-22 19:22:22 UTC."""
    example = UUID("017F22E2-79B0-7CC3-98C4-DC0C0C07398F")
    moment = datetime(2022, 2, 22, 19, 22, 22, tzinfo=UTC)
    assert example.version == 7
    assert example.int >> 80 == 1_645_557_742_000
    assert datetime.fromtimestamp((example.int >> 80) / 1000, UTC) == moment
    assert event_id(moment).int >> 80 == example.int >> 80, "ids of the tests have its layout"


def test_events_of_one_minute_fold_in_the_order_in_which_a_device_made_them() -> None:
    """UUIDv7 sorts by time (RFC 9562 §6.11): ids of the uuid6 library break a tie rightly."""
    minute = datetime(2026, 7, 1, 10, 0, tzinfo=UTC)
    ids = [uuid6.uuid7() for _ in range(4)]
    kinds = ["registered", "collected", "stored", "dispatched"]
    story = bag()
    for made, kind in sorted(zip(ids, kinds, strict=True), reverse=True):
        story.tell(kind, minute, id=UUID(int=made.int))
    assert [h.event.kind for h in story.history().happened] == kinds
