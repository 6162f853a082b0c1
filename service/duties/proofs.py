"""What somebody proves by, as sign-ins and changes of one's own look it up and keep it."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from sqlalchemy import Connection

from service.access import second_factor, throttle
from service.access.passwords import UnfitSecretError
from service.access.people import Credential, CredentialKind, Person
from service.duties.attempts import Mark, count, settle
from service.store import identities
from service.store.store import Store


def kept(
    connection: Connection, person: Person | None, kind: CredentialKind, now: datetime
) -> Credential | None:
    """Give what is kept of a credential, if it counts and its holder may come in."""
    if person is None or not person.may_enter(now):
        return None
    found = held(connection, person).get(kind)
    if found is None or (found.expires_at is not None and now >= found.expires_at):
        return None
    return found


def hash_kept(
    connection: Connection, person: Person | None, kind: CredentialKind, now: datetime
) -> str | None:
    """Give the hash of a password or PIN, if it counts and its holder may come in."""
    found = kept(connection, person, kind, now)
    return found.value if found else None


def held(connection: Connection, person: Person) -> dict[CredentialKind, Credential]:
    """Give all that somebody proves by, whether it counts still or not."""
    return identities.credentials(connection, person.facility, person.id)


def keep(connection: Connection, person: Person, credential: Credential) -> None:
    """Write a credential in place of the one of its kind."""
    identities.keep_credential(connection, person.facility, person.id, credential)


def drop(connection: Connection, person: Person, kind: CredentialKind) -> None:
    """Take a credential away that is used up."""
    identities.drop_credential(connection, person.facility, person.id, kind)


def renew(
    connection: Connection, person: Person, kind: CredentialKind, renewed: str | None
) -> None:
    """Put a hash of today's parameters in place of an older one; all else of it stays."""
    if renewed is not None:
        keep(connection, person, replace(held(connection, person)[kind], value=renewed))


def take_code(
    connection: Connection, person: Person, factor: Credential, code: str, now: datetime
) -> int | None:
    """Give the step of a right code, and count a wrong one wherever it came from.

    Raises:
        WaitError: too many were wrong.
    """
    mark = Mark(throttle.subject("code", person.id), throttle.BY_ACCOUNT)
    counted = count(connection, person.facility, (mark,), now)
    step = second_factor.step_of(factor.value, code, now, factor.used_step)
    if step is not None:
        settle(connection, person.facility, counted, now)
    return step


def unfit(fit: Callable[[str], None], old: str, new: str) -> UnfitSecretError | None:
    """Say why a password or PIN may not take the place of another, or None."""
    try:
        fit(new)
    except UnfitSecretError as error:
        return error
    return UnfitSecretError("that is the present one: choose another") if old == new else None


def words_of(store: Store, facility: str) -> tuple[str, str]:
    """Give what people of a facility would think of first."""
    site = store.rules(facility).site
    return site.id, site.name


def told_of(person: Person, kind: CredentialKind, ended: int) -> dict[str, str | int]:
    """Give what the access log tells of a credential that was set: never what it is."""
    return {"person": person.id, "credential": str(kind), "sessions": ended}
