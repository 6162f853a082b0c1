"""Which passwords and PINs may be chosen, and how they are kept.

ASVS is the OWASP Application Security Verification Standard 5.0 (2025), section 6.2; its wording is
from memory.
"""

import unicodedata

import pytest
from argon2 import PasswordHasher, Type, extract_parameters
from argon2.low_level import core, ffi, lib

from service.access import passwords
from service.access.passwords import UnfitSecretError, demand_fit_password, demand_fit_pin

GOOD = "gravel kettle moonlit otter"


def fit(password: str, person: str = "p-4k7q2m") -> None:
    """Choose a password at the hospital on Lantern Hill."""
    demand_fit_password(password, person, ("lantern-hill", "Lantern Hill Hospital"))


# --- kept


def test_hashes_have_the_second_recommended_parameters() -> None:
    """RFC 9106 (2021), section 4: Argon2id, t=3, p=4, m=2^16 KiB, salt 128 bits, tag 256 bits."""
    found = extract_parameters(passwords.hashed(GOOD))
    assert (found.type, found.version) == (Type.ID, 0x13)
    assert (found.time_cost, found.parallelism, found.memory_cost) == (3, 4, 2**16)
    assert (found.salt_len, found.hash_len) == (16, 32)


def test_the_library_computes_what_the_rfc_says() -> None:
    """RFC 9106 (2021), section 5.3: the test vector of Argon2id."""
    password, salt, secret, data = (
        ffi.new("uint8_t[]", bytes([value] * size))
        for value, size in ((1, 32), (2, 16), (3, 8), (4, 12))
    )
    tag = ffi.new("uint8_t[]", 32)
    context = ffi.new(
        "argon2_context *",
        {
            "out": tag, "outlen": 32, "version": 0x13,
            "pwd": password, "pwdlen": 32, "salt": salt, "saltlen": 16,
            "secret": secret, "secretlen": 8, "ad": data, "adlen": 12,
            "t_cost": 3, "m_cost": 32, "lanes": 4, "threads": 4,
            "allocate_cbk": ffi.NULL, "free_cbk": ffi.NULL, "flags": lib.ARGON2_DEFAULT_FLAGS,
        },
    )  # fmt: skip
    assert core(context, Type.ID.value) == lib.ARGON2_OK
    assert bytes(ffi.buffer(tag)).hex() == (
        "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"
    )


def test_a_password_matches_itself_alone_and_whole() -> None:
    """ASVS 6.2.8: compared as it was typed; no case is changed, nothing is cut off."""
    long = GOOD + " " + "x" * (128 - len(GOOD) - 1)
    kept = passwords.hashed(long)
    assert passwords.matches(kept, long)
    for other in (long.upper(), long[:-1], long + "x", " " + long, long[:72], ""):
        assert not passwords.matches(kept, other)


def test_two_hashes_of_one_password_differ() -> None:
    """Each has a salt of its own."""
    assert passwords.hashed(GOOD) != passwords.hashed(GOOD)


def test_it_does_not_matter_how_a_keyboard_composes_an_accent() -> None:
    """Form C of both is one (Unicode Standard Annex 15); RFC 8265, section 4.2, does the same."""
    composed = "jardín de añil número"
    kept = passwords.hashed(composed)
    assert passwords.matches(kept, unicodedata.normalize("NFD", composed))


def test_letters_that_only_look_alike_stay_apart() -> None:
    """A compatibility form would make one of them: a digit in a circle and a digit."""
    assert not passwords.matches(passwords.hashed("kettle otter 1"), "kettle otter ①")


@pytest.mark.parametrize("secret", ["\ud800", "x" * 200_000, "", "\0"])
def test_what_nobody_could_have_chosen_is_wrong_and_no_error(secret: str) -> None:
    """Half a character, far too long, nothing."""
    assert not passwords.matches(passwords.hashed(GOOD), secret)
    assert not passwords.matches(None, secret)


def test_for_nobody_the_same_work_is_done(monkeypatch: pytest.MonkeyPatch) -> None:
    """Once each, with the same parameters: the time of the answer does not tell who exists."""
    verified = []

    class Counting(PasswordHasher):
        def verify(self, hash: str | bytes, password: str | bytes) -> bool:  # type: ignore[override]  # noqa: A002
            verified.append(extract_parameters(str(hash)))
            return super().verify(hash, password)

    kept = passwords.hashed(GOOD)
    monkeypatch.setattr(passwords, "HASHER", Counting())
    for somebody in (kept, None):
        assert not passwords.matches(somebody, "another one altogether")
    assert not passwords.matches(kept, "x" * 200_000)
    assert len(verified) == 3
    assert len({*map(repr, verified)}) == 1


def test_a_hash_of_other_parameters_is_outdated_and_still_matches() -> None:
    """It is made anew when its holder next signs in."""
    former = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1).hash(GOOD)
    assert passwords.matches(former, GOOD)
    assert passwords.outdated(former)
    assert not passwords.outdated(passwords.hashed(GOOD))


# --- chosen


