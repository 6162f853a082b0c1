"""What people prove by: given, taken and reset by an administrator, who never learns a password.

Each change ends the sessions of whom it is about, and is entered in the same transaction.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection

from service.access import passwords, secrets
from service.access.caller import Caller
from service.access.entries import AccessKind, by
from service.access.lifetimes import ACTIVATION, FIRST_PIN
from service.access.people import Credential, CredentialKind, Person
from service.access.permissions import BY_BADGE
from service.duties.access import demand
from service.duties.lookup import NotFoundError
from service.duties.sessions import end
from service.store import access_log, identities
from service.store.store import Store


@dataclass(frozen=True, slots=True)
class Badge:
    """What is printed on a badge, and the first PIN that goes with it; neither is kept."""

    code: str
    first_pin: str


def issue_activation(store: Store, caller: Caller, person_id: str, now: datetime) -> str:
    """Give a code by which somebody sets a new password within a day.

    The old password and all sessions end at once.

    Raises:
        NotAllowedError: the caller is no administrator.
        NotFoundError: there is nobody of that id.
        ValueError: they may not come in.
    """
    with _changing(store, caller, "issue_activation", person_id) as (connection, found):
        _demand_may_enter(found, now)
        drop(connection, caller, found, now, CredentialKind.PASSWORD)
        return activate(connection, caller, found, now)


def issue_badge(store: Store, caller: Caller, person_id: str, now: datetime) -> Badge:
    """Give what is printed on a badge, and a first PIN for a week; the old ones end at once.

    Raises:
        NotAllowedError: the caller is no administrator.
        NotFoundError: there is nobody of that id.
        ValueError: they may not come in, or not by a badge.
    """
    badge = Badge(secrets.badge_code(), passwords.first_pin())
    kept_pin = passwords.hashed(badge.first_pin)  # not while others wait for the database
    with _changing(store, caller, "issue_badge", person_id) as (connection, found):
        _demand_may_enter(found, now)
        if found.role not in BY_BADGE:
            roles = ", ".join(sorted(BY_BADGE))
            raise ValueError(f"badges are for {roles}: an {found.role} signs in with a password")
        code = identities.token_hash(secrets.plain(badge.code))
        _set(connection, caller, found, Credential(CredentialKind.BADGE, code, now))
        first = Credential(CredentialKind.PIN, kept_pin, now, now + FIRST_PIN)
        _set(connection, caller, found, first)
    return badge


def revoke_badge(store: Store, caller: Caller, person_id: str, now: datetime) -> None:
    """End somebody's badge and PIN, and their sessions.

    Raises:
        NotAllowedError: the caller is no administrator.
        NotFoundError: there is nobody of that id.
    """
    with _changing(store, caller, "revoke_badge", person_id) as (connection, found):
        drop(connection, caller, found, now, CredentialKind.BADGE, CredentialKind.PIN)


def reset_second_factor(store: Store, caller: Caller, person_id: str, now: datetime) -> None:
    """End somebody's second factor, and their sessions; they set a new one when they next come in.

    Raises:
        NotAllowedError: the caller is no administrator.
        NotFoundError: there is nobody of that id.
    """
    kinds = (CredentialKind.SECOND_FACTOR, CredentialKind.PENDING_FACTOR)
    with _changing(store, caller, "reset_second_factor", person_id) as (connection, found):
        drop(connection, caller, found, now, *kinds)


def end_sessions(store: Store, caller: Caller, person_id: str, now: datetime) -> int:
    """Sign somebody out everywhere; give how many sessions stood.

    Raises:
        NotAllowedError: the caller is no administrator.
        NotFoundError: there is nobody of that id.
    """
    with _changing(store, caller, "end_sessions", person_id) as (connection, found):
        ended = end(connection, found.facility, found.id, now)
        if ended:
            entry = by(caller, AccessKind.SESSIONS_ENDED, now, person=person_id, sessions=ended)
            access_log.record(connection, caller.facility, entry)
        return ended


@contextmanager
def _changing(
    store: Store, caller: Caller, operation: str, person_id: str
) -> Iterator[tuple[Connection, Person]]:
    demand(caller, operation)
    with store.changing(caller.facility) as connection:
        yield connection, somebody(connection, caller.facility, person_id)


def somebody(connection: Connection, facility: str, person_id: str) -> Person:
    """Give a person.

    Raises:
        NotFoundError: there is nobody of that id.
    """
    found = identities.person(connection, facility, person_id)
    if found is None:
        raise NotFoundError(f"there is nobody of the id '{person_id}'")
    return found


def activate(connection: Connection, caller: Caller, whose: Person, now: datetime) -> str:
    """Give a code by which somebody sets a password within a day."""
    code = secrets.typed_code()
    kept = identities.token_hash(secrets.plain(code))
    until = now + ACTIVATION
    _set(connection, caller, whose, Credential(CredentialKind.ACTIVATION, kept, now, until))
    return code


def _set(connection: Connection, caller: Caller, whose: Person, kept: Credential) -> None:
    identities.keep_credential(connection, whose.facility, whose.id, kept)
    ended = end(connection, whose.facility, whose.id, kept.set_at)
    entry = by(
        caller,
        AccessKind.CREDENTIAL_SET,
        kept.set_at,
        person=whose.id,
        credential=str(kept.kind),
        sessions=ended,
    )
    access_log.record(connection, whose.facility, entry)


def drop(
    connection: Connection, caller: Caller, whose: Person, now: datetime, *kinds: CredentialKind
) -> None:
    """Take credentials away, with the sessions; of those that there are none nothing is said."""
    for kind in kinds:
        if identities.drop_credential(connection, whose.facility, whose.id, kind):
            ended = end(connection, whose.facility, whose.id, now)
            entry = by(
                caller,
                AccessKind.CREDENTIAL_REMOVED,
                now,
                person=whose.id,
                credential=str(kind),
                sessions=ended,
            )
            access_log.record(connection, whose.facility, entry)


def _demand_may_enter(whose: Person, now: datetime) -> None:
    if not whose.may_enter(now):
        raise ValueError(f"'{whose.id}' may not come in: let them in again first")
