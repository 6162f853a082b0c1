"""Secrets that the service makes: tokens, the codes of badges, codes that people type, first PINs.

All are drawn from the system's source of randomness. A code is of digits and capital letters alone:
a QR code packs them closely (ISO/IEC 18004, alphanumeric mode) and any hand scanner types them.
"""

import hmac
import secrets
from string import ascii_uppercase, digits

TOKEN_BYTES = 32
"""256 bits in a token of a session, device or program."""

CODE_ALPHABET = "".join(sorted({*digits, *ascii_uppercase} - {*"ILOU"}))
"""32 characters, 5 bits each; I, L and O are taken for digits, U makes words."""

BADGE_LENGTH = 24
"""Characters in the code of a badge: 120 bits."""

TYPED_LENGTH = 25
"""Characters in a code that people type: 125 bits, in groups of five."""

_GROUP = 5
_MISREAD = str.maketrans("ILO", "110")


def token() -> str:
    """Give a token of 256 random bits, in letters that a cookie or a header may hold."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def badge_code() -> str:
    """Give the code of a badge, of 120 random bits."""
    return _drawn(CODE_ALPHABET, BADGE_LENGTH)


def typed_code() -> str:
    """Give a code that somebody types once, of 125 random bits: XXXXX-XXXXX-XXXXX-XXXXX-XXXXX."""
    drawn = _drawn(CODE_ALPHABET, TYPED_LENGTH)
    return "-".join(drawn[at : at + _GROUP] for at in range(0, TYPED_LENGTH, _GROUP))


def plain(code: str) -> str:
    """Give a code as it is kept and hashed: what was typed or scanned, without groups and case.

    An I, L or O can only be a 1 or 0 misread. What is no letter or digit does not count.
    """
    kept = (each for each in code.upper() if each.isascii() and each.isalnum())
    return "".join(kept).translate(_MISREAD)


def drawn_digits(length: int) -> str:
    """Give random digits."""
    return _drawn(digits, length)


def same(one: str, other: str) -> bool:
    """Compare two secrets in a time that does not tell where they differ."""
    return hmac.compare_digest(one.encode("utf-8", "replace"), other.encode("utf-8", "replace"))


def _drawn(alphabet: str, length: int) -> str:
    return "".join(secrets.choice(alphabet) for _ in range(length))
