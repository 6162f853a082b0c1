"""People, what they prove by, sessions, devices and programs; each function takes a connection.

Whoever changes something records it in the access log in the same transaction.
"""

import hashlib
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, Table, and_, bindparam, delete, insert, select, update

from service.access.caller import Caller, Kind, Proof, Scope
from service.access.people import Client, Credential, CredentialKind, Person, Session
from service.custody.words import Role
from service.store.entries import chunks
from service.store.identity_tables import ATTEMPTS, CLIENT, CREDENTIAL, PERSON, SESSION
from service.store.rows import Statement, among

_PEOPLE = Statement(
    select(PERSON).where(PERSON.c.facility == bindparam("facility"), among(PERSON.c.id, "ids"))
)
_SESSION = Statement(select(SESSION).where(SESSION.c.token_hash == bindparam("token_hash")))
_CLIENT = Statement(
    select(CLIENT).where(
        CLIENT.c.token_hash == bindparam("token_hash"),
        CLIENT.c.revoked_at.is_(None),
        CLIENT.c.expires_at > bindparam("now"),
    )
)


def token_hash(token: str) -> str:
    """Give the hash under which a token of at least 112 random bits is kept (SHA-256)."""
    return hashlib.sha256(token.encode()).hexdigest()


# --- people


def person(connection: Connection, facility: str, person_id: str) -> Person | None:
    """Give a person, or None."""
    return people_named(connection, facility, [person_id]).get(person_id)


def people(connection: Connection, facility: str) -> list[Person]:
    """Give everybody of a facility, by id."""
    asked = select(PERSON).where(PERSON.c.facility == facility).order_by(PERSON.c.id)
    return [_person(row) for row in connection.execute(asked)]


def people_named(
    connection: Connection, facility: str, person_ids: Iterable[str]
) -> dict[str, Person]:
    """Give those of the people whom a facility knows, by id."""
    found: dict[str, Person] = {}
    for chunk in chunks(person_ids):
        rows = _PEOPLE.rows(connection, facility=facility, ids=chunk)
        found |= {row.id: _person(row) for row in rows}
    return found


def keep_person(connection: Connection, kept: Person) -> None:
    """Write a person, new or changed."""
    row = {
        "facility": kept.facility,
        "id": kept.id,
        "name": kept.name,
        "role": str(kept.role),
        **_ids(kept.scope),
        "valid_until": kept.valid_until,
        "disabled_at": kept.disabled_at,
    }
    _put(connection, PERSON, ("facility", "id"), row)


# --- what they prove by


def credentials(
    connection: Connection, facility: str, person_id: str
) -> dict[CredentialKind, Credential]:
    """Give all that a person proves by."""
    c = CREDENTIAL.c
    asked = select(CREDENTIAL).where(c.facility == facility, c.person == person_id)
    found = (
        Credential(CredentialKind(row.kind), row.value, row.set_at, row.expires_at, row.used_step)
        for row in connection.execute(asked)
    )
    return {credential.kind: credential for credential in found}


def holder(
    connection: Connection, facility: str, kind: CredentialKind, value: str
) -> Person | None:
    """Give whose credential it is, by the value that is kept of it, or None."""
    c = CREDENTIAL.c
    asked = select(c.person).where(c.facility == facility, c.kind == str(kind), c.value == value)
    found = connection.execute(asked).scalar()
    return person(connection, facility, found) if found is not None else None


def keep_credential(
    connection: Connection, facility: str, person_id: str, kept: Credential
) -> None:
    """Write a credential in place of the one of its kind."""
    row = {
        "facility": facility,
        "person": person_id,
        "kind": str(kept.kind),
        "value": kept.value,
        "set_at": kept.set_at,
        "expires_at": kept.expires_at,
        "used_step": kept.used_step,
    }
    _put(connection, CREDENTIAL, ("facility", "person", "kind"), row)


def drop_credential(
    connection: Connection, facility: str, person_id: str, kind: CredentialKind
) -> bool:
    """Take a credential away; say whether there was one."""
    c = CREDENTIAL.c
    gone = delete(CREDENTIAL).where(
        c.facility == facility, c.person == person_id, c.kind == str(kind)
    )
    return connection.execute(gone).rowcount > 0


# --- sessions


def session(connection: Connection, token: str) -> Session | None:
    """Give the session of a token, whether it still stands or not, or None."""
    row = _SESSION.first(connection, token_hash=token_hash(token))
    return _session(row) if row else None


def sessions(connection: Connection, facility: str, person_id: str, now: datetime) -> list[Session]:
    """Give the sessions of a person that stand at that instant, latest first."""
    s = SESSION.c
    standing = and_(
        s.facility == facility,
        s.person == person_id,
        s.ended_at.is_(None),
        s.idle_until > now,
        s.expires_at > now,
    )
    asked = select(SESSION).where(standing).order_by(s.created_at.desc())
    return [_session(row) for row in connection.execute(asked)]


def open_session(connection: Connection, opened: Session) -> None:
    """Write a new session."""
    connection.execute(
        insert(SESSION).values(
            facility=opened.facility,
            token_hash=opened.token_hash,
            person=opened.person,
            device=opened.device,
            proof=str(opened.proof),
            created_at=opened.created_at,
            idle_until=opened.idle_until,
            expires_at=opened.expires_at,
            ended_at=opened.ended_at,
        )
    )


