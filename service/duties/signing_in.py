"""Coming in: by password, by badge, by a code used once; what somebody changes of their own.

Every attempt is counted as failed, on disk, before the secret is looked at, and taken back when it
was right. So guesses that come at once cannot all pass before one of them is counted, and a restart
forgets none. Hashes are computed between transactions, never within one.
"""

import re
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from sqlalchemy import Connection

from service.access import passwords, second_factor, secrets, throttle
from service.access.caller import Caller, Kind, Proof
from service.access.entries import AccessEntry, AccessKind, by
from service.access.lifetimes import lifetime
from service.access.passwords import UnfitSecretError
from service.access.people import Credential, CredentialKind, Person, Session
from service.access.permissions import BY_BADGE, NEEDS_SECOND_FACTOR, NotAllowedError, demand
from service.store import access_log, identities
from service.store.database import BusyError
from service.store.store import NoSetupError, Store

HASHING_MOST = 2
"""Hashes computed at a time at either door: each takes 64 MiB for a tenth of a second and more."""

HASHING_PATIENCE_S = 5.0
"""How long a sign-in waits for its turn."""

ENROLLED = timedelta(days=365)
"""How long an enrolled device stays known."""

PENDING = timedelta(hours=1)
"""How long a second factor that was offered waits for its first code."""

_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,62}")

_AT_DESKS = threading.BoundedSemaphore(HASHING_MOST)
_ON_DEVICES = threading.BoundedSemaphore(HASHING_MOST)
"""Turns apart: a flood of passwords from anywhere holds up no badge on a ward."""


class SignInError(Exception):
    """Nobody is let in by this; it is never said why."""

    def __init__(self) -> None:
        super().__init__("the name, the password or the code is wrong")


class WaitError(Exception):
    """Too many attempts failed: the next may come in so many seconds."""

    def __init__(self, seconds: int) -> None:
        super().__init__(f"too many attempts failed: try again in {seconds} s")
        self.seconds = seconds


class NewPinError(Exception):
    """The PIN is right, but a first one: it lets nobody in without a new one in its place."""

    def __init__(self) -> None:
        super().__init__("this is a first PIN: choose one of your own")


@dataclass(frozen=True, slots=True)
class SignedIn:
    """Somebody who has come in; the token is shown this once and not kept."""

    token: str = field(repr=False)
    caller: Caller
    session: Session
    person: Person


@dataclass(frozen=True, slots=True)
class Offer:
    """The secret of a second factor, in base 32 and as an ``otpauth://`` address."""

    secret: str = field(repr=False)
    uri: str = field(repr=False)


@dataclass(frozen=True, slots=True)
class Enrolled:
    """A device that has come in; the token is shown this once and not kept."""

    token: str = field(repr=False)
    device: Caller
    expires_at: datetime


# --- coming in


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
        _Mark(throttle.subject("password", name, origin), throttle.BY_ACCOUNT),
        _source_mark(origin),
    )
    with _turn(_AT_DESKS):
        with store.changing(here) as connection:
            counted = _count(connection, here, marks, now)
            person = _person(connection, here, name)
            kept = _kept(connection, person, CredentialKind.PASSWORD, now)
        right = passwords.matches(kept, password)
        renewed = passwords.hashed(password) if right and passwords.outdated(kept or "") else None
    with store.changing(here) as connection:
        person = _person(connection, here, name)
        same = right and kept == _kept(connection, person, CredentialKind.PASSWORD, now)
        reason, proof = "password", Proof.PASSWORD
        if person is not None and same:
            reason, proof = _second_factor(connection, person, code, now)
        if person is None or reason:
            _refuse(connection, here, person, reason, now, request)
            signed_in = None
        else:
            _settle(connection, here, counted, now)
            _renew(connection, person, CredentialKind.PASSWORD, renewed)
            signed_in = _open(connection, person, proof, "", now, request)
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
        _Mark(throttle.subject("badge", code, device.name), throttle.BY_BADGE),
        _Mark(throttle.subject("device", device.name), throttle.BY_DEVICE, shared=True),
    )
    with _turn(_ON_DEVICES):
        with store.changing(here) as connection:
            counted = _count(connection, here, marks, now)
            person = _badge_holder(connection, here, code)
            kept = _kept(connection, person, CredentialKind.PIN, now)
        right = passwords.matches(kept, pin)
        unfit = _unfit(passwords.demand_fit_pin, pin, new_pin) if right and new_pin else None
        chosen = new_pin if new_pin and not unfit else None
        outdated = right and passwords.outdated(kept or "")
        renewed = passwords.hashed(chosen or pin) if right and (chosen or outdated) else None
    with store.changing(here) as connection:
        person = _badge_holder(connection, here, code)
        same = right and kept == _kept(connection, person, CredentialKind.PIN, now)
        outcome: SignedIn | Exception
        if person is None or not same:
            reason = "badge" if person is None else "pin"
            _refuse(connection, here, person, reason, now, request, device.name)
            outcome = SignInError()
        else:
            _settle(connection, here, counted, now)
            outcome = unfit or _with_pin(connection, person, chosen, renewed, device, now, request)
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
        counted = _count(connection, here, (_source_mark(throttle.source_of(source)),), now)
        person = _activated(connection, here, code, now)
        if person is None:
            _refuse(connection, here, None, "activation", now, request)
        else:
            _settle(connection, here, counted, now)
    if person is None:
        raise SignInError
    passwords.demand_fit_password(password, person.id, _words(store, here))
    with _turn(_AT_DESKS):
        kept = passwords.hashed(password)
    with store.changing(here) as connection:
        again = _activated(connection, here, code, now)
        if again is not None:  # of two that come at once, the second finds the code used
            identities.drop_credential(connection, here, again.id, CredentialKind.ACTIVATION)
            _keep(connection, again, Credential(CredentialKind.PASSWORD, kept, now))
            ended = _end(connection, here, again.id, now)
            entry = AccessEntry(
                AccessKind.CREDENTIAL_SET,
                now,
                again.id,
                request=request,
                about=_of(again, CredentialKind.PASSWORD, ended),
            )
            access_log.record(connection, here, entry)
    if again is None:
        raise SignInError
    return again.id


