"""Who asks: the credentials that came with a request, and the record of those turned away."""

import logging
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import Connection

from service.access.caller import WHOLE, Caller, Kind, Proof, Scope
from service.access.entries import AccessKind, by
from service.access.lifetimes import TOUCH, lifetime
from service.access.people import Person, Session
from service.access.permissions import (
    MAY_RECORD,
    NEEDS_SECOND_FACTOR,
    WITHOUT_A_PERSON,
    NotAllowedError,
    demand,
)
from service.store import access_log, identities
from service.store.faults import BusyError, UnusableError, UnwritableError
from service.store.store import NoSetupError, Store

REFUSALS_APART = timedelta(minutes=10)
"""Of what one caller is refused, no more than one entry is made in this time: or whoever is turned
away could fill the log."""

_log = logging.getLogger("custody")


@dataclass(frozen=True, slots=True)
class Shown:
    """The credentials that came with a request; empty where there was none.

    Attributes:
        bearer: The token of a device or program.
        device: The token of an enrolled device, from its cookie.
        session: The token of a session, from its cookie.
        request: The id of the request.
    """

    bearer: str = ""
    device: str = ""
    session: str = ""
    request: str = ""

    @property
    def nothing(self) -> bool:
        """Whether there was none at all."""
        return not (self.bearer or self.device or self.session)


def holder_of(store: Store, token: str, now: datetime) -> Caller | None:
    """Give the device or program that holds a token, or None: unknown, expired or revoked."""
    with store.reading() as connection:
        return identities.client_of(connection, token, now)


@dataclass(frozen=True, slots=True)
class Recognised:
    """Somebody whose credentials are good.

    Attributes:
        used: The session that this is a use of worth writing down, and until when it may idle now.
    """

    caller: Caller
    used: tuple[Session, datetime] | None = None


def caller_of(store: Store, shown: Shown, now: datetime) -> Caller | None:
    """Give who asks, or None: the credentials are unknown, have expired or were ended.

    A person on an enrolled device comes before the device; when the session has ended the device
    stays known, so that what waits on it can still be sent.
    """
    with store.reading() as connection:
        found = recognised(connection, shown, now)
    if found is None:
        return None
    note_use(store, found)
    return found.caller


def recognised(connection: Connection, shown: Shown, now: datetime) -> Recognised | None:
    """Give the same within a transaction that is already open, and what is to be noted of it."""
    token = shown.bearer or shown.device
    client = identities.client_of(connection, token, now) if token else None
    if shown.bearer and (client is None or client.kind is Kind.PROGRAM):
        found = None
    else:
        found = _signed_in(connection, shown.session, client, now)
    if found is None:
        return Recognised(_with_request(client, shown.request)) if client else None
    session, person = found
    until = min(now + lifetime(person.role, session.proof).idle, session.expires_at)
    used = None if until - session.idle_until < TOUCH else (session, until)
    return Recognised(person_in(session, person, shown.request), used)


def note_use(store: Store, found: Recognised) -> None:
    """Have the session of somebody recognised idle until later, if that is to be written down."""
    if found.used is None:
        return
    session, until = found.used
    try:
        with store.changing(session.facility) as connection:
            identities.touch_session(connection, session, until)
    except (BusyError, UnwritableError) as error:  # who only reads is not stopped by a full disk
        _log.error("the use of a session was not written down: %s", error)


def person_in(session: Session, person: Person, request: str) -> Caller:
    """Give the caller that a person is in a session."""
    confined = person.role in NEEDS_SECOND_FACTOR and session.proof is not Proof.SECOND_FACTOR
    return Caller(
        person.facility,
        person.id,
        person.role,
        person.scope,
        Kind.PERSON,
        session.device,
        session.token_hash,
        session.proof,
        confined,
        request,
    )


def may_look(caller: Caller, page: str) -> bool:
    """Say whether the page is for such a caller: a person, or a device with nobody on it."""
    alone = caller.kind is Kind.DEVICE and page in WITHOUT_A_PERSON
    return caller.kind is Kind.PERSON or alone


def admit(store: Store, caller: Caller, operation: str, now: datetime) -> None:
    """Let a caller on to an operation that is for its role; a refusal goes to the access log.

    Raises:
        NotAllowedError: it is not for its role.
    """
    try:
        demand(caller, operation)
    except NotAllowedError:
        note_refusal(store, caller, operation, now)
        raise


def note_refusal(store: Store, caller: Caller, what: str, now: datetime) -> None:
    """Have the access log say that a known caller asked for what is not theirs."""
    kind = AccessKind.REFUSED
    try:
        with store.changing(caller.facility) as connection:
            last = access_log.last_of(connection, caller.facility, kind, caller.name)
            if last is None or now - last >= REFUSALS_APART:
                entry = by(caller, kind, now, what=what, role=str(caller.role))
                access_log.record(connection, caller.facility, entry)
    except (BusyError, UnwritableError) as error:  # they are refused all the same
        _log.error("a refusal of %s was not entered: %s", caller.name, error)


def _signed_in(
    connection: Connection, token: str, device: Caller | None, now: datetime
) -> tuple[Session, Person] | None:
    session = identities.session(connection, token) if token else None
    if session is None or session.ended_at is not None:
        return None
    if now >= min(session.idle_until, session.expires_at):
        return None
    on_it = device is not None and (device.facility, device.name) == (
        session.facility,
        session.device,
    )
    if session.device and not on_it:
        return None  # it was opened on a device that is not this one, or was turned out
    person = identities.person(connection, session.facility, session.person)
    return (session, person) if person is not None and person.may_enter(now) else None


def _with_request(client: Caller, request: str) -> Caller:
    return Caller(
        client.facility,
        client.name,
        client.role,
        client.scope,
        client.kind,
        client.device,
        request=request,
    )


__all__ = [
    "MAY_RECORD",
    "WHOLE",
    "BusyError",
    "Caller",
    "Kind",
    "NoSetupError",
    "NotAllowedError",
    "Proof",
    "Recognised",
    "Scope",
    "Shown",
    "Store",
    "UnusableError",
    "UnwritableError",
    "admit",
    "caller_of",
    "demand",
    "holder_of",
    "may_look",
    "note_refusal",
    "note_use",
    "person_in",
    "recognised",
]
