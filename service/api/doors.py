"""What every request brings to a door: the store, the caller behind the token, the time, its body.

The token is asked for before anything of the body is read.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any

from fastapi import Depends, HTTPException, Request
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer

from service.api.bodies import parse
from service.duties.access import Caller, Store, sign_in
from service.duties.evidence import Keeping


@dataclass(frozen=True, slots=True)
class House:
    """What the application was made with."""

    keeping: Keeping
    clock: Callable[[], datetime]

    @property
    def store(self) -> Store:
        """The store."""
        return self.keeping.store


@dataclass(frozen=True, slots=True)
class Call:
    """One request of a known caller, at one moment throughout."""

    keeping: Keeping
    caller: Caller
    now: datetime

    @property
    def store(self) -> Store:
        """The store."""
        return self.keeping.store

    @property
    def label_url(self) -> str:
        """The address that printed codes open."""
        return self.keeping.label_url


_BEARER = HTTPBearer(
    auto_error=False,
    scheme_name="token",
    description="The token of a device or program; it carries a facility and a role.",
)


def house(request: Request) -> House:
    """Give what the application was made with."""
    found: House = request.app.state.house
    return found


def known_caller(
    here: Annotated[House, Depends(house)],
    presented: Annotated[HTTPAuthorizationCredentials | None, Depends(_BEARER)],
) -> Call:
    """Let in whoever holds a valid token."""
    if presented is None:
        raise _unknown("send the header Authorization: Bearer TOKEN", "Bearer")
    now = here.clock()
    caller = sign_in(here.store, presented.credentials, now)
    if caller is None:
        told = 'Bearer error="invalid_token"'
        raise _unknown("the token is unknown, has expired or was revoked", told)
    return Call(here.keeping, caller, now)


def _unknown(detail: str, challenge: str) -> HTTPException:
    return HTTPException(401, detail, {"WWW-Authenticate": challenge})


Known = Annotated[Call, Depends(known_caller)]


async def _read(request: Request, _: Known) -> Any:
    return parse(await request.body())


Submitted = Annotated[Any, Depends(_read)]
"""The body, read as strict JSON once the caller is known; not yet checked for what it says."""
