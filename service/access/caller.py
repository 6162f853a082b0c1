"""Who asks: a person, device or program of one facility, with a role and how far it reaches."""

from dataclasses import dataclass
from enum import StrEnum

from service.custody.words import Role


@dataclass(frozen=True, slots=True)
class Scope:
    """The units and parties somebody acts for; naming none means the whole facility."""

    units: frozenset[str] = frozenset()
    parties: frozenset[str] = frozenset()

    @property
    def whole(self) -> bool:
        """Whether it is the whole facility."""
        return not (self.units or self.parties)


WHOLE = Scope()


class Kind(StrEnum):
    """What holds the credential."""

    PROGRAM = "program"
    """A machine client: it acts under its own role and names the actor itself."""
    DEVICE = "device"
    """An enrolled shared device on which nobody is signed in."""
    PERSON = "person"
    """Somebody who is signed in."""


class Proof(StrEnum):
    """How a signed-in person proved to be who they say."""

    BADGE = "badge"
    """Badge and PIN on an enrolled device."""
    PASSWORD = "password"  # noqa: S105 - a word, not a secret
    SECOND_FACTOR = "second_factor"
    """Password and a code of the moment."""


@dataclass(frozen=True, slots=True)
class Caller:
    """Who asks.

    Attributes:
        facility: The facility's id.
        name: The id of the person, or the name of the device or program.
        role: What it may do.
        scope: How far it reaches.
        kind: What holds the credential.
        device: The enrolled device a person is signed in on, or the device itself; else empty.
        session: The hash of the session's token, for a person; else empty.
        proof: How a person signed in; None for devices and programs.
        confined: The person has still to set a second factor, and may do little else.
        request: The id of the request, for the logs; empty on the command line.
    """

    facility: str
    name: str
    role: Role
    scope: Scope = WHOLE
    kind: Kind = Kind.PROGRAM
    device: str = ""
    session: str = ""
    proof: Proof | None = None
    confined: bool = False
    request: str = ""
