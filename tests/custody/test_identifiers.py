"""Container ids: issuing, reading as typed, and the keyed tag."""

import hmac
import random
import re

import pytest

from service.custody.identifiers import (
    ALPHABET,
    LENGTH,
    TAG_LENGTH,
    MalformedIdError,
    check_character,
    grouped,
    is_valid,
    new_id,
    tag,
    tag_matches,
    typed,
)

KEY = b"a key of the facility, 32 octets"


def an_id(body: str = "7K3M9QXV2PA") -> str:
    """A valid id on a body whose check character is in the alphabet."""
    assert check_character(body) in ALPHABET
    return body + check_character(body)


@pytest.mark.parametrize(
    "written",
    ["{0}", "{1}", " {1} ", "{2}", "{3}"],
    ids=["plain", "groups", "spaces", "small", "-"],
)
def test_read_as_people_write_it(written: str) -> None:
    """Groups, hyphens and small letters are the same id."""
    right = an_id()
    forms = (right, grouped(right), right.lower(), grouped(right).replace(" ", "-"))
    assert typed(written.format(*forms)) == right


def test_look_alikes_are_read_as_digits() -> None:
    """O is 0; I and L are 1, small or not."""
    body = next(b for b in ("10A0B1C0D12", "10A0B1C0D13") if check_character(b) in ALPHABET)
    right = an_id(body)
    wrong = right.replace("0", "O").replace("1", "l", 1).replace("1", "I")
    assert typed(wrong) == right


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "has 0 characters; a container id has 12"),
        ("7K3M 9QXV", "has 8 characters"),
        ("7K3M9QXV2PAU", "holds U, which no container id has"),
        ("7K3M9QXV2P?!", "holds ! \\?, which"),
    ],
)
def test_what_cannot_be_an_id(text: str, reason: str) -> None:
    """The message says what to look at."""
    with pytest.raises(MalformedIdError, match=reason):
        typed(text)


def test_a_mistyped_id_is_told_in_groups() -> None:
    """Compare the three groups with the label."""
    right = an_id()
    wrong = ("8" if right[0] != "8" else "9") + right[1:]
    with pytest.raises(MalformedIdError, match=grouped(wrong)):
        typed(wrong)


def test_issued_ids_are_valid_and_all_different() -> None:
    """Drawn until the check character is no look-alike."""
    below = random.Random(1).randrange
    ids = [new_id(below) for _ in range(1_000)]
    assert all(map(is_valid, ids))
    assert len(set(ids)) == len(ids)


@pytest.mark.parametrize("text", ["", "A" * LENGTH, "a" * LENGTH, "Ü" * LENGTH])
def test_not_valid(text: str) -> None:
    """Exactly as issued, or not at all."""
    assert not is_valid(text)


def test_a_printed_tag_is_valid_for_ever() -> None:
    """The last 35 of the first 64 bits of HMAC-SHA-256, five at a time, the lowest first."""
    number = int(hmac.new(KEY, an_id().encode(), "sha256").hexdigest()[:16], 16)
    groups = re.findall(".....", f"{number:064b}"[-5 * TAG_LENGTH :])
    assert tag(an_id(), KEY) == "".join(ALPHABET[int(g, 2)] for g in reversed(groups))


def test_the_tag_shows_the_key() -> None:
    """Another id, another key or another tag does not match."""
    ours = tag(an_id(), KEY)
    assert len(ours) == TAG_LENGTH
    assert set(ours) <= set(ALPHABET)
    assert tag_matches(an_id(), ours, KEY)
    assert not tag_matches(an_id(), ours, KEY[:-1])
    assert not tag_matches("000000000000", ours, KEY)
    assert not tag_matches(an_id(), ours[::-1], KEY)
    assert not tag_matches(an_id(), "", KEY)
    assert not tag_matches(an_id(), "ÜÜÜ", KEY)
