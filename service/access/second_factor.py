"""The second factor: codes of the moment (RFC 6238: HMAC-SHA-1, 30 s, 6 digits)."""

from datetime import datetime

import pyotp

from service.access.secrets import same

DRIFT = 1
"""Steps that a code may lie before or after the present one (RFC 6238, section 5.2)."""

DIGITS = 6


def new_secret() -> str:
    """Give a secret of 160 random bits (RFC 4226, section 4, R6) in base 32."""
    return pyotp.random_base32()


def address(secret: str, person_id: str, issuer: str) -> str:
    """Give the ``otpauth://`` address that an application on a telephone takes the secret from."""
    return pyotp.TOTP(secret).provisioning_uri(name=person_id, issuer_name=issuer)


def step_of(secret: str, code: str, now: datetime, used_step: int) -> int | None:
    """Give the time step whose code it is, or None: it is wrong, too old, or was used already.

    Args:
        secret: In base 32.
        code: As it was typed; blanks do not count.
        now: Aware.
        used_step: The last step of which a code was taken: it counts no more, nor do those before
            (RFC 6238, section 5.2).
    """
    typed = "".join(code[: 4 * DIGITS].split())
    if len(typed) != DIGITS or not (typed.isascii() and typed.isdecimal()):
        return None
    codes = pyotp.TOTP(secret)
    present = codes.timecode(now)
    found = None
    for step in range(max(present - DRIFT, 0), present + DRIFT + 1):
        if same(codes.generate_otp(step), typed) and step > used_step:
            found = found or step
    return found


def code_of(secret: str, now: datetime) -> str:
    """Give the code of the moment, as an application on a telephone shows it."""
    return pyotp.TOTP(secret).at(now)