@pytest.mark.parametrize(
    "password",
    [
        GOOD,
        "xq7vtzkwmpbd",
        "zwölf Möwen über Kiel",
        "тихая гавань полна чаек",
        "海の向こうに見える白い灯台",
        "kettle\totter  moonlit",
        "🦦🫖🌙🪨🧭🪶🧵🪁🧊🪴🫐🥢",
    ],
)
def test_any_characters_make_a_password(password: str) -> None:
    """ASVS 6.2.5: no kind of character is asked for, none is forbidden; blanks stay."""
    fit(password)


def test_a_password_of_128_characters_is_taken_and_of_129_is_not() -> None:
    """ASVS 6.2.9: at least 64 are permitted."""
    fit((GOOD * 5)[:128])
    with pytest.raises(UnfitSecretError, match="12 to 128"):
        fit((GOOD * 5)[:129])


def test_length_is_counted_in_characters_not_bytes() -> None:
    """An accent typed apart is part of its letter; 11 letters are 11."""
    with pytest.raises(UnfitSecretError, match="12 to 128"):
        fit(unicodedata.normalize("NFD", "éüñåêxqvzkw"))
    fit(unicodedata.normalize("NFD", "éüñåêxqvzkwm"))


@pytest.mark.parametrize("password", ["", "short", "xq7vtzkwmpb"])
def test_a_short_password_is_refused(password: str) -> None:
    """ASVS 6.2.1: at least 8, better 15; here 12."""
    with pytest.raises(UnfitSecretError, match="12 to 128"):
        fit(password)


@pytest.mark.parametrize(
    "password",
    [
        "unbelievable", "passwordpassword", "Password12345", "P@ssw0rd1234", "qwertyuiop123",
        "123456789012", "aaaaaaaaaaaaaaaa", "abcabcabcabc", "1qaz2wsx3edc", "Jennifer1985",
        "a" * 128, "password" * 16,
    ],
)  # fmt: skip
def test_common_and_breached_passwords_are_refused(password: str) -> None:
    """ASVS 6.2.4 (the most common 3 000 at least) and 6.2.12 (breached), from lists at hand."""
    with pytest.raises(UnfitSecretError, match="common or easily guessed"):
        fit(password)


@pytest.mark.parametrize(
    "password",
    ["my LANTERN glows at dusk", "otter kettle lantern-hill", "hospital otter kettle gravel"],
)
def test_words_of_the_facility_are_refused(password: str) -> None:
    """ASVS 6.2.11: words of the place are on a list of their own."""
    with pytest.raises(UnfitSecretError, match="may not hold"):
        fit(password)


def test_one_s_own_id_is_refused_in_any_case() -> None:
    """It stands in the record for everybody to read."""
    with pytest.raises(UnfitSecretError, match="may not hold 'p-4k7q2m'"):
        fit("gravel P-4K7Q2M kettle otter")


def test_short_words_may_stand_anywhere() -> None:
    """An id of two letters is in half of all good passwords."""
    fit(GOOD, person="ve")


def test_half_a_character_is_refused() -> None:
    """It could not be typed again."""
    with pytest.raises(UnfitSecretError, match="half a character"):
        fit(GOOD + "\ud800")


def test_a_refusal_does_not_repeat_the_password() -> None:
    """It may go to a log."""
    for password in ("password" * 2, "xq7vtz", GOOD * 10):
        with pytest.raises(UnfitSecretError) as refused:
            fit(password)
        assert password not in str(refused.value)


# --- PINs


@pytest.mark.parametrize("pin", ["73028465", "904517362840"])
def test_a_pin_has_8_to_12_digits(pin: str) -> None:
    """Digits alone: a glove types them."""
    demand_fit_pin(pin)


@pytest.mark.parametrize(
    "pin", ["", "7302846", "9045173628401", "7302846a", "٧٣٠٢٨٤٦٥", "7302 8465"]
)
def test_another_length_or_sign_is_refused(pin: str) -> None:
    """Digits of other scripts too: the hash would be another."""
    with pytest.raises(UnfitSecretError, match="8 to 12 digits"):
        demand_fit_pin(pin)


@pytest.mark.parametrize(
    "pin",
    [
        "00000000", "12345678", "87654321", "67890123", "12121212", "12341234", "123123123",
        "19850412", "12041985", "04121985", "29022024", "25802580", "11223344", "741852963",
    ],
)  # fmt: skip
def test_a_pin_that_people_think_of_first_is_refused(pin: str) -> None:
    """All the same, a row, a repetition, a day of a life, a common one."""
    with pytest.raises(UnfitSecretError, match="too easily guessed"):
        demand_fit_pin(pin)


def test_a_day_that_never_was_is_no_date() -> None:
    """The 30th of February, and the year 2150."""
    demand_fit_pin("30022024")
    demand_fit_pin("21500412")


def test_a_first_pin_is_random_and_fit() -> None:
    """8 digits; 200 of them are hardly ever the same."""
    drawn = [passwords.first_pin() for _ in range(200)]
    for pin in drawn:
        demand_fit_pin(pin)
    assert {len(pin) for pin in drawn} == {8}
    assert len({*drawn}) > 190
