"""The administrator's duties: people, and the access log.

What people prove by is in ``credentials``, devices and programs in ``clients``. Every change is
entered in the access log in the same transaction.
"""

import re
import secrets as system
from dataclasses import dataclass, replace
from datetime import datetime
from enum import Enum
from typing import Literal

from sqlalchemy import Connection

from service.access import secrets
from service.access.caller import WHOLE, Caller, Scope
from service.access.entries import AccessKind, Told, by
from service.access.people import CredentialKind, Person, Session
from service.access.permissions import BY_BADGE
from service.access.standing import told_of
from service.custody.words import Role
from service.duties.access import demand
from service.duties.clients import admit_program as admit_program
from service.duties.clients import clients as clients
from service.duties.clients import demand_name, demand_reach
from service.duties.clients import invite_device as invite_device
from service.duties.clients import revoke_client as revoke_client
from service.duties.credentials import Badge as Badge
from service.duties.credentials import activate, drop, somebody
from service.duties.credentials import end_sessions as end_sessions
from service.duties.credentials import issue_activation as issue_activation
from service.duties.credentials import issue_badge as issue_badge
from service.duties.credentials import reset_second_factor as reset_second_factor
from service.duties.credentials import revoke_badge as revoke_badge
from service.duties.sessions import end
from service.store import access_log, identities
from service.store.store import Store

_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,62}")
_ID_LETTERS = secrets.CODE_ALPHABET.lower()
_ID_LENGTH = 6


class _Sentinel(Enum):
    UNCHANGED = "unchanged"


UNCHANGED = _Sentinel.UNCHANGED
"""What is not to be changed."""

Unchanged = Literal[_Sentinel.UNCHANGED]


@dataclass(frozen=True, slots=True)
class NewPerson:
    """Somebody who is to sign in.

    Attributes:
        id: None for one that the service makes, which tells nothing of them.
    """

    name: str
    role: Role
    scope: Scope = WHOLE
    id: str | None = None
    valid_until: datetime | None = None


@dataclass(frozen=True, slots=True)
class PersonView:
    """Somebody, with the kinds of what they prove by and the sessions that stand."""

    person: Person
    credentials: frozenset[CredentialKind]
    sessions: list[Session]


# --- looked at


def people(store: Store, caller: Caller) -> list[Person]:
    """Give everybody of the facility, by id.

    Raises:
        NotAllowedError: the caller may not read the list.
    """
    demand(caller, "list_people")
    with store.reading() as connection:
        return identities.people(connection, caller.facility)


def person(store: Store, caller: Caller, person_id: str, now: datetime) -> PersonView:
    """Give somebody.

    Raises:
        NotAllowedError: the caller may not read the list.
        NotFoundError: there is nobody of that id.
    """
    demand(caller, "look_up_person")
    with store.reading() as connection:
        found = somebody(connection, caller.facility, person_id)
        held = identities.credentials(connection, caller.facility, person_id)
        standing = identities.sessions(connection, caller.facility, person_id, now)
        return PersonView(found, frozenset(held), standing)


def access_entries(
    store: Store, caller: Caller, after: int, limit: int, kind: AccessKind | None = None
) -> list[tuple[int, str]]:
    """Give a page of the access log, each entry with its number, from after that number on.

    Raises:
        NotAllowedError: the caller is no administrator.
    """
    demand(caller, "read_access_log")
    with store.reading() as connection:
        return access_log.entries_after(connection, caller.facility, after, limit, kind)


# --- people


def add_person(store: Store, caller: Caller, new: NewPerson, now: datetime) -> tuple[Person, str]:
    """Add somebody; give them, and the code by which they set a password within a day.

    Raises:
        NotAllowedError: the caller is no administrator.
        ValueError: the name, id, scope or end cannot stand, or the id is taken.
    """
    demand(caller, "add_person")
    facility = caller.facility
    with store.changing(facility) as connection:
        person_id = _new_id(connection, facility) if new.id is None else new.id
        if not _ID.fullmatch(person_id):
            raise ValueError(
                "an id has 1 to 63 small letters, digits and hyphens, and begins with no hyphen"
            )
        if _taken(connection, facility, person_id):
            raise ValueError(f"the id '{person_id}' is taken: an id is one person's for ever")
        added = Person(facility, person_id, new.name, new.role, new.scope, new.valid_until)
        _demand_fit(added)
        demand_reach(store, connection, facility, added.scope)
        identities.keep_person(connection, added)
        entry = by(caller, AccessKind.PERSON_ADDED, now, **told_of(added))
        access_log.record(connection, facility, entry)
        return added, activate(connection, caller, added, now)


