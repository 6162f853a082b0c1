"""How long a session may idle and last, by role and by how its holder signed in, and a code wait.

The figures are a policy of ours (OWASP ASVS 5.0, 7.1.1 asks that there is one): a shift on a
shared device, a working day at a desk.
"""

from dataclasses import dataclass
from datetime import timedelta

from service.access.caller import Proof
from service.custody.words import Role


@dataclass(frozen=True, slots=True)
class Lifetime:
    """How long a session lives without use, and at most."""

    idle: timedelta
    absolute: timedelta


_SHARED = Lifetime(timedelta(minutes=15), timedelta(hours=13))
_DESK = Lifetime(timedelta(minutes=30), timedelta(hours=10))
_POWERFUL = Lifetime(timedelta(minutes=15), timedelta(hours=8))

ACTIVATION = timedelta(hours=24)
"""A code by which somebody sets a first or new password, or a device is enrolled."""

FIRST_PIN = timedelta(days=7)
"""A first PIN waits so long for its holder to choose another."""

PENDING_FACTOR = timedelta(hours=1)
"""A second factor that was offered waits so long for its first code."""

ENROLLED = timedelta(days=365)
"""An enrolled device stays known so long."""

TOUCH = timedelta(minutes=1)
"""The use of a session is written down no more often than this."""


def lifetime(role: Role, proof: Proof) -> Lifetime:
    """Give the lifetime of a session."""
    if proof is Proof.BADGE:
        return _SHARED
    return _POWERFUL if role in (Role.OFFICER, Role.ADMINISTRATOR) else _DESK
