"""Sessions: begun, looked up and ended by those whose they are."""

from dataclasses import dataclass, field
from datetime import datetime

from sqlalchemy import Connection

from service.access import secrets
from service.access.caller import Caller, Kind, Proof
from service.access.entries import AccessKind, by
from service.access.lifetimes import lifetime
from service.access.people import Person, Session
from service.access.permissions import NotAllowedError, demand
from service.duties.access import person_in
from service.store import access_log, identities
from service.store.store import Store


@dataclass(frozen=True, slots=True)
class SignedIn:
    """Somebody who has come in; the token is shown this once and not kept."""

    token: str = field(repr=False)
    caller: Caller
    session: Session
    person: Person


def sign_out(store: Store, caller: Caller, now: datetime) -> None:
    """End the caller's session.

    Raises:
        NotAllowedError: nobody is signed in.
    """
    demand_person(caller, "sign_out")
    with store.changing(caller.facility) as connection:
        if identities.end_sessions(connection, caller.facility, now, only=caller.session):
            access_log.record(connection, caller.facility, by(caller, AccessKind.SIGNED_OUT, now))


def sign_out_everywhere(store: Store, caller: Caller, now: datetime) -> int:
    """End all sessions of the caller, this one too; give how many stood.

    Raises:
        NotAllowedError: nobody is signed in.
    """
    demand_person(caller, "sign_out_everywhere")
    with store.changing(caller.facility) as connection:
        ended = end(connection, caller.facility, caller.name, now)
        entry = by(caller, AccessKind.SESSIONS_ENDED, now, person=caller.name, sessions=ended)
        access_log.record(connection, caller.facility, entry)
    return ended


def my_sessions(store: Store, caller: Caller, now: datetime) -> list[Session]:
    """Give the caller's sessions that stand, latest first.

    Raises:
        NotAllowedError: nobody is signed in.
    """
    demand_person(caller, "list_my_sessions")
    with store.reading() as connection:
        return identities.sessions(connection, caller.facility, caller.name, now)


def my_name(store: Store, caller: Caller) -> str | None:
    """Give a signed-in person their own name; a device or program has none beside its id.

    Raises:
        NotAllowedError: it is not for the caller.
    """
    demand(caller, "show_me")
    if caller.kind is not Kind.PERSON:
        return None
    with store.reading() as connection:
        person = identities.person(connection, caller.facility, caller.name)
    return person.name if person else None


def demand_person(caller: Caller, operation: str) -> None:
    """Let somebody on who is signed in.

    Raises:
        NotAllowedError: nobody is, or the operation is not for them.
    """
    demand(caller, operation)
    if caller.kind is not Kind.PERSON:
        raise NotAllowedError("nobody is signed in: a device or program has nothing of its own")


def present(connection: Connection, caller: Caller, now: datetime) -> Person | None:
    """Give who is signed in, if they still are: the session may have ended since they asked."""
    standing = identities.sessions(connection, caller.facility, caller.name, now)
    if not any(secrets.same(each.token_hash, caller.session) for each in standing):
        return None
    return identities.person(connection, caller.facility, caller.name)


def end(
    connection: Connection, facility: str, person: str, now: datetime, but: str | None = None
) -> int:
    """End the sessions of a person, but the one of that hash; give how many stood."""
    stood = identities.sessions(connection, facility, person, now)
    identities.end_sessions(connection, facility, now, person=person, but=but)
    return sum(each.token_hash != but for each in stood)


def begin(
    connection: Connection, person: Person, proof: Proof, device: str, now: datetime, request: str
) -> SignedIn:
    """Begin a session with a token of its own: none is ever taken over from before."""
    token = secrets.token()
    life = lifetime(person.role, proof)
    session = Session(
        person.facility,
        identities.token_hash(token),
        person.id,
        device,
        proof,
        now,
        now + min(life.idle, life.absolute),
        now + life.absolute,
    )
    caller = person_in(session, person, request)
    identities.open_session(connection, session)
    entry = by(caller, AccessKind.SIGNED_IN, now, proof=str(proof))
    access_log.record(connection, person.facility, entry)
    return SignedIn(token, caller, session, person)
