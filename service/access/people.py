"""People and the devices they share, as values: who they are, not how they prove it."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from service.access.caller import WHOLE, Proof, Scope
from service.custody.words import Role


class CredentialKind(StrEnum):
    """What a person proves by; a person has at most one of each."""

    PASSWORD = "password"  # noqa: S105 - a word, not a secret
    """Kept as an Argon2id hash."""
    BADGE = "badge"
    """At least 112 random bits, printed as a code; kept as a SHA-256 hash."""
    PIN = "pin"
    """Kept as an Argon2id hash."""
    SECOND_FACTOR = "second_factor"
    """The secret of the codes of the moment (RFC 6238), kept as it is: it is computed with."""
    PENDING_FACTOR = "pending_factor"
    """A second factor that was offered and not yet confirmed by a first code."""
    ACTIVATION = "activation"
    """A code for one use by which a password is set; kept as a SHA-256 hash."""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who may sign in.

    Attributes:
        id: Stands as the actor of events; it need not tell the name, and never changes.
        name: As the officers know them; never in the record or a bundle.
        valid_until: The first instant at which they may no longer sign in; an inspector has one.
        disabled_at: When they were shut out.
    """

    facility: str
    id: str
    name: str
    role: Role
    scope: Scope = WHOLE
    valid_until: datetime | None = None
    disabled_at: datetime | None = None

    def may_enter(self, now: datetime) -> bool:
        """Say whether they may sign in or stay signed in at that instant."""
        return self.disabled_at is None and (self.valid_until is None or now < self.valid_until)


@dataclass(frozen=True, slots=True)
class Credential:
    """What is kept of something a person proves by.

    Attributes:
        value: A hash, or for the second factor its secret.
        expires_at: The first instant at which it counts no more; None for never.
        used_step: Of a second factor, the last time step of which a code was taken: none is taken
            twice (RFC 6238, section 5.2).
    """

    kind: CredentialKind
    value: str
    set_at: datetime
    expires_at: datetime | None = None
    used_step: int = 0


@dataclass(frozen=True, slots=True)
class Session:
    """Somebody signed in, on the server; only the hash of its token is kept.

    Attributes:
        idle_until: Ends at this instant if nothing comes before; moved on by use.
        expires_at: Ends at this instant whatever comes.
    """

    facility: str
    token_hash: str
    person: str
    device: str
    proof: Proof
    created_at: datetime
    idle_until: datetime
    expires_at: datetime
    ended_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Client:
    """A device or program as the administrator's list shows it."""

    facility: str
    name: str
    role: Role
    scope: Scope
    kind: str
    """``program``, ``device``, or ``enrolment`` for a device's code that was not used yet."""
    created_at: datetime
    expires_at: datetime
    revoked_at: datetime | None
