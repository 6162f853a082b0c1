"""What every request brings to a door: the store, who asks, the time, its body.

Here alone it is decided whether an operation is open to who asks (``service.access.permissions``):
what no table names is shut. The credential is asked for before anything of the body is read.
"""

from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Annotated, Any

from fastapi import Depends, HTTPException, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer

from service.api.bodies import parse
from service.duties import access
from service.duties.access import Caller, Store
from service.duties.evidence import Keeping
from service.web.answers import asked
from service.web.credentials import DEVICE_COOKIE, from_own_site, request_id, shown
from service.web.house import Here as Here
from service.web.house import House


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


@dataclass(frozen=True, slots=True)
class Visit:
    """One request of somebody not known yet.

    Attributes:
        device: The enrolled device it comes from, if it shows that it is one.
        request: The id of the request, for the logs.
    """

    keeping: Keeping
    now: datetime
    device: Caller | None
    request: str

    @property
    def store(self) -> Store:
        """The store."""
        return self.keeping.store


_BEARER = HTTPBearer(
    auto_error=False,
    scheme_name="token",
    description="The token of a device or program; it carries a facility, a role and a scope.",
)
Presented = Annotated[HTTPAuthorizationCredentials | None, Depends(_BEARER)]


def visitor(here: Here, request: Request, presented: Presented) -> Visit:
    """Let in whoever comes of their own will; what a form of another site sends is turned away."""
    _demand_own_site(request, presented)
    now = here.clock()
    token = presented.credentials if presented else request.cookies.get(DEVICE_COOKIE, "")
    device = access.holder_of(here.store, token, now) if token else None
    if device is not None and device.kind is not access.Kind.DEVICE:
        device = None
    return Visit(here.keeping, now, device, request_id(request))


async def known_caller(request: Request, presented: Presented) -> Call:
    """Let in whoever holds a valid credential, if the operation is for them.

    Every request passes here, so it takes no thread of its own unless there is something to write.
    """
    here: House = request.app.state.house
    now = here.clock()
    given = shown(request, presented.credentials if presented else "")
    if given.nothing:
        raise _unknown("sign in, or send the header Authorization: Bearer TOKEN", "Bearer")
    _demand_own_site(request, presented)
    found = await asked(here.store, partial(access.recognised, shown=given, now=now))
    if found is None:
        told = 'Bearer error="invalid_token"'
        raise _unknown("the token or session is unknown, has expired or was ended", told)
    if found.used:
        await run_in_threadpool(access.note_use, here.store, found)
    caller = request.state.caller = found.caller
    operation = request.scope["route"].operation_id
    try:
        access.demand(caller, operation)
    except access.NotAllowedError:
        await run_in_threadpool(access.note_refusal, here.store, caller, operation, now)
        raise
    return Call(here.keeping, caller, now)


def _demand_own_site(request: Request, presented: HTTPAuthorizationCredentials | None) -> None:
    """What another site had a browser send is turned away; a token no other site can send."""
    if presented is None and not from_own_site(request):
        raise HTTPException(
            403,
            "this did not come from a page of this service: without a token, a request that "
            "changes something bears the header Origin of this service",
        )


def _unknown(detail: str, challenge: str) -> HTTPException:
    return HTTPException(401, detail, {"WWW-Authenticate": challenge})


Known = Annotated[Call, Depends(known_caller)]
Visiting = Annotated[Visit, Depends(visitor)]


async def _read(request: Request) -> Any:
    # A door names its caller before its body. That this depended on the caller once more would
    # have FastAPI go through all of that twice for each request.
    if not isinstance(getattr(request.state, "caller", None), Caller):
        raise RuntimeError("a body is read once the caller is known: name the call first")
    return parse(await request.body())


async def _read_of_visitor(request: Request, _: Visiting) -> Any:
    return parse(await request.body())


Submitted = Annotated[Any, Depends(_read)]
"""The body, read as strict JSON once the caller is known; not yet checked for what it says."""

SubmittedByVisitor = Annotated[Any, Depends(_read_of_visitor)]
"""The body of somebody not known yet."""