def change_person(
    store: Store,
    caller: Caller,
    person_id: str,
    now: datetime,
    *,
    name: str | Unchanged = UNCHANGED,
    role: Role | Unchanged = UNCHANGED,
    scope: Scope | Unchanged = UNCHANGED,
    valid_until: datetime | Unchanged | None = UNCHANGED,
    disabled: bool | Unchanged = UNCHANGED,
) -> Person:
    """Change somebody; any change but that of the name ends their sessions.

    Raises:
        NotAllowedError: the caller is no administrator.
        NotFoundError: there is nobody of that id.
        ValueError: it cannot stand, or nobody could let anybody in any more.
    """
    demand(caller, "change_person")
    with store.changing(caller.facility) as connection:
        old = somebody(connection, caller.facility, person_id)
        new = replace(
            old,
            name=old.name if name is UNCHANGED else name,
            role=old.role if role is UNCHANGED else role,
            scope=old.scope if scope is UNCHANGED else scope,
            valid_until=old.valid_until if valid_until is UNCHANGED else valid_until,
            disabled_at=_disabled(old, disabled, now),
        )
        if new == old:
            return old
        _demand_fit(new)
        if new.scope != old.scope:  # of what they have, a later set-up may have closed some
            demand_reach(store, connection, caller.facility, new.scope)
        _demand_an_administrator(connection, old, new, now)
        identities.keep_person(connection, new)
        told: dict[str, Told] = dict(told_of(new))
        told["changed"] = [
            field
            for field in ("name", "role", "scope", "valid_until", "disabled_at")
            if getattr(old, field) != getattr(new, field)
        ]
        if replace(new, name=old.name) != old:
            told["sessions"] = end(connection, new.facility, new.id, now)
        access_log.record(
            connection, caller.facility, by(caller, AccessKind.PERSON_CHANGED, now, **told)
        )
        if new.role not in BY_BADGE:
            drop(connection, caller, new, now, CredentialKind.BADGE, CredentialKind.PIN)
        return new


# --- what may be


def _demand_fit(asked: Person) -> None:
    demand_name(asked.name)
    if asked.role is Role.INSPECTOR and asked.valid_until is None:
        raise ValueError("an inspector comes in until a day that is set: say until when")


def _demand_an_administrator(
    connection: Connection, old: Person, new: Person, now: datetime
) -> None:
    """Somebody must be able to let people in: today, and with no end that is set."""
    before = [
        each for each in identities.people(connection, old.facility)
        if each.role is Role.ADMINISTRATOR and each.may_enter(now)
    ]  # fmt: skip
    after = [each for each in before if each.id != old.id]
    after += [new] if new.role is Role.ADMINISTRATOR and new.may_enter(now) else []
    lasting = [[each for each in some if each.valid_until is None] for some in (before, after)]
    if (before and not after) or (lasting[0] and not lasting[1]):
        raise ValueError(
            f"'{old.id}' is the last administrator who may come in: make another one first"
        )


def _disabled(old: Person, disabled: bool | Unchanged, now: datetime) -> datetime | None:
    if disabled is UNCHANGED:
        return old.disabled_at
    return (old.disabled_at or now) if disabled else None


def _taken(connection: Connection, facility: str, person_id: str) -> bool:
    """Devices and programs are senders of events too: no two of them share a name."""
    named = {client.name for client in identities.clients(connection, facility)}
    return person_id in named or identities.person(connection, facility, person_id) is not None


def _new_id(connection: Connection, facility: str) -> str:
    while True:
        drawn = "".join(system.choice(_ID_LETTERS) for _ in range(_ID_LENGTH))
        if not _taken(connection, facility, f"p-{drawn}"):
            return f"p-{drawn}"