def enrol_device(
    store: Store, facility: str | None, code: str, source: str, now: datetime, request: str = ""
) -> Enrolled:
    """Let a device in by the code it was invited with; the code is used up.

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
        counted = _count(connection, here, (_source_mark(throttle.source_of(source)),), now)
        invited = identities.client_of(connection, invitation, now, invited=True)
        if invited is None or invited.facility != here:
            invited = None
            _refuse(connection, here, None, "enrolment", now, request)
        else:
            _settle(connection, here, counted, now)
            invited = replace(invited, request=request)
            identities.revoke_token(connection, invitation, now)
            identities.admit(connection, invited, token, now, until)
            access_log.record(connection, here, by(invited, AccessKind.DEVICE_ENROLLED, now))
    if invited is None:
        raise SignInError
    return Enrolled(token, invited, until)


# --- one's own


def sign_out(store: Store, caller: Caller, now: datetime) -> None:
    """End the caller's session.

    Raises:
        NotAllowedError: nobody is signed in.
    """
    _demand_person(caller, "sign_out")
    with store.changing(caller.facility) as connection:
        if identities.end_sessions(connection, caller.facility, now, only=caller.session):
            access_log.record(connection, caller.facility, by(caller, AccessKind.SIGNED_OUT, now))


def sign_out_everywhere(store: Store, caller: Caller, now: datetime) -> int:
    """End all sessions of the caller, this one too; give how many stood.

    Raises:
        NotAllowedError: nobody is signed in.
    """
    _demand_person(caller, "sign_out_everywhere")
    with store.changing(caller.facility) as connection:
        ended = _end(connection, caller.facility, caller.name, now)
        entry = by(caller, AccessKind.SESSIONS_ENDED, now, person=caller.name, sessions=ended)
        access_log.record(connection, caller.facility, entry)
    return ended


def my_sessions(store: Store, caller: Caller, now: datetime) -> list[Session]:
    """Give the caller's sessions that stand, latest first.

    Raises:
        NotAllowedError: nobody is signed in.
    """
    _demand_person(caller, "list_my_sessions")
    with store.reading() as connection:
        return identities.sessions(connection, caller.facility, caller.name, now)


def change_password(store: Store, caller: Caller, old: str, new: str, now: datetime) -> None:
    """Change the caller's password; their other sessions end.

    Raises:
        SignInError: the old one is wrong.
        UnfitSecretError: the new one may not be chosen.
        WaitError: the old one was wrong too often.
        BusyError: too many sign in at once.
        NotAllowedError: nobody is signed in.
    """
    _demand_person(caller, "change_password")
    words = _words(store, caller.facility)

    def fit(password: str) -> None:
        passwords.demand_fit_password(password, caller.name, words)

    _change(store, caller, CredentialKind.PASSWORD, old, new, fit, now)


def change_pin(store: Store, caller: Caller, old: str, new: str, now: datetime) -> None:
    """Change the caller's PIN; their other sessions end.

    Raises:
        SignInError: the old one is wrong.
        UnfitSecretError: the new one may not be chosen.
        WaitError: the old one was wrong too often.
        BusyError: too many sign in at once.
        NotAllowedError: nobody is signed in.
    """
    _demand_person(caller, "change_pin")
    _change(store, caller, CredentialKind.PIN, old, new, passwords.demand_fit_pin, now)


def offer_second_factor(store: Store, caller: Caller, now: datetime) -> Offer:
    """Make the secret of a second factor; it counts once a first code of it came.

    Raises:
        NotAllowedError: the caller came in by a badge, or without the factor that they have set.
    """
    _demand_person(caller, "offer_second_factor")
    secret = second_factor.new_secret()
    with store.changing(caller.facility) as connection:
        _demand_own_factor(connection, caller)
        pending = Credential(CredentialKind.PENDING_FACTOR, secret, now, now + PENDING)
        identities.keep_credential(connection, caller.facility, caller.name, pending)
        entry = by(
            caller,
            AccessKind.CREDENTIAL_SET,
            now,
            person=caller.name,
            credential=str(CredentialKind.PENDING_FACTOR),
        )
        access_log.record(connection, caller.facility, entry)
    issuer = f"custody {caller.facility}"
    return Offer(secret, second_factor.address(secret, caller.name, issuer))


def confirm_second_factor(store: Store, caller: Caller, code: str, now: datetime) -> SignedIn:
    """Take a second factor into use by its first code.

    All sessions of the caller end, and one that was proved by the factor begins.

    Raises:
        SignInError: the code is wrong, or none was offered within the last hour.
        WaitError: too many codes were wrong.
        NotAllowedError: the caller came in by a badge, or without the factor that they have set.
    """
    _demand_person(caller, "confirm_second_factor")
    signed_in = None
    with store.changing(caller.facility) as connection:
        _demand_own_factor(connection, caller)
        person = _present(connection, caller, now)
        held = identities.credentials(connection, caller.facility, caller.name)
        pending = _live(held.get(CredentialKind.PENDING_FACTOR), now)
        if person is not None and pending is not None:
            step = _take_code(connection, person, pending, code, now)
            if step is not None:
                _drop(connection, person, CredentialKind.PENDING_FACTOR)
                kind = CredentialKind.SECOND_FACTOR
                _keep(connection, person, Credential(kind, pending.value, now, used_step=step))
                ended = _end(connection, caller.facility, person.id, now)
                entry = by(caller, AccessKind.CREDENTIAL_SET, now, **_of(person, kind, ended))
                access_log.record(connection, caller.facility, entry)
                signed_in = _open(
                    connection, person, Proof.SECOND_FACTOR, caller.device, now, caller.request
                )
        if signed_in is None:
            _refuse(connection, caller.facility, person, "code", now, caller.request)
    if signed_in is None:
        raise SignInError
    return signed_in


# --- what the doors share


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


@contextmanager
def _turn(slots: threading.BoundedSemaphore) -> Iterator[None]:
    """Wait for a turn to compute hashes, so that a flood does not take all memory."""
    if not slots.acquire(timeout=HASHING_PATIENCE_S):
        raise BusyError("too many are signing in at once: try again in a moment")
    try:
        yield
    finally:
        slots.release()


# --- attempts


@dataclass(frozen=True, slots=True)
class _Mark:
    """What an attempt is counted on.

    Attributes:
        shared: Others count on it too: a success takes back its own attempt, not theirs.
    """

    subject: str
    limit: throttle.Limit
    shared: bool = False


@dataclass(frozen=True, slots=True)
class _Counted:
    """An attempt as it was counted on one subject."""

    mark: _Mark
    before: throttle.Standing | None
    after: throttle.Standing


def _source_mark(source: str) -> _Mark:
    return _Mark(throttle.subject("source", source), throttle.BY_SOURCE, shared=True)


def _count(
    connection: Connection, facility: str, marks: Sequence[_Mark], now: datetime
) -> list[_Counted]:
    """Count an attempt as failed on every subject, if none of them has to wait.

    Raises:
        WaitError: one has; nothing was counted.
    """
    counted = []
    latest = now
    for mark in marks:
        before = identities.attempts(connection, facility, mark.subject)
        latest = max(latest, throttle.next_at(mark.limit, before, now))
        counted.append(_Counted(mark, before, throttle.counted(mark.limit, before, now)))
    if latest > now:
        raise WaitError(-(-(latest - now) // timedelta(seconds=1)))
    for each in counted:
        identities.keep_attempts(connection, facility, each.mark.subject, *each.after)
    return counted


def _settle(
    connection: Connection, facility: str, counted: Sequence[_Counted], now: datetime
) -> None:
    """Take an attempt back that was right: one's own subject starts anew, shared ones stand."""
    for each in counted:
        subject = each.mark.subject
        if not each.mark.shared:
            identities.keep_attempts(connection, facility, subject, 0, now)
            continue
        standing = identities.attempts(connection, facility, subject)
        left = throttle.taken_back(standing, each.before, each.after) or (0, now)
        identities.keep_attempts(connection, facility, subject, *left)
    identities.forget_attempts(connection, facility, now - throttle.FORGOTTEN)


