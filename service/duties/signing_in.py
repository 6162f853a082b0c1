"""Coming in: by password, by badge, by a code used once.

Hashes are computed between transactions, never within one; what was looked up before is looked up
again after.
"""

import re
from dataclasses import dataclass, field, replace
from datetime import datetime

from sqlalchemy import Connection

from service.access import passwords, secrets, throttle
from service.access.caller import Caller, Kind, Proof
from service.access.entries import AccessEntry, AccessKind, by
from service.access.lifetimes import ENROLLED
from service.access.people import Credential, CredentialKind, Person
from service.access.permissions import BY_BADGE
from service.duties import proofs, sessions
from service.duties.attempts import (
    AT_DESKS,
    ON_DEVICES,
    Mark,
    SignInError,
    WaitError,
    count,
    refuse,
    settle,
    source_mark,
    turn,
)
from service.duties.sessions import SignedIn
from service.ledger.leaf import instant
from service.store import access_log, identities
from service.store.store import NoSetupError, Store

_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,62}")


class NewPinError(Exception):
    """The PIN is right, but a first one: it lets nobody in without a new one in its place."""

    def __init__(self) -> None:
        super().__init__("this is a first PIN: choose one of your own")


@dataclass(frozen=True, slots=True)
class Enrolled:
    """A device that has come in; the token is shown this once and not kept."""

    token: str = field(repr=False)
    device: Caller
    expires_at: datetime


def by_password(
    store: Store,
    facility: str | None,
    person_id: str,
    password: str,
    code: str | None,
    source: str,
    now: datetime,
    request: str = "",
) -> SignedIn:
    """Let somebody in by password, and by a code of the moment where they have set one.

    Args:
        facility: None for the only one.
        source: The address it comes from, or empty.

    Raises:
        SignInError: wrong, unknown, or not to come in.
        WaitError: too many failed attempts on this person from this address.
        BusyError: too many sign in at once.
        ValueError: there are several facilities and none was named.
    """
    here = the_facility(store, facility)
    name = person_id.strip().lower()
    origin = throttle.source_of(source)
    marks = (
        Mark(throttle.subject("password", name, origin), throttle.BY_ACCOUNT),
        source_mark(source),
    )
    with turn(AT_DESKS):
        with store.changing(here) as connection:
            counted = count(connection, here, marks, now)
            person = _person(connection, here, name)
            before = proofs.hash_kept(connection, person, CredentialKind.PASSWORD, now)
        right = passwords.matches(before, password)
        renewed = passwords.hashed(password) if right and passwords.outdated(before or "") else None
    with store.changing(here) as connection:
        person = _person(connection, here, name)
        same = right and before == proofs.hash_kept(
            connection, person, CredentialKind.PASSWORD, now
        )
        reason, proof = "password", Proof.PASSWORD
        if person is not None and same:
            reason, proof = _second_factor(connection, person, code, now)
        if person is None or reason:
            refuse(connection, here, person, reason, now, request)
            signed_in = None
        else:
            settle(connection, here, counted, now)
            proofs.renew(connection, person, CredentialKind.PASSWORD, renewed)
            signed_in = sessions.begin(connection, person, proof, "", now, request)
    if signed_in is None:
        raise SignInError
    return signed_in