def touch_session(connection: Connection, touched: Session, idle_until: datetime) -> None:
    """Have a session idle until a later instant; one that was ended stays ended."""
    s = SESSION.c
    same = and_(s.facility == touched.facility, s.token_hash == touched.token_hash)
    connection.execute(update(SESSION).where(same).values(idle_until=idle_until))


def end_sessions(
    connection: Connection,
    facility: str,
    at: datetime,
    *,
    person: str | None = None,
    device: str | None = None,
    only: str | None = None,
    but: str | None = None,
) -> int:
    """End the sessions that stand of a person, on a device, or one alone; give how many.

    ``only`` and ``but`` are hashes of tokens.
    """
    s = SESSION.c
    which = [s.facility == facility, s.ended_at.is_(None)]
    which += [s.person == person] if person is not None else []
    which += [s.device == device] if device is not None else []
    which += [s.token_hash == only] if only is not None else []
    which += [s.token_hash != but] if but is not None else []
    return connection.execute(update(SESSION).where(*which).values(ended_at=at)).rowcount


# --- devices and programs


def admit(
    connection: Connection,
    client: Caller,
    token: str,
    created_at: datetime,
    expires_at: datetime,
    kind: str = "",
) -> None:
    """Let a device or program in by the hash of its token; the token itself is not kept."""
    connection.execute(
        insert(CLIENT).values(
            facility=client.facility,
            token_hash=token_hash(token),
            name=client.name,
            role=str(client.role),
            created_at=created_at,
            expires_at=expires_at,
            kind=kind or str(client.kind),
            **_ids(client.scope),
        )
    )


def revoke(
    connection: Connection, facility: str, name: str, at: datetime, kind: str | None = None
) -> int:
    """End all tokens of a device or program, or those of one kind; give how many there were."""
    c = CLIENT.c
    which = [c.facility == facility, c.name == name, c.revoked_at.is_(None)]
    which += [c.kind == kind] if kind is not None else []
    return connection.execute(update(CLIENT).where(*which).values(revoked_at=at)).rowcount


def client_of(
    connection: Connection, token: str, now: datetime, *, invited: bool = False
) -> Caller | None:
    """Give the device or program that holds a token, or None: unknown, expired or revoked.

    With ``invited``, give instead the device that a code of enrolment is for.
    """
    rows = _CLIENT.rows(connection, token_hash=token_hash(token), now=now)
    row = next((row for row in rows if (row.kind == "enrolment") == invited), None)
    if row is None:
        return None
    kind = Kind.PROGRAM if row.kind == Kind.PROGRAM else Kind.DEVICE
    device = row.name if kind is Kind.DEVICE else ""
    return Caller(row.facility, row.name, Role(row.role), _scope(row), kind, device)


def clients(connection: Connection, facility: str) -> list[Client]:
    """Give all devices and programs that were ever let in, by name and time."""
    c = CLIENT.c
    asked = select(CLIENT).where(c.facility == facility).order_by(c.name, c.created_at)
    return [
        Client(
            row.facility,
            row.name,
            Role(row.role),
            _scope(row),
            row.kind,
            row.created_at,
            row.expires_at,
            row.revoked_at,
        )
        for row in connection.execute(asked)
    ]


# --- failed attempts


def attempts(connection: Connection, facility: str, subject: str) -> tuple[int, datetime] | None:
    """Give how many attempts on a subject failed in a row, and when the last did."""
    a = ATTEMPTS.c
    asked = select(a.failures, a.last_at).where(a.facility == facility, a.subject == subject)
    row = connection.execute(asked).first()
    return (row.failures, row.last_at) if row else None


def keep_attempts(
    connection: Connection, facility: str, subject: str, failures: int, at: datetime
) -> None:
    """Write how many failed; none at all takes the row away."""
    a = ATTEMPTS.c
    if not failures:
        connection.execute(delete(ATTEMPTS).where(a.facility == facility, a.subject == subject))
        return
    row = {"facility": facility, "subject": subject, "failures": failures, "last_at": at}
    _put(connection, ATTEMPTS, ("facility", "subject"), row)


def forget_attempts(connection: Connection, facility: str, before: datetime) -> None:
    """Take away the attempts whose last is older: the table does not grow for ever."""
    a = ATTEMPTS.c
    connection.execute(delete(ATTEMPTS).where(a.facility == facility, a.last_at < before))


# --- rows


def _put(connection: Connection, table: Table, key: tuple[str, ...], row: dict[str, Any]) -> None:
    same = and_(*(table.c[name] == row[name] for name in key))
    if connection.execute(update(table).where(same).values(**row)).rowcount == 0:
        connection.execute(insert(table).values(**row))


def _ids(scope: Scope) -> dict[str, str]:
    return {"units": " ".join(sorted(scope.units)), "parties": " ".join(sorted(scope.parties))}


def _scope(row: Row[Any]) -> Scope:
    return Scope(frozenset(row.units.split()), frozenset(row.parties.split()))


def _person(row: Row[Any]) -> Person:
    return Person(
        row.facility,
        row.id,
        row.name,
        Role(row.role),
        _scope(row),
        row.valid_until,
        row.disabled_at,
    )


def _session(row: Row[Any]) -> Session:
    return Session(
        row.facility,
        row.token_hash,
        row.person,
        row.device,
        Proof(row.proof),
        row.created_at,
        row.idle_until,
        row.expires_at,
        row.ended_at,
    )
