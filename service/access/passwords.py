"""Passwords and PINs: which may be chosen, and how they are kept.

They are kept as Argon2id hashes, with the second recommended option of RFC 9106, section 4: 64 MiB,
3 passes, 4 lanes, a salt of 128 bits and a tag of 256.

A password is taken in Normalization Form C (as RFC 8265, section 4.2, does), because one keyboard
sends an accented letter as one character and another as two. Nothing else of it is changed: no
case, no blank, nothing is cut off. Its length is counted in characters of that form.
"""

import re
import unicodedata
from base64 import b64encode
from collections.abc import Iterable
from datetime import date
from itertools import pairwise

from argon2 import PasswordHasher
from argon2.exceptions import VerifyMismatchError
from argon2.profiles import RFC_9106_LOW_MEMORY
from zxcvbn import zxcvbn
from zxcvbn.frequency_lists import FREQUENCY_LISTS

from service.access.secrets import drawn_digits

PASSWORD_LEAST, PASSWORD_MOST = 12, 128
PIN_LEAST, PIN_MOST = 8, 12

HASHER = PasswordHasher.from_parameters(RFC_9106_LOW_MEMORY)

_SCORE_LEAST = 3
"""Of 0 to 4, by an estimate from lists of common and breached passwords, names and words, dates,
keyboards and repetitions: 3 begins at 10^8 guesses. All the lists are in the package: no network.
"""

_PIECE = 32
"""Characters judged at a time: the estimate of 128 odd ones takes many seconds."""

_WORD_LEAST = 4
"""Shorter words of the facility may be anywhere in a good password."""

_RAW_MOST = 8 * PASSWORD_MOST
"""Characters before they are normalized: what is longer is no password of ours."""

_COMMON_PINS = frozenset(word for word in FREQUENCY_LISTS["passwords"] if word.isdecimal())


class UnfitSecretError(ValueError):
    """A password or PIN that may not be chosen; says why, and does not repeat it."""


# --- kept


def hashed(secret: str) -> str:
    """Give what is kept of a password or PIN that was found fit."""
    return HASHER.hash(_encoded(secret))


def matches(kept: str | None, secret: str) -> bool:
    """Say whether a password or PIN is the one that was kept.

    Where nothing was kept, or it is too long to be one, the same work is done for nothing: how long
    the answer takes does not tell who exists.
    """
    fits = len(secret) <= _RAW_MOST
    try:
        HASHER.verify(kept or _nobodys(), _encoded(secret if fits else ""))
    except VerifyMismatchError:
        return False
    return fits and kept is not None


def outdated(kept: str) -> bool:
    """Say whether a hash was made with other parameters than today's."""
    return HASHER.check_needs_rehash(kept)


def _encoded(secret: str) -> bytes:
    # Half of a surrogate pair is no character: it may be compared, never chosen.
    return unicodedata.normalize("NFC", secret).encode("utf-8", "surrogatepass")


def _nobodys() -> str:
    """A hash of today's parameters to which nobody knows a password: all its bits are zero."""
    costs = f"m={HASHER.memory_cost},t={HASHER.time_cost},p={HASHER.parallelism}"
    salt, tag = (
        b64encode(bytes(size)).decode().rstrip("=") for size in (HASHER.salt_len, HASHER.hash_len)
    )
    return f"$argon2id$v=19${costs}${salt}${tag}"


# --- chosen


def demand_fit_password(password: str, person_id: str, words: Iterable[str] = ()) -> None:
    """Let a password pass that may be chosen: no kind of character is asked for.

    Args:
        password: As it was sent.
        person_id: Whose it is to be; it may not hold their id.
        words: What people here would think of first, such as the facility's id and name; it may
            hold none of their words of four letters and more.

    Raises:
        UnfitSecretError: it is too short, too long, no text, or too easily guessed.
    """
    if len(password) > _RAW_MOST:
        raise UnfitSecretError(f"a password has at most {PASSWORD_MOST} characters")
    if any(unicodedata.category(character) == "Cs" for character in password):
        raise UnfitSecretError("the password holds half a character: type it again")
    normal = unicodedata.normalize("NFC", password)
    if not PASSWORD_LEAST <= len(normal) <= PASSWORD_MOST:
        raise UnfitSecretError(
            f"a password has {PASSWORD_LEAST} to {PASSWORD_MOST} characters; "
            "a few words that do not belong together are a good one"
        )
    known = {person_id, *words, *(part for each in words for part in re.split(r"[\W_]+", each))}
    for word in sorted(known, key=str.casefold):
        if len(word) >= _WORD_LEAST and word.casefold() in normal.casefold():
            raise UnfitSecretError(f"a password may not hold '{word}': it is known to many")
    pieces = (normal[at : at + _PIECE] for at in range(0, len(normal), _PIECE))
    if not any(zxcvbn(piece)["score"] >= _SCORE_LEAST for piece in pieces):
        raise UnfitSecretError(
            "the password is common or easily guessed: take a few words that do not belong together"
        )


def demand_fit_pin(pin: str) -> None:
    """Let a PIN pass that may be chosen.

    Raises:
        UnfitSecretError: it is not of 8 to 12 digits, or is one that people think of first.
    """
    if not (pin.isascii() and pin.isdecimal() and PIN_LEAST <= len(pin) <= PIN_MOST):
        raise UnfitSecretError(f"a PIN has {PIN_LEAST} to {PIN_MOST} digits and nothing else")
    if _stepped(pin) or _repeated(pin) or _a_date(pin) or pin in _COMMON_PINS:
        raise UnfitSecretError(
            "the PIN is too easily guessed: no date, no row of digits, no repetition"
        )


def first_pin() -> str:
    """Give a random PIN of 8 digits; its holder chooses another when they first use it."""
    while True:
        pin = drawn_digits(PIN_LEAST)
        try:
            demand_fit_pin(pin)
        except UnfitSecretError:
            continue
        return pin


def _stepped(pin: str) -> bool:
    """All the same, or a row up or down, past the nine too: 11111111, 34567890, 87654321."""
    steps = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)}
    return len(steps) == 1 and steps <= {0, 1, 9}


def _repeated(pin: str) -> bool:
    """One to four digits over and over: 12121212, 12341234."""
    return any(pin == (pin[:size] * len(pin))[: len(pin)] for size in range(1, 5))


def _a_date(pin: str) -> bool:
    """A day of a life, in any usual order: 19850412, 12041985, 04121985."""
    if len(pin) != 8:
        return False
    orders = (
        (pin[:4], pin[4:6], pin[6:]),
        (pin[4:], pin[2:4], pin[:2]),
        (pin[4:], pin[:2], pin[2:4]),
    )
    return any(_is_day(*map(int, order)) for order in orders)


def _is_day(year: int, month: int, day: int) -> bool:
    if not 1900 <= year < 2100:
        return False
    try:
        date(year, month, day)
    except ValueError:
        return False
    return True