def by_badge(
    store: Store,
    device: Caller,
    badge: str,
    pin: str,
    new_pin: str | None,
    now: datetime,
    request: str = "",
) -> SignedIn:
    """Let somebody in by badge and PIN on an enrolled device; whoever was signed in on it is out.

    Args:
        device: The device that the request comes from.
        new_pin: Takes the place of the PIN; asked for where that is a first one.

    Raises:
        SignInError: wrong, unknown, not to come in, or not by a badge.
        NewPinError: the PIN is a first one, and no new one came with it.
        UnfitSecretError: the new PIN may not be chosen.
        WaitError: too many failed attempts with this badge, or on this device.
        BusyError: too many sign in at once.
    """
    if device.kind is not Kind.DEVICE:
        raise SignInError
    here = device.facility
    code = secrets.plain(badge)
    marks = (
        Mark(throttle.subject("badge", code, device.name), throttle.BY_BADGE),
        Mark(throttle.subject("device", device.name), throttle.BY_DEVICE, shared=True),
    )
    with turn(ON_DEVICES):
        with store.changing(here) as connection:
            counted = count(connection, here, marks, now)
            person = _badge_holder(connection, here, code)
            before = proofs.hash_kept(connection, person, CredentialKind.PIN, now)
        right = passwords.matches(before, pin)
        wrong = proofs.unfit(passwords.demand_fit_pin, pin, new_pin) if right and new_pin else None
        chosen = new_pin if new_pin and not wrong else None
        outdated = right and passwords.outdated(before or "")
        renewed = passwords.hashed(chosen or pin) if right and (chosen or outdated) else None
    with store.changing(here) as connection:
        person = _badge_holder(connection, here, code)
        same = right and before == proofs.hash_kept(connection, person, CredentialKind.PIN, now)
        outcome: SignedIn | Exception
        if person is None or not same:
            reason = "badge" if person is None else "pin"
            refuse(connection, here, person, reason, now, request, device.name)
            outcome = SignInError()
        else:
            settle(connection, here, counted, now)
            outcome = wrong or _with_pin(connection, person, chosen, renewed, device, now, request)
    if isinstance(outcome, Exception):
        raise outcome
    return outcome


def set_password(
    store: Store,
    facility: str | None,
    activation: str,
    password: str,
    source: str,
    now: datetime,
    request: str = "",
) -> str:
    """Set a first or new password by a code for one use; give the person's id.

    The code is used up and all sessions of the person end; one that is refused leaves the code.

    Raises:
        SignInError: the code is unknown, was used or has expired, or its holder may not come in.
        UnfitSecretError: the password may not be chosen.
        WaitError: too many failed attempts from this address.
        BusyError: too many sign in at once.
        ValueError: there are several facilities and none was named.
    """
    here = the_facility(store, facility)
    code = identities.token_hash(secrets.plain(activation))
    with store.changing(here) as connection:
        counted = count(connection, here, (source_mark(source),), now)
        person = _activated(connection, here, code, now)
        if person is None:
            refuse(connection, here, None, "activation", now, request)
        else:
            settle(connection, here, counted, now)
    if person is None:
        raise SignInError
    passwords.demand_fit_password(password, person.id, proofs.words_of(store, here))
    with turn(AT_DESKS):
        kept = passwords.hashed(password)
    with store.changing(here) as connection:
        again = _activated(connection, here, code, now)
        if again is not None:  # of two that come at once, the second finds the code used
            proofs.drop(connection, again, CredentialKind.ACTIVATION)
            proofs.keep(connection, again, Credential(CredentialKind.PASSWORD, kept, now))
            ended = sessions.end(connection, here, again.id, now)
            entry = AccessEntry(
                AccessKind.CREDENTIAL_SET,
                now,
                again.id,
                request=request,
                about=proofs.told_of(again, CredentialKind.PASSWORD, ended),
            )
            access_log.record(connection, here, entry)
    if again is None:
        raise SignInError
    return again.id


