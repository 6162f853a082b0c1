"""Codes of the moment."""

import base64
import hashlib
from datetime import UTC, datetime, timedelta
from urllib.parse import parse_qs, urlsplit

import pyotp
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.access.second_factor import address, new_secret, step_of

SECRET = base64.b32encode(b"12345678901234567890").decode()

RFC_6238_APPENDIX_B = [
    (59, "94287082"),
    (1111111109, "07081804"),
    (1111111111, "14050471"),
    (1234567890, "89005924"),
    (2000000000, "69279037"),
    (20000000000, "65353130"),
]
"""RFC 6238 (2011), appendix B, the rows of SHA-1: seconds since 1970, code of 8 digits."""

RFC_4226_APPENDIX_D = [
    "755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871",
    "520489",
]  # fmt: skip
"""RFC 4226 (2005), appendix D: the codes of 6 digits of counters 0 to 9."""


def at(seconds: float) -> datetime:
    """An instant."""
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)


@pytest.mark.parametrize(("seconds", "code"), RFC_6238_APPENDIX_B)
def test_the_codes_are_those_of_rfc_6238(seconds: int, code: str) -> None:
    """The last 6 of the 8 digits are the code of 6 (RFC 4226, section 5.3: modulo 10^6)."""
    assert pyotp.TOTP(SECRET, digits=8, digest=hashlib.sha1).at(seconds) == code
    assert step_of(SECRET, code[-6:], at(seconds), 0) == seconds // 30


@pytest.mark.parametrize(("counter", "code"), [*enumerate(RFC_4226_APPENDIX_D)])
def test_the_codes_are_those_of_rfc_4226(counter: int, code: str) -> None:
    """The counter is the number of the step of 30 s; that of 1970 was used before all others."""
    expected = counter if counter > 0 else None
    assert step_of(SECRET, code, at(30 * counter + 29), 0) == expected


@given(st.integers(10, 10**9), st.integers(-4, 4), st.floats(0, 29.99))
def test_one_step_of_drift_either_way_and_no_more(present: int, away: int, within: float) -> None:
    """RFC 6238, section 5.2: one step for the way of the code, and clocks are not alike."""
    codes = pyotp.TOTP(SECRET)
    code = codes.generate_otp(present + away)
    around = {codes.generate_otp(present + each): present + each for each in (1, 0, -1)}
    assert step_of(SECRET, code, at(30 * present + within), 0) == around.get(code)
    if abs(away) <= 1:
        assert step_of(SECRET, code, at(30 * present + within), 0) is not None


@given(st.integers(10, 10**9), st.integers(-1, 1))
def test_no_step_is_taken_twice_nor_one_before_it(present: int, away: int) -> None:
    """RFC 6238, section 5.2: a code is for one use."""
    now = at(30 * present)
    codes = pyotp.TOTP(SECRET)
    step = step_of(SECRET, codes.generate_otp(present + away), now, 0)
    assert step is not None
    for earlier in range(present - 1, step + 1):
        assert (step_of(SECRET, codes.generate_otp(earlier), now, step) or step + 1) > step


@pytest.mark.parametrize(
    "code", ["", "28708", "2870822", "28708a", "٢٨٧٠٨٢", "287082" * 1000, "\ud800"]
)
def test_what_is_no_code_is_wrong(code: str) -> None:
    """Neither shorter nor longer, nor in digits of another script."""
    assert step_of(SECRET, code, at(59), 0) is None


def test_blanks_in_a_code_do_not_count() -> None:
    """Applications show it in two groups."""
    assert step_of(SECRET, " 287 082 ", at(59), 0) == 1


def test_a_secret_has_160_bits_and_none_comes_twice() -> None:
    """RFC 4226, section 4, R6: at least 128, better 160."""
    drawn = {new_secret() for _ in range(100)}
    assert len(drawn) == 100
    assert {len(base64.b32decode(each)) for each in drawn} == {20}


def test_the_address_holds_what_an_application_needs() -> None:
    """Secret and names; SHA-1, 6 digits and 30 s go without saying."""
    found = urlsplit(address(SECRET, "p-4k7q2m", "custody lantern-hill"))
    asked = parse_qs(found.query)
    assert (found.scheme, found.netloc) == ("otpauth", "totp")
    assert found.path.endswith("p-4k7q2m")
    assert asked["secret"] == [SECRET]
    assert asked["issuer"] == ["custody lantern-hill"]
    assert asked.get("algorithm", ["SHA1"]) == ["SHA1"]
