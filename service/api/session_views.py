"""Signing in, and what somebody changes about themselves, as models."""

from typing import Self

from pydantic import Field

from service.access.caller import Caller, Kind, Proof
from service.api.people_views import Code, Password, Reached, SecretOrder, SessionView
from service.api.views import View
from service.custody.fields import Name
from service.custody.site import Id
from service.custody.words import Role


class SignIn(SecretOrder):
    """A person at a desk; ``facility`` is needed only where several are kept here."""

    person: Name
    password: Password
    code: Code | None = Field(default=None, description="Of the moment, if a factor is set.")
    facility: Id | None = None


class BadgeSignIn(SecretOrder):
    """A person at a shared device; a first PIN is changed for ``new_pin`` on the way."""

    badge: Code
    pin: Code
    new_pin: Code | None = None


class PasswordSetting(SecretOrder):
    """The code of an activation, and the password that it sets."""

    activation: Code
    password: Password
    facility: Id | None = None


class PasswordChange(SecretOrder):
    """The password so far, and the next."""

    old: Password
    new: Password


class PinChange(SecretOrder):
    """The PIN so far, and the next."""

    old: Code
    new: Code


class FactorConfirmation(SecretOrder):
    """A first code of a second factor that was offered."""

    code: Code


class Me(View):
    """Who asks; ``confined`` is who has still to set a second factor, and may do little else.

    A device or program has no name beside its id.
    """

    facility: str
    id: str
    name: str | None
    kind: Kind
    role: Role
    scope: Reached
    device: str | None
    proof: Proof | None
    confined: bool

    @classmethod
    def of(cls, caller: Caller, name: str | None) -> Self:
        """Show a caller, and a person's name."""
        return cls(
            facility=caller.facility,
            id=caller.name,
            name=name,
            kind=caller.kind,
            role=caller.role,
            scope=Reached.of(caller.scope),
            device=caller.device or None,
            proof=caller.proof,
            confined=caller.confined,
        )


class Sessions(View):
    """Sessions that stand, latest first."""

    sessions: list[SessionView]


class PasswordSet(View):
    """Whose password was set: what they sign in with from now on."""

    person: str


class FactorOffered(View):
    """The secret of a second factor, and the address that an authenticator reads as a QR code."""

    secret: str
    uri: str