def enrol_device(
    store: Store, facility: str | None, code: str, source: str, now: datetime, request: str = ""
) -> Enrolled:
    """Let a device in by the code it was invited with; the code is used up.

    Whatever was enrolled under that name before is turned out, with who is signed in on it.

    Raises:
        SignInError: the code is unknown, was used or has expired.
        WaitError: too many failed attempts from this address.
        ValueError: there are several facilities and none was named.
    """
    here = the_facility(store, facility)
    invitation = secrets.plain(code)
    token = secrets.token()
    until = now + ENROLLED
    with store.changing(here) as connection:
        counted = count(connection, here, (source_mark(source),), now)
        invited = identities.client_of(connection, invitation, now, invited=True)
        if invited is None or invited.facility != here:
            invited = None
            refuse(connection, here, None, "enrolment", now, request)
        else:
            settle(connection, here, counted, now)
            invited = replace(invited, request=request)
            identities.revoke(connection, here, invited.name, now)
            ended = identities.end_sessions(connection, here, now, device=invited.name)
            identities.admit(connection, invited, token, now, until)
            kind = AccessKind.DEVICE_ENROLLED
            entry = by(invited, kind, now, until=instant(until), sessions=ended)
            access_log.record(connection, here, entry)
    if invited is None:
        raise SignInError
    return Enrolled(token, invited, until)


def the_facility(store: Store, facility: str | None) -> str:
    """Give the facility that was named, or the only one.

    Raises:
        SignInError: there is none of that name.
        NoSetupError: none was set up.
        ValueError: there are several and none was named.
    """
    known = store.facilities()
    if facility is not None:
        if facility not in known:
            raise SignInError
        return facility
    if not known:
        raise NoSetupError("no facility has been set up: run custody setup")
    if len(known) > 1:
        raise ValueError("name the facility: there are several")
    return known[0]


def _person(connection: Connection, facility: str, name: str) -> Person | None:
    """Give the person of an id as it was typed; what cannot be one is nobody's."""
    return identities.person(connection, facility, name) if _ID.fullmatch(name) else None


def _badge_holder(connection: Connection, facility: str, code: str) -> Person | None:
    kept = identities.token_hash(code)
    person = identities.holder(connection, facility, CredentialKind.BADGE, kept)
    return person if person is not None and person.role in BY_BADGE else None


def _activated(connection: Connection, facility: str, code: str, now: datetime) -> Person | None:
    person = identities.holder(connection, facility, CredentialKind.ACTIVATION, code)
    return person if proofs.kept(connection, person, CredentialKind.ACTIVATION, now) else None


def _with_pin(
    connection: Connection,
    person: Person,
    chosen: str | None,
    renewed: str | None,
    device: Caller,
    now: datetime,
    request: str,
) -> SignedIn | NewPinError:
    """Let somebody in whose PIN was right. A first PIN is one that expires."""
    held = proofs.held(connection, person)[CredentialKind.PIN]
    if held.expires_at is not None and chosen is None:
        return NewPinError()
    if chosen is None:
        proofs.renew(connection, person, CredentialKind.PIN, renewed)
    elif renewed is not None:
        proofs.keep(connection, person, Credential(CredentialKind.PIN, renewed, now))
        ended = sessions.end(connection, person.facility, person.id, now)
        about = proofs.told_of(person, CredentialKind.PIN, ended)
        entry = AccessEntry(AccessKind.CREDENTIAL_SET, now, person.id, device.name, request, about)
        access_log.record(connection, person.facility, entry)
    identities.end_sessions(connection, person.facility, now, device=device.name)
    return sessions.begin(connection, person, Proof.BADGE, device.name, now, request)


def _second_factor(
    connection: Connection, person: Person, code: str | None, now: datetime
) -> tuple[str, Proof]:
    """Ask for the code where a factor is set: give why not, or empty, and what was proved.

    Who gave a right password is not told that codes have to wait: it would tell that it was right.
    """
    factor = proofs.held(connection, person).get(CredentialKind.SECOND_FACTOR)
    if factor is None:
        return "", Proof.PASSWORD
    if not code:
        return "code", Proof.PASSWORD
    try:
        step = proofs.take_code(connection, person, factor, code, now)
    except WaitError:
        return "waiting", Proof.PASSWORD
    if step is None:
        return "code", Proof.PASSWORD
    proofs.keep(connection, person, replace(factor, used_step=step))
    return "", Proof.SECOND_FACTOR