def _refuse(
    connection: Connection,
    facility: str,
    person: Person | None,
    reason: str,
    now: datetime,
    request: str,
    device: str = "",
) -> None:
    """Have the access log tell of a refusal, unless it has told of many like it lately."""
    who = person.id if person else ""
    subject = throttle.subject("entry", who, reason, device)
    before = identities.attempts(connection, facility, subject)
    if throttle.next_at(throttle.BY_ENTRY, before, now) > now:
        return
    after = throttle.counted(throttle.BY_ENTRY, before, now)
    identities.keep_attempts(connection, facility, subject, *after)
    kind = AccessKind.SIGN_IN_REFUSED
    entry = AccessEntry(kind, now, who, device, request, {"reason": reason})
    access_log.record(connection, facility, entry)


# --- people and what they prove by


def _person(connection: Connection, facility: str, name: str) -> Person | None:
    """Give the person of an id as it was typed; what cannot be one is nobody's."""
    return identities.person(connection, facility, name) if _ID.fullmatch(name) else None


def _badge_holder(connection: Connection, facility: str, code: str) -> Person | None:
    kept = identities.token_hash(code)
    person = identities.holder(connection, facility, CredentialKind.BADGE, kept)
    return person if person is not None and person.role in BY_BADGE else None


def _activated(connection: Connection, facility: str, code: str, now: datetime) -> Person | None:
    person = identities.holder(connection, facility, CredentialKind.ACTIVATION, code)
    return person if _kept(connection, person, CredentialKind.ACTIVATION, now) else None


