"""Devices and programs at the doors, as models: let in, invited, enrolled, listed."""

from typing import Annotated, Literal, Self

from pydantic import Field

from service.access.people import Client
from service.api.people_views import Code, Reach, Reached, SecretOrder, said_of
from service.api.views import Moment, Order, View
from service.custody.fields import Name
from service.custody.site import Id
from service.custody.words import Role


class ProgramOrder(Order):
    """A program that is to come in by a token of its own."""

    name: Name
    role: Role
    scope: Reach = Reach()
    valid_days: Annotated[int, Field(strict=True, ge=1, le=3650)] = 90


class DeviceOrder(Order):
    """A shared device that is to be enrolled."""

    name: Name
    role: Role
    scope: Reach = Reach()


class Enrolment(SecretOrder):
    """The code that a device was invited with, and how it is to keep its token."""

    code: Code
    facility: Id | None = None
    keep: Literal["cookie", "token"] = Field(
        description="`cookie`: a browser keeps it. `token`: it is in the answer, for a program."
    )


class ClientAdmitted(View):
    """A program and its token, which is shown this once and not kept."""

    name: str
    role: Role
    scope: Reached
    expires_at: Moment
    token: str


class DeviceInvited(View):
    """A device and the code that enrols it, once; it is shown this once and not kept."""

    name: str
    role: Role
    scope: Reached
    expires_at: Moment
    code: str


class DeviceEnrolled(View):
    """A device that is let in; ``token`` is null where a cookie keeps it."""

    facility: str
    name: str
    role: Role
    scope: Reached
    expires_at: Moment
    token: str | None


class ClientView(View):
    """A device or program; of kind ``enrolment`` is a code that was not used yet."""

    name: str
    kind: str
    role: Role
    scope: Reached
    created_at: Moment
    expires_at: Moment
    revoked_at: Moment | None

    @classmethod
    def of(cls, client: Client) -> Self:
        """Show a device or program; nothing of its token."""
        return cls(scope=Reached.of(client.scope), **said_of(client, cls))


class Clients(View):
    """Devices and programs that were ever let in, by name and time."""

    clients: list[ClientView]
