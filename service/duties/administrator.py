"""The administrator's duties: people and what they prove by, devices, programs, the access log."""

import secrets
from datetime import datetime, timedelta

from pydantic import TypeAdapter, ValidationError

from service.access.caller import WHOLE, Caller, Kind, Scope
from service.access.entries import AccessKind, by
from service.custody.fields import Name
from service.custody.words import Role
from service.duties.access import demand
from service.store import access_log, identities
from service.store.store import Store

TOKEN_BYTES = 32
_NAME: TypeAdapter[str] = TypeAdapter(Name)


def admit_program(
    store: Store,
    caller: Caller,
    name: str,
    role: Role,
    now: datetime,
    valid: timedelta,
    scope: Scope = WHOLE,
) -> str:
    """Let a program in; give its token, which is shown this once and not kept.

    Raises:
        NotAllowedError: the caller is no administrator.
        ValueError: the name cannot stand as the sender of an event.
    """
    demand(caller, "admit_program")
    try:
        _NAME.validate_python(name)
    except ValidationError as error:
        raise ValueError(
            "a name has 1 to 64 characters and no control character among them"
        ) from error
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with store.changing(caller.facility) as connection:
        program = Caller(caller.facility, name, role, scope, Kind.PROGRAM)
        identities.admit(connection, program, token, now, now + valid)
        access_log.record(
            connection,
            caller.facility,
            by(
                caller,
                AccessKind.PROGRAM_ADMITTED,
                now,
                client=name,
                role=str(role),
                **_reach(scope),
            ),
        )
    return token


def revoke_client(store: Store, caller: Caller, name: str, now: datetime) -> int:
    """End every token of a device or program; give how many there were.

    Raises:
        NotAllowedError: the caller is no administrator.
    """
    demand(caller, "revoke_client")
    with store.changing(caller.facility) as connection:
        ended = identities.revoke(connection, caller.facility, name, now)
        if ended:
            access_log.record(
                connection,
                caller.facility,
                by(caller, AccessKind.CLIENT_REVOKED, now, client=name, tokens=ended),
            )
    return ended


def _reach(scope: Scope) -> dict[str, list[str]]:
    return {"units": sorted(scope.units), "parties": sorted(scope.parties)}
