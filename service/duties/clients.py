"""Devices and programs: let in, invited, listed, turned out."""

from datetime import datetime, timedelta

from pydantic import TypeAdapter, ValidationError
from sqlalchemy import Connection

from service.access import secrets
from service.access.caller import WHOLE, Caller, Kind, Scope
from service.access.entries import AccessKind, by
from service.access.lifetimes import ACTIVATION
from service.access.people import Client
from service.access.permissions import BY_BADGE
from service.custody.fields import Name
from service.custody.words import Role
from service.duties.access import demand
from service.ledger.leaf import instant
from service.store import access_log, identities
from service.store.store import Store

ENROLMENT = "enrolment"
"""The kind of a code by which a device comes in."""

_NAME: TypeAdapter[str] = TypeAdapter(Name)


def clients(store: Store, caller: Caller) -> list[Client]:
    """Give every device and program that was ever let in, and codes that were not used yet.

    Raises:
        NotAllowedError: the caller is no administrator.
    """
    demand(caller, "list_clients")
    with store.reading() as connection:
        return identities.clients(connection, caller.facility)


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
        ValueError: the name cannot stand as the sender of an event or is that of a person or
            device, or the scope names a unit or party that there is not.
    """
    demand(caller, "admit_program")
    demand_name(name)
    token = secrets.token()
    with store.changing(caller.facility) as connection:
        demand_reach(store, connection, caller.facility, scope)
        _demand_free(connection, caller.facility, name, Kind.PROGRAM)
        program = Caller(caller.facility, name, role, scope, Kind.PROGRAM)
        identities.admit(connection, program, token, now, now + valid)
        _enter(connection, caller, AccessKind.PROGRAM_ADMITTED, now, program, now + valid)
    return token


def invite_device(
    store: Store, caller: Caller, name: str, role: Role, scope: Scope, now: datetime
) -> str:
    """Give the code that enrols a shared device within a day; it is shown this once and not kept.

    A device of that name goes on until the code is used; an earlier code ends.

    Raises:
        NotAllowedError: the caller is no administrator.
        ValueError: as for a program, or the role is none for a device that many share.
    """
    demand(caller, "invite_device")
    demand_name(name)
    if role not in BY_BADGE:
        raise ValueError(
            f"a shared device has the role {' or '.join(sorted(BY_BADGE))}: an {role} signs in"
        )
    code = secrets.typed_code()
    with store.changing(caller.facility) as connection:
        demand_reach(store, connection, caller.facility, scope)
        _demand_free(connection, caller.facility, name, Kind.DEVICE)
        identities.revoke(connection, caller.facility, name, now, kind=ENROLMENT)
        device = Caller(caller.facility, name, role, scope, Kind.DEVICE)
        until = now + ACTIVATION
        plain = secrets.plain(code)
        identities.admit(connection, device, plain, now, until, kind=ENROLMENT)
        _enter(connection, caller, AccessKind.DEVICE_INVITED, now, device, until)
    return code


def revoke_client(store: Store, caller: Caller, name: str, now: datetime) -> int:
    """End every token and code of a device or program, and the sessions on that device.

    Gives how many tokens and codes there were.

    Raises:
        NotAllowedError: the caller is no administrator.
    """
    demand(caller, "revoke_client")
    with store.changing(caller.facility) as connection:
        ended = identities.revoke(connection, caller.facility, name, now)
        sessions = identities.end_sessions(connection, caller.facility, now, device=name)
        if ended:
            entry = by(
                caller, AccessKind.CLIENT_REVOKED, now, client=name, tokens=ended, sessions=sessions
            )
            access_log.record(connection, caller.facility, entry)
    return ended


def demand_name(name: str) -> None:
    """Let a name pass that the record can bear.

    Raises:
        ValueError: it is none.
    """
    try:
        _NAME.validate_python(name)
    except ValidationError as error:
        raise ValueError(
            "a name has 1 to 64 characters and no control character among them"
        ) from error


def demand_reach(store: Store, connection: Connection, facility: str, scope: Scope) -> None:
    """Let a scope pass whose units and parties there are.

    Raises:
        ValueError: it names another.
    """
    site = store.rules_in(connection, facility).site
    for what, named, known in (
        ("unit", scope.units, site.units),
        ("party", scope.parties, site.parties),
    ):
        strangers = sorted(named - known.keys())
        if strangers:
            told = ", ".join(known) or "none"
            raise ValueError(f"there is no {what} '{strangers[0]}'; there are: {told}")


def _demand_free(connection: Connection, facility: str, name: str, kind: Kind) -> None:
    """A name stands in the record as the sender: it is one thing's for ever."""
    if identities.person(connection, facility, name) is not None:
        raise ValueError(f"'{name}' is the id of a person: choose another name")
    for client in identities.clients(connection, facility):
        is_kind = Kind.PROGRAM if client.kind == Kind.PROGRAM else Kind.DEVICE
        if client.name == name and is_kind is not kind:
            raise ValueError(f"'{name}' is the name of a {is_kind}: choose another")


def _enter(
    connection: Connection,
    caller: Caller,
    kind: AccessKind,
    now: datetime,
    client: Caller,
    until: datetime,
) -> None:
    entry = by(
        caller,
        kind,
        now,
        client=client.name,
        role=str(client.role),
        until=instant(until),
        units=sorted(client.scope.units),
        parties=sorted(client.scope.parties),
    )
    access_log.record(connection, caller.facility, entry)
