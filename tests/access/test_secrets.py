"""What the service draws at random."""

from math import log2

from hypothesis import given
from hypothesis import strategies as st

from service.access import secrets

MANY = 500
QR_ALPHANUMERIC = {*"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"}
"""ISO/IEC 18004:2015, table 5 (from memory)."""


def test_a_token_has_256_bits_and_none_comes_twice() -> None:
    """43 letters of 6 bits hold 32 bytes; they may stand in a cookie (RFC 6265, 4.1.1)."""
    drawn = {secrets.token() for _ in range(MANY)}
    assert len(drawn) == MANY
    assert {len(each) for each in drawn} == {43}
    assert all(each.replace("-", "a").replace("_", "a").isalnum() for each in drawn)


def test_codes_have_at_least_112_bits() -> None:
    """Codes kept as a plain SHA-256 hash must not be found by trial."""
    each = log2(len(secrets.CODE_ALPHABET))
    assert each * secrets.BADGE_LENGTH >= 112
    assert each * secrets.TYPED_LENGTH >= 112
    assert len(secrets.badge_code()) == secrets.BADGE_LENGTH
    assert len(secrets.plain(secrets.typed_code())) == secrets.TYPED_LENGTH


def test_every_letter_of_the_alphabet_is_drawn() -> None:
    """All 32 turn up in 12 000 draws, and nothing else."""
    drawn = "".join(secrets.badge_code() for _ in range(MANY))
    assert {*drawn} == {*secrets.CODE_ALPHABET}
    assert len({*secrets.CODE_ALPHABET}) == 32


def test_a_badge_code_is_packed_closely_and_has_no_letter_that_is_misread() -> None:
    """Digits and capitals; neither I, L nor O."""
    assert {*secrets.CODE_ALPHABET} <= QR_ALPHANUMERIC - {*"ILO"}
    assert secrets.CODE_ALPHABET.isalnum()


def test_a_typed_code_is_in_groups_of_five() -> None:
    """As people read it out."""
    groups = secrets.typed_code().split("-")
    assert [len(group) for group in groups] == [5] * 5


@given(st.integers(0, 2**32), st.sampled_from(["-", " ", "", " - ", "\n", "."]))
def test_however_a_code_is_typed_it_is_the_same(seed: int, between: str) -> None:
    """Small letters, other groups, and a letter for the digit it looks like."""
    letters = secrets.CODE_ALPHABET
    code = "".join(letters[(seed >> at) % 32] for at in range(25))
    misread = code.replace("1", "l").replace("0", "o").lower()
    typed = between.join(misread[at : at + 4] for at in range(0, 25, 4))
    assert secrets.plain(typed) == code


@given(st.text(st.characters()))
def test_any_text_can_be_read_as_a_code(text: str) -> None:
    """What nobody could have been given is read without an error, halves of characters too."""
    assert secrets.plain(text + "\ud800").isascii()


@given(st.text(), st.text())
def test_only_the_same_is_the_same(one: str, other: str) -> None:
    """Compared in a time that does not depend on where they differ."""
    assert secrets.same(one, one)
    assert secrets.same(one, other) == (one == other)