def _kept(
    connection: Connection, person: Person | None, kind: CredentialKind, now: datetime
) -> str | None:
    """Give what is kept of a credential, if it counts and its holder may come in."""
    if person is None or not person.may_enter(now):
        return None
    held = identities.credentials(connection, person.facility, person.id)
    found = _live(held.get(kind), now)
    return found.value if found else None


def _live(credential: Credential | None, now: datetime) -> Credential | None:
    if credential is None or (credential.expires_at is not None and now >= credential.expires_at):
        return None
    return credential


def _keep(connection: Connection, person: Person, kept: Credential) -> None:
    identities.keep_credential(connection, person.facility, person.id, kept)


def _drop(connection: Connection, person: Person, kind: CredentialKind) -> None:
    identities.drop_credential(connection, person.facility, person.id, kind)


def _renew(
    connection: Connection, person: Person, kind: CredentialKind, renewed: str | None
) -> None:
    """Put a hash of today's parameters in place of an older one; all else of it stays."""
    if renewed is not None:
        held = identities.credentials(connection, person.facility, person.id)[kind]
        _keep(connection, person, replace(held, value=renewed))


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
    held = identities.credentials(connection, person.facility, person.id)[CredentialKind.PIN]
    if held.expires_at is not None and chosen is None:
        return NewPinError()
    if chosen is None:
        _renew(connection, person, CredentialKind.PIN, renewed)
    elif renewed is not None:
        _keep(connection, person, Credential(CredentialKind.PIN, renewed, now))
        about = _of(person, CredentialKind.PIN, _end(connection, person.facility, person.id, now))
        entry = AccessEntry(AccessKind.CREDENTIAL_SET, now, person.id, device.name, request, about)
        access_log.record(connection, person.facility, entry)
    identities.end_sessions(connection, person.facility, now, device=device.name)
    return _open(connection, person, Proof.BADGE, device.name, now, request)


def _second_factor(
    connection: Connection, person: Person, code: str | None, now: datetime
) -> tuple[str, Proof]:
    """Ask for the code where a factor is set: give why not, or empty, and what was proved.

    Who gave a right password is not told that codes have to wait: it would tell that it was right.
    """
    held = identities.credentials(connection, person.facility, person.id)
    factor = held.get(CredentialKind.SECOND_FACTOR)
    if factor is None:
        return "", Proof.PASSWORD
    if not code:
        return "code", Proof.PASSWORD
    try:
        step = _take_code(connection, person, factor, code, now)
    except WaitError:
        return "waiting", Proof.PASSWORD
    if step is None:
        return "code", Proof.PASSWORD
    _keep(connection, person, replace(factor, used_step=step))
    return "", Proof.SECOND_FACTOR


def _take_code(
    connection: Connection, person: Person, factor: Credential, code: str, now: datetime
) -> int | None:
    """Give the step of a right code, and count a wrong one wherever it came from.

    Raises:
        WaitError: too many were wrong.
    """
    mark = _Mark(throttle.subject("code", person.id), throttle.BY_ACCOUNT)
    counted = _count(connection, person.facility, (mark,), now)
    step = second_factor.step_of(factor.value, code, now, factor.used_step)
    if step is not None:
        _settle(connection, person.facility, counted, now)
    return step


def _change(
    store: Store,
    caller: Caller,
    kind: CredentialKind,
    old: str,
    new: str,
    fit: Callable[[str], None],
    now: datetime,
) -> None:
    here = caller.facility
    mark = _Mark(throttle.subject("own", str(kind), caller.name), throttle.BY_ACCOUNT)
    with _turn(_ON_DEVICES if caller.device else _AT_DESKS):
        with store.changing(here) as connection:
            counted = _count(connection, here, (mark,), now)
            kept = _kept(connection, _present(connection, caller, now), kind, now)
        right = passwords.matches(kept, old)
        unfit = _unfit(fit, old, new) if right else None
        renewed = passwords.hashed(new) if right and not unfit else ""
    with store.changing(here) as connection:
        person = _present(connection, caller, now)
        same = right and kept == _kept(connection, person, kind, now)
        outcome: Exception | None = unfit
        if person is None or not same:
            _refuse(connection, here, person, str(kind), now, caller.request, caller.device)
            outcome = SignInError()
        else:
            _settle(connection, here, counted, now)
            if unfit is None:
                _keep(connection, person, Credential(kind, renewed, now))
                ended = _end(connection, here, person.id, now, but=caller.session)
                entry = by(caller, AccessKind.CREDENTIAL_SET, now, **_of(person, kind, ended))
                access_log.record(connection, here, entry)
    if outcome is not None:
        raise outcome


def _unfit(fit: Callable[[str], None], old: str, new: str) -> UnfitSecretError | None:
    try:
        fit(new)
    except UnfitSecretError as error:
        return error
    return UnfitSecretError("that is the present one: choose another") if old == new else None


def _words(store: Store, facility: str) -> tuple[str, str]:
    site = store.rules(facility).site
    return site.id, site.name


def _of(person: Person, kind: CredentialKind, ended: int) -> dict[str, str | int]:
    return {"person": person.id, "credential": str(kind), "sessions": ended}


# --- sessions


def _demand_person(caller: Caller, operation: str) -> None:
    demand(caller, operation)
    if caller.kind is not Kind.PERSON:
        raise NotAllowedError("nobody is signed in: a device or program has nothing of its own")


def _demand_own_factor(connection: Connection, caller: Caller) -> None:
    """A badge found on the floor sets no second factor, a password that leaked changes none."""
    if caller.proof is Proof.BADGE:
        raise NotAllowedError("sign in with your password to set a second factor")
    held = identities.credentials(connection, caller.facility, caller.name)
    if CredentialKind.SECOND_FACTOR in held and caller.proof is not Proof.SECOND_FACTOR:
        raise NotAllowedError("sign in with your present second factor to set another")


def _present(connection: Connection, caller: Caller, now: datetime) -> Person | None:
    """Give who is signed in, if they still are: the session may have ended since they asked."""
    standing = identities.sessions(connection, caller.facility, caller.name, now)
    if not any(secrets.same(each.token_hash, caller.session) for each in standing):
        return None
    return identities.person(connection, caller.facility, caller.name)


def _end(
    connection: Connection, facility: str, person: str, now: datetime, but: str | None = None
) -> int:
    """End the sessions of a person; give how many stood."""
    stood = identities.sessions(connection, facility, person, now)
    identities.end_sessions(connection, facility, now, person=person, but=but)
    return sum(each.token_hash != but for each in stood)


def _open(
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
    confined = person.role in NEEDS_SECOND_FACTOR and proof is not Proof.SECOND_FACTOR
    caller = Caller(
        person.facility,
        person.id,
        person.role,
        person.scope,
        Kind.PERSON,
        device,
        session.token_hash,
        proof,
        confined,
        request,
    )
    identities.open_session(connection, session)
    access_log.record(
        connection, person.facility, by(caller, AccessKind.SIGNED_IN, now, proof=str(proof))
    )
    return SignedIn(token, caller, session, person)
